"""What a run looks like at one moment: everything a screen, a terminal or a sound needs to know.

Frozen and complete, so that whoever shows it never asks the run anything.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from procedures.analysis.channel import ChannelState, TrimAdvice
from procedures.events import (
    Alarm,
    Input,
    Instruction,
    Question,
    RecordedValue,
    RunEnded,
    StepState,
    Supply,
    Verdict,
)
from procedures.observed import Inspected


@dataclass(frozen=True, slots=True)
class StepLine:
    """One line of the step list."""

    id: str
    title: str
    state: StepState
    reason: str = ""


@dataclass(frozen=True, slots=True)
class ActiveAlarm:
    """An alarm whose condition holds, and whether a person has acknowledged it."""

    alarm: Alarm
    acknowledged: bool = False


@dataclass(frozen=True, slots=True)
class RunView:
    """A run at `at_s` (session seconds).

    `focus` is the channel that the present step works on (None: all alike). `next_label` says what the
    one key would do now; empty means that it would do nothing. `next_fact` is what that key feeds to the
    run, with the moment of the key in place of its `at_s` (`key` does that). `power_on_s` is None while off.
    `remembered` are the days of earlier visits of this unit on which the forecast leans. `by_itself`: the
    step goes on without anybody; what is asked beside it is only a way round.
    """

    at_s: float
    procedure: str
    title: str
    steps: tuple[StepLine, ...] = ()
    step: str | None = None
    instruction: Instruction | None = None
    question: Question | None = None
    next_label: str = ""
    focus: str | None = None
    channels: tuple[ChannelState, ...] = ()
    advice: tuple[TrimAdvice, ...] = ()
    alarms: tuple[ActiveAlarm, ...] = ()
    recorded: tuple[RecordedValue, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    supply: Supply = Supply.OFF
    lid_fitted: bool = False
    driven: bool = False
    paused: bool = False
    away: bool = False
    power_on_s: float | None = None
    progress: float | None = None
    ended: RunEnded | None = None
    next_fact: Input | None = None
    inspected: tuple[Inspected, ...] = ()
    remembered: tuple[str, ...] = ()
    by_itself: bool = False

    def key(self, at_s: float) -> Input | None:
        """What the one key feeds to the run when it is pressed at `at_s`; None when it does nothing."""
        return None if self.next_fact is None else replace(self.next_fact, at_s=at_s)
