"""Warm up: wait, from power-on, until every channel has settled under its target's condition."""

from __future__ import annotations

import math
from typing import ClassVar, Literal

from pydantic import Field

from procedures import cautions
from procedures.amplifier import ConditionKind
from procedures.analysis.channel import ChannelSetup
from procedures.analysis.figures import duration
from procedures.events import Alarm, Answer, Choice, Input, Tier
from procedures.steps.findings import NOT_MEASURED
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, ChannelName, Conduct, Prompt, StepFields
from procedures.steps.wanted import fair_reading_wanted

LONGER, GO_ON = "wait longer", "go on"
MORE_S = 600.0
DEFAULT_WARM_UP_S = 1200.0  # common practice, no source; a target's own condition replaces it


class WarmUp(StepFields):
    """The channels that count (all of the bench when none is named), and when to ask how to go on."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ("settled", "not settled", "not needed", "too high")

    kind: Literal["warm-up"]
    channels: tuple[ChannelName, ...] = Field(default=(), max_length=64)
    longest_minutes: float = Field(default=60.0, gt=0.0, le=24 * 60.0)

    def open(self, sitting: Sitting) -> Conduct:
        """Start waiting for it."""
        return _WarmingUp(self, sitting)


class _WarmingUp(Conduct):
    needs_power = True

    def __init__(self, line: WarmUp, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._channels = sitting.chosen(line.channels)
        self._begun_s = sitting.at_s
        self._targets = [
            setup
            for channel in self._channels
            if (setup := sitting.channels.get(channel)) is not None and setup.target_volts is not None
        ]
        self._needed_s = max((needed_s(setup) for setup in self._targets), default=DEFAULT_WARM_UP_S)
        # A target that counts later than the line's longest wait is not asked about before it can count.
        self._longest_s = max(line.longest_minutes * 60.0, self._needed_s)

    def begin(self) -> None:
        if self._targets and all(not _wants_warmth(setup) for setup in self._targets):
            self.end("not needed", "the target is meant for a cold amplifier")

    def feed(self, fact: Input) -> None:
        elapsed_s = self.sitting.from_power_on_s
        alarm = self._alarm()
        if alarm is not None:
            self.end("too high", alarm.text)
        elif elapsed_s is not None and elapsed_s >= self._needed_s - 1e-6 and self._all_settled():
            self.end("settled", f"settled {duration(elapsed_s)} after power-on")

    def answer(self, name: str, answer: Answer) -> None:
        if answer.choice == LONGER:
            self._longest_s = (self.sitting.from_power_on_s or 0.0) + MORE_S
        elif answer.choice == GO_ON:
            self.end("not settled", f"a person went on although {self._reasons()}")

    def deadline_s(self) -> float | None:
        elapsed_s, begun_s = self.sitting.from_power_on_s, self.sitting.power_on_s
        if elapsed_s is None or begun_s is None:
            return None
        minute = 60.0 * (math.floor(elapsed_s / 60.0 + 1e-9) + 1)
        due = [due_s for due_s in (minute, self._needed_s, self._longest_s) if due_s > elapsed_s]
        return begun_s + min(due)

    def _alarm(self) -> Alarm | None:
        """An alarm to act that was raised during this step; an older one has had its answer."""
        alarms = (self.sitting.alarmed(channel, Tier.ACT) for channel in self._channels)
        return next((a for a in alarms if a is not None and a.at_s >= self._begun_s), None)

    def _all_settled(self) -> bool:
        return not self._unsettled() and fair_reading_wanted(self.sitting) is None

    def _unsettled(self) -> list[str]:
        """The channels that must settle and have not. What nobody reads now is judged when it is read."""
        return [
            setup.channel
            for setup in self._targets
            if setup.condition.kind is ConditionKind.AT_REST
            and not setup.typed
            and self.sitting.readable(setup.channel)
            and self.sitting.findings.get(setup.channel) != NOT_MEASURED
            and self.sitting.state(setup.channel).rests is not True
        ]

    def _reasons(self) -> str:
        states = (self.sitting.state(channel) for channel in self._unsettled())
        return "; ".join(f"{state.channel} is {state.reason or 'not settled'}" for state in states)

    def prompt(self) -> Prompt:
        wanted = fair_reading_wanted(self.sitting)
        if wanted is not None:
            return wanted
        elapsed_s = self.sitting.from_power_on_s or 0.0
        if elapsed_s >= self._longest_s:
            return self._ask_how_to_go_on(elapsed_s, self._unsettled())
        minutes = math.floor(elapsed_s / 60.0 + 1e-9)
        if elapsed_s < self._needed_s:
            needed = math.ceil(self._needed_s / 60.0)
            text = f"Let it warm up, lid as it is: {minutes} of at least {needed} min since power-on."
        else:
            names = self._unsettled()
            waiting = f"{' and '.join(names)} {'has' if len(names) == 1 else 'have'} settled"
            text = f"Wait until {waiting}: {minutes} min since power-on."
        typed = [channel for channel in self._channels if self.sitting.is_typed(channel)]
        if typed:
            text = f"{text.rstrip('.')}; type {' and '.join(typed)} once a minute."
        share = min(1.0, elapsed_s / self._needed_s) if self._needed_s > 0.0 else 1.0
        return Prompt(text, cautions.WARM, progress=share)

    def _ask_how_to_go_on(self, elapsed_s: float, waiting: list[str]) -> Prompt:
        text = (
            f"Decide how to go on: {' and '.join(waiting)} not settled {duration(elapsed_s)} after power-on."
        )
        choices = (
            Choice(LONGER, "Wait 10 minutes longer", default=True),
            Choice(GO_ON, "Go on although it has not settled"),
        )
        return Prompt(
            text, cautions.WARM, Asked(f"longer {self._longest_s:.0f}", text, choices=choices), progress=1.0
        )


def _wants_warmth(setup: ChannelSetup) -> bool:
    return setup.condition.kind in (ConditionKind.AT_REST, ConditionKind.AT_TIME)


def needed_s(setup: ChannelSetup) -> float:
    """How long after power-on a channel's target begins to count, in seconds."""
    condition = setup.condition
    if condition.kind is ConditionKind.AT_TIME:
        return condition.time_s or 0.0
    return condition.warm_up_s if condition.kind is ConditionKind.AT_REST else 0.0
