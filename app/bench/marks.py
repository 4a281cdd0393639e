"""What is marked on the traces: steps, the mains switch, the lid, moved leads, notes, alarms."""

from __future__ import annotations

from app.bench.snapshot import Snapshot
from app.windows.ports import TraceMark
from procedures.events import (
    Alarm,
    Event,
    Input,
    LeadMoved,
    LidChanged,
    Note,
    SegmentOpened,
    StepChanged,
    StepState,
    SupplyChanged,
)
from procedures.procedure import Procedure
from procedures.steps.before_work import BEFORE_WORK_ID, BeforeWork


class Marks:
    """Follows the snapshots of one session; each input and event is looked at once."""

    def __init__(self, procedure: Procedure) -> None:
        self._titles = {step.id: step.title for step in procedure.step}
        self._titles[BEFORE_WORK_ID] = BeforeWork.line(acknowledged=False).title
        self._inputs = 0
        self._events = 0
        self._marks: list[TraceMark] = []
        self._withdrawn: set[float] = set()

    def of(self, snapshot: Snapshot) -> tuple[TraceMark, ...]:
        """All marks up to a snapshot, in order of time."""
        fresh = [
            mark
            for fact in (*snapshot.inputs[self._inputs :], *snapshot.events[self._events :])
            if (mark := self._mark(fact)) is not None
        ]
        self._inputs, self._events = len(snapshot.inputs), len(snapshot.events)
        if fresh:
            self._marks = sorted([*self._marks, *fresh], key=lambda mark: mark.at_s)
        return tuple(m for m in self._marks if m.kind != "note" or m.at_s not in self._withdrawn)

    def newest_note(self) -> TraceMark | None:
        """The newest note or mark that has not been taken back."""
        notes = (m for m in reversed(self._marks) if m.kind == "note" and m.at_s not in self._withdrawn)
        return next(notes, None)

    def withdraw(self, noted_s: float) -> None:
        """Show the note of this moment no more."""
        self._withdrawn.add(noted_s)

    def _mark(self, fact: Input | Event) -> TraceMark | None:
        match fact:
            case StepChanged(state=StepState.ACTIVE):
                return TraceMark(fact.at_s, "step", self._titles.get(fact.step, fact.step))
            case Note() | Alarm():
                tier = fact.tier if isinstance(fact, Alarm) else None
                kind = "note" if tier is None else "alarm"
                return TraceMark(fact.at_s, kind, fact.text, fact.channel, tier)
            case LeadMoved():
                return TraceMark(fact.at_s, "lead", f"lead on {fact.channel or 'nothing'}", fact.channel)
            case LidChanged():
                return TraceMark(fact.at_s, "lid", "lid on" if fact.fitted else "lid off")
            case SupplyChanged() | SegmentOpened():
                again = f"recording began again: {fact.reason}" if isinstance(fact, SegmentOpened) else ""
                return TraceMark(fact.at_s, "supply", again or fact.supply.value)
        return None
