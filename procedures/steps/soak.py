"""Soak: hours of watching, with every excursion from the level at rest reported. Nothing is asked."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

from pydantic import Field

from procedures import cautions
from procedures.analysis.figures import duration, figure, percent
from procedures.events import Answer, ChannelGap, ChannelReading, Choice, Input, Outcome, SegmentOpened
from procedures.steps.sitting import Sitting
from procedures.steps.steadiness import Steadiness
from procedures.steps.step import Asked, ChannelName, Conduct, Prompt, StepFields, Words

GO_ON = "go on"
SAID_EVERY_S = 600.0
LEAST_EXCURSION_S = 3.0  # shorter ones may be a hand or a switch
LEAST_BAND_VOLTS = 2e-4
MOST_REPORTED = 20


class Soak(StepFields):
    """How long, which channels, and how far from its level a reading may go: `within_percent` of it.

    The level is the channel's own in the first seconds. `text` says what is to be played or left running.
    """

    OUTCOMES: ClassVar[tuple[str, ...]] = ("stayed", "excursions", "cut short")
    HANDS: ClassVar[bool] = False

    kind: Literal["soak"]
    hours: float = Field(gt=0.0, le=200.0)
    channels: tuple[ChannelName, ...] = Field(default=(), max_length=64)
    within_percent: float = Field(default=15.0, gt=0.0, le=100.0)
    text: Words = "Leave the amplifier on, and let it soak"

    def open(self, sitting: Sitting) -> Conduct:
        """Start."""
        return _Soaking(self, sitting)


@dataclass
class _Watched:
    """One channel: its level, and the excursion that is going on."""

    seen: Steadiness
    level: float | None = None
    since_s: float | None = None
    last_s: float = 0.0
    farthest: float = 0.0
    excursions: int = 0
    longest_s: float = 0.0


class _Soaking(Conduct):
    needs_power = True

    def __init__(self, line: Soak, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line
        self._watched = {channel: _Watched(Steadiness(20.0)) for channel in sitting.chosen(line.channels)}
        self._needed_s = line.hours * 3600.0
        self._run_s = 0.0
        self._counted_s = sitting.at_s
        self._breaks = 0
        self._was_off = False

    # --- facts --------------------------------------------------------------------------------------

    def feed(self, fact: Input) -> None:
        now_s = self.sitting.at_s
        if self._was_off or isinstance(fact, SegmentOpened):  # what nobody watched is no soak
            self._was_off, self._counted_s = False, now_s
        self._run_s += max(0.0, now_s - self._counted_s)
        self._counted_s = now_s
        if isinstance(fact, ChannelReading) and fact.channel in self._watched and not self.sitting.driven:
            self._read(fact.channel, fact.at_s, fact.value)
        elif isinstance(fact, ChannelGap) and fact.channel in self._watched:
            self._close_excursion(fact.channel, fact.at_s)
        elif isinstance(fact, SegmentOpened):
            for channel, watched in self._watched.items():
                self._close_excursion(channel, watched.last_s)
        if self._run_s >= self._needed_s - 1e-6:
            self._finish("")

    def lose_power(self) -> None:
        if not self._was_off:
            self._was_off = True
            self._breaks += self._run_s > 0.0
            for channel in self._watched:
                self._close_excursion(channel, self.sitting.at_s)

    def answer(self, name: str, answer: Answer) -> None:
        if answer.choice == GO_ON:
            self._finish(f"cut short by a person after {duration(self._run_s)}")

    def deadline_s(self) -> float | None:
        left_s = self._needed_s - self._run_s
        next_word_s = SAID_EVERY_S - self._run_s % SAID_EVERY_S
        return self._counted_s + min(left_s, next_word_s)

    def _read(self, channel: str, at_s: float, value: float) -> None:
        watched = self._watched[channel]
        if watched.level is None:
            watched.seen.take(at_s, value)
            level = watched.seen.value() or 0.0
            if watched.seen.steady(max(LEAST_BAND_VOLTS, 0.02 * abs(level))):
                watched.level = level
            return
        away = abs(value - watched.level)
        if away > self._band(watched.level):
            if watched.since_s is None:
                watched.since_s, watched.farthest = at_s, value
            elif away > abs(watched.farthest - watched.level):
                watched.farthest = value
            watched.last_s = at_s
        else:
            self._close_excursion(channel, at_s)

    def _band(self, level: float) -> float:
        return max(LEAST_BAND_VOLTS, self._line.within_percent / 100.0 * abs(level))

    def _close_excursion(self, channel: str, at_s: float) -> None:
        watched = self._watched[channel]
        since_s, watched.since_s = watched.since_s, None
        if since_s is None or watched.last_s - since_s < LEAST_EXCURSION_S:
            return
        lasted_s = at_s - since_s
        watched.excursions += 1
        watched.longest_s = max(watched.longest_s, lasted_s)
        if watched.excursions <= MOST_REPORTED:
            unit = self.sitting.channels[channel].unit
            self.sitting.record(
                f"excursion {watched.excursions}", channel, watched.farthest, unit, lasted_s=f"{lasted_s:.0f}"
            )

    def _finish(self, cut_short: str) -> None:
        for channel, watched in self._watched.items():
            self._close_excursion(channel, self.sitting.at_s)
            if watched.level is None:
                self.sitting.judge(channel, Outcome.NOT_MEASURED, "no steady reading came during the soak")
                continue
            band = f"{percent(self._line.within_percent / 100.0)} of {figure(watched.level)}"
            if watched.excursions:
                longest = f"the longest {duration(watched.longest_s)}"
                reason = f"left {band} {_times(watched.excursions)} in {duration(self._run_s)}, {longest}"
                self.sitting.judge(channel, Outcome.FAILED, reason, watched.level)
            elif cut_short:
                self.sitting.judge(channel, Outcome.NOT_MEASURED, f"stayed within {band}, but {cut_short}")
            else:
                reason = f"stayed within {band} for {duration(self._run_s)}"
                self.sitting.judge(channel, Outcome.PASSED, reason, watched.level)
        breaks = f"; the power was away {_times(self._breaks)}" if self._breaks else ""
        total = sum(watched.excursions for watched in self._watched.values())
        if total:
            self.end("excursions", f"{_excursions(total)} in {duration(self._run_s)}{breaks}")
        else:
            self.end("cut short" if cut_short else "stayed", (cut_short or duration(self._run_s)) + breaks)

    # --- asking -------------------------------------------------------------------------------------

    def prompt(self) -> Prompt:
        left_s = self._needed_s - self._run_s
        left = duration(SAID_EVERY_S * max(1, math.ceil(left_s / SAID_EVERY_S - 1e-6)))
        total = sum(watched.excursions for watched in self._watched.values())
        seen = f"; {_excursions(total)} so far" if total else ""
        text = f"{self._line.text.rstrip('.')}: {left} left at the most{seen}."
        # Not the default choice: the one key must not shorten a soak by accident.
        asked = Asked("soak", self._line.text, choices=(Choice(GO_ON, "End the soak now"),))
        share = min(1.0, self._run_s / self._needed_s)
        return Prompt(text, cautions.WARM, asked, progress=share, by_itself=True)


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _excursions(count: int) -> str:
    return "1 excursion" if count == 1 else f"{count} excursions"
