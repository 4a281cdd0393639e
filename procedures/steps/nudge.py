"""Nudge: which trimmer moves which reading. Each trimmer is turned by a hair and back, and all are watched.

No word of direction is said. What moves at once is the hand's; what creeps is heat, and is not counted.
"""

from __future__ import annotations

from enum import StrEnum
from typing import ClassVar, Literal

from pydantic import Field

from procedures import cautions
from procedures.analysis.figures import amount, figure, side
from procedures.events import Action, Answer, ChannelGap, ChannelReading, Choice, Input, LeadMoved, Outcome
from procedures.steps.judging import RESOLUTION
from procedures.steps.sitting import Sitting
from procedures.steps.steadiness import Steadiness
from procedures.steps.step import Asked, ChannelName, Conduct, Prompt, StepFields
from procedures.steps.trim import TRIM_PERIOD_S, USUAL_PERIOD_S
from procedures.steps.wanted import fixed_bias, lead_wanted

MOVED_SHARE = 0.04  # of the reading: a smaller change may be drift
MOVED_LEAST_VOLTS = 1e-4
LOOK_ON_S = 2.0  # after the first reading has moved, for the others
AS_NAMED, SWAPPED, BOTH, NONE = "as named", "swapped", "both", "none"
_WORST_FIRST = (SWAPPED, NONE, BOTH, AS_NAMED)
_NOTHING_MOVES, _IS_BACK = "none", "back"


class Nudge(StepFields):
    """The channels whose trimmers are tried, one after the other."""

    OUTCOMES: ClassVar[tuple[str, ...]] = (AS_NAMED, SWAPPED, BOTH, NONE)

    kind: Literal["nudge"]
    channels: tuple[ChannelName, ...] = Field(default=(), max_length=16)

    def unfit(self, sitting: Sitting) -> str:
        """Without a trimmer there is nothing to turn."""
        return fixed_bias(sitting)

    def open(self, sitting: Sitting) -> Conduct:
        """Start with the first trimmer."""
        return _Nudging(self, sitting)


class _Phase(StrEnum):
    """What is waited for."""

    STEADY = "steady"
    TURN = "turn"
    BACK = "back"


