"""What a run looked like at a moment, told from its record alone: facts and readings, nothing judged anew."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from app.bench.snapshot import Trace
from procedures.analysis.channel import ChannelState, Position
from procedures.events import (
    Acknowledged,
    Alarm,
    AlarmCleared,
    AwayChanged,
    DriveChanged,
    Instruction,
    LidChanged,
    PauseChanged,
    RecordedValue,
    RunEnded,
    SegmentOpened,
    SettledChanged,
    StepChanged,
    StepState,
    Supply,
    SupplyChanged,
    Verdict,
)
from procedures.observed import Inspected
from procedures.records.codec import Fact
from procedures.setup import RunSetup
from procedures.view import ActiveAlarm, RunView, StepLine

T = TypeVar("T")
LEVEL_S = 3.0  # the level is the middle reading of the last seconds
REASON = "as recorded; not judged again"


class Recalled:
    """A session's facts, without its readings, in order of time."""

    def __init__(self, setup: RunSetup, facts: Sequence[Fact]) -> None:
        self._setup = setup
        self._facts = facts

    @staticmethod
    def nothing() -> RunView:
        """Before anything is known."""
        return RunView(at_s=0.0, procedure="", title="")

    def view(self, at_s: float, traces: Sequence[Trace]) -> RunView:
        """Everything there is to show at a moment; `traces` end there."""
        before = [fact for fact in self._facts if fact.at_s <= at_s]
        steps = {step.id: StepLine(step.id, step.title, StepState.WAITING) for step in self._steps()}
        alarms: dict[str, ActiveAlarm] = {}
        settled: dict[str, SettledChanged] = {}
        active: str | None = None
        for fact in before:
            match fact:
                case StepChanged():
                    title = steps[fact.step].title if fact.step in steps else fact.step
                    steps[fact.step] = StepLine(fact.step, title, fact.state, fact.reason)
                    active = fact.step if fact.state is StepState.ACTIVE else active
                case Alarm():
                    alarms[fact.id] = ActiveAlarm(fact)
                case AlarmCleared():
                    alarms.pop(fact.id, None)
                case Acknowledged():
                    if fact.alarm in alarms:
                        alarms[fact.alarm] = ActiveAlarm(alarms[fact.alarm].alarm, acknowledged=True)
                case SettledChanged():
                    settled[fact.channel] = fact
                case _:
                    pass
        supply, on_s = _supply(before)
        return RunView(
            at_s=at_s,
            procedure=self._setup.procedure.id,
            title=self._setup.procedure.title,
            steps=tuple(steps.values()),
            step=active,
            inspected=tuple(fact for fact in before if isinstance(fact, Inspected)),
            instruction=_newest(before, Instruction),
            channels=tuple(self._state(trace, at_s, settled.get(trace.channel)) for trace in traces),
            alarms=tuple(alarms.values()),
            recorded=tuple(fact for fact in before if isinstance(fact, RecordedValue)),
            verdicts=tuple(fact for fact in before if isinstance(fact, Verdict)),
            supply=supply,
            lid_fitted=lid.fitted if (lid := _newest(before, LidChanged)) else self._setup.lid_fitted,
            driven=bool((drive := _newest(before, DriveChanged)) and drive.driven),
            paused=bool((pause := _newest(before, PauseChanged)) and pause.paused),
            away=bool((away := _newest(before, AwayChanged)) and away.away),
            power_on_s=on_s,
            ended=_newest(before, RunEnded),
            remembered=self._setup.remembered_from,
        )

    def _steps(self) -> Sequence[StepLine]:
        return [StepLine(s.id, s.title, StepState.WAITING) for s in self._setup.procedure.step]

    def _state(self, trace: Trace, at_s: float, settled: SettledChanged | None) -> ChannelState:
        if not len(trace.values):
            return ChannelState(trace.channel, at_s)
        begin = int(trace.seconds.searchsorted(trace.seconds[-1] - LEVEL_S))
        recent = sorted(trace.values[begin:].tolist())
        level = recent[len(recent) // 2]
        setup = next((s for s in self._setup.channels if s.channel == trace.channel), None)
        position, ohm = Position.UNKNOWN, None
        if setup is not None:
            ohm = setup.resistance_ohm
            if setup.low_volts is not None and setup.high_volts is not None:
                inside = Position.ABOVE if level > setup.high_volts else Position.INSIDE
                position = Position.BELOW if level < setup.low_volts else inside
        return ChannelState(
            channel=trace.channel,
            at_s=float(trace.seconds[-1]),
            value=float(trace.values[-1]),
            level=level,
            position=position,
            settled=settled.settled if settled is not None else None,
            reason=settled.reason if settled is not None else REASON,
            amperes=level / ohm if ohm else None,
        )


def _newest(facts: Sequence[Fact], kind: type[T]) -> T | None:
    return next((fact for fact in reversed(facts) if isinstance(fact, kind)), None)


def _supply(facts: Sequence[Fact]) -> tuple[Supply, float | None]:
    """What the amplifier is fed from, and since when it is on."""
    supply, on_s = Supply.OFF, None
    for fact in facts:
        if isinstance(fact, SupplyChanged | SegmentOpened) and fact.supply is not supply:
            if supply is Supply.OFF:
                on_s = fact.at_s
            supply = fact.supply
            on_s = None if supply is Supply.OFF else on_s
    return supply, on_s