class _Nudging(Conduct):
    needs_power = True

    def __init__(self, line: Nudge, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line
        self._channels = sitting.chosen(line.channels)
        self._pending = list(self._channels)
        self._found: dict[str, str] = {}
        self._in_hand: str | None = None
        self._start()

    def _start(self) -> None:
        self._phase = _Phase.STEADY
        self._seen = {channel: Steadiness(5.0) for channel in self._channels}
        self._base: dict[str, float] = {}
        self._moved: dict[str, float] = {}
        self._moved_s: float | None = None

    @property
    def _channel(self) -> str | None:
        return self._pending[0] if self._pending else None

    # --- facts --------------------------------------------------------------------------------------

    def feed(self, fact: Input) -> None:
        channel = self._channel
        if channel is None:
            return
        if isinstance(fact, ChannelGap | LeadMoved) and fact.channel in self._seen:
            self._seen[fact.channel].forget()
        elif isinstance(fact, ChannelReading) and fact.channel in self._seen:
            self._seen[fact.channel].take(fact.at_s, fact.value)
            self._look(channel)

    def lose_power(self) -> None:
        self._let_go()
        self._start()

    def leave(self) -> None:
        self._let_go()

    def _look(self, channel: str) -> None:
        if self._phase is _Phase.STEADY:
            if self._seen[channel].steady(self._step(self._seen[channel].value() or 0.0) / 2.0):
                self._base = {c: v for c, seen in self._seen.items() if (v := seen.value()) is not None}
                self._phase = _Phase.TURN
                self._take_in_hand(channel)
            return
        changes = {c: now - base for c, base in self._base.items() if (now := self._now(c)) is not None}
        moved = {c: by for c, by in changes.items() if abs(by) > self._step(self._base[c])}
        if self._phase is _Phase.TURN:
            for name, by in moved.items():
                self._moved.setdefault(name, by)
            if moved and self._moved_s is None:
                self._moved_s = self.sitting.at_s
            if self._moved_s is not None and self.sitting.at_s - self._moved_s >= LOOK_ON_S:
                self._phase = _Phase.BACK
        elif not moved and all(abs(changes[c]) < self._step(self._base[c]) / 2.0 for c in self._moved):
            self._finish(channel)

    def _now(self, channel: str) -> float | None:
        return self._seen[channel].newest(1.0)

    @staticmethod
    def _step(base: float) -> float:
        return max(MOVED_LEAST_VOLTS, MOVED_SHARE * abs(base))

    def _take_in_hand(self, channel: str) -> None:
        self._in_hand = channel
        self.sitting.watcher.begin_trim(channel, self.sitting.at_s)
        for name in self._base:
            self.sitting.request(Action.PERIOD, name, period_s=TRIM_PERIOD_S)

    def _let_go(self) -> None:
        if self._in_hand is not None:
            self.sitting.watcher.end_trim(self._in_hand, self.sitting.at_s)
            for name in self._base:
                self.sitting.request(Action.PERIOD, name, period_s=USUAL_PERIOD_S)
            self._in_hand = None

    # --- what came of it ----------------------------------------------------------------------------

    def answer(self, name: str, answer: Answer) -> None:
        channel = self._channel
        if channel is None:
            return
        if (answer.choice == _NOTHING_MOVES and self._phase is _Phase.TURN) or (
            answer.choice == _IS_BACK and self._phase is _Phase.BACK
        ):
            self._finish(channel)

    def _finish(self, channel: str) -> None:
        self._let_go()
        moved = set(self._moved)
        result = (
            NONE if not moved else AS_NAMED if moved == {channel} else BOTH if channel in moved else SWAPPED
        )
        self._found[channel] = result
        if moved:
            self.sitting.changed.setdefault(channel, "the trimmer was nudged")
        outcome = Outcome.PASSED if result == AS_NAMED else Outcome.FAILED
        subject = f"{side(channel)} trimmer"
        self.sitting.judge(None, outcome, f"{subject}: {self._words(channel, result)}", subject=subject)
        self._pending.pop(0)
        self._start()
        if not self._pending:
            worst = next(word for word in _WORST_FIRST if word in self._found.values())
            self.end(worst, "; ".join(f"{side(c)} trimmer: {self._found[c]}" for c in self._channels))

    def _words(self, channel: str, result: str) -> str:
        by = ", ".join(
            f"{name} by {amount(volts, resolution=RESOLUTION)}" for name, volts in self._moved.items()
        )
        if result == AS_NAMED:
            return f"it moves its own reading ({by})"
        if result == SWAPPED:
            return f"it moves another reading than its own ({by}): are test points or leads swapped?"
        if result == BOTH:
            return f"it moves more than one reading ({by}): presets that interact, or leads on one channel?"
        return "no reading moves: wrong test points, a trimmer without contact, or the wrong trimmer?"

    # --- asking -------------------------------------------------------------------------------------

    def prompt(self) -> Prompt:
        channel = self._channel
        if channel is None:
            return Prompt("")
        wanted = lead_wanted(self.sitting, channel)
        if wanted is not None:
            return wanted
        name = side(channel)
        if self._phase is _Phase.STEADY:
            text = f"Keep your hands off: the reading of {channel} is taken first."
            return Prompt(text, focus=channel, by_itself=True)
        if self._phase is _Phase.TURN:
            text = f"Turn the {name} trimmer by a hair, and stop as soon as a reading moves."
            choices = (Choice(_NOTHING_MOVES, "No reading moves"),)
            return Prompt(
                text, cautions.TRIMMING, Asked(f"nudge {channel}", text, choices=choices), focus=channel
            )
        back = " and ".join(
            f"{name} to {figure(self._base[name], resolution=RESOLUTION)}" for name in self._moved
        )
        text = f"Turn the {name} trimmer back: {back}."
        choices = (Choice(_IS_BACK, "It is back where it was", default=True),)
        return Prompt(text, cautions.TRIMMING, Asked(f"back {channel}", text, choices=choices), focus=channel)
