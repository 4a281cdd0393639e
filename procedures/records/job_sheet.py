"""What a job comes to, folded from its facts: the sheet as it stands now.

And what a session adds to it: how long each step took. Nothing here knows the customer.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from procedures.events import StepChanged, StepState
from procedures.job import (
    ComplaintTried,
    Concluded,
    EntryKind,
    Filled,
    IdentityErased,
    JobFact,
    PartFitted,
    PartTakenBack,
    Photographed,
    Reproduced,
    SessionFiled,
    SheetField,
    State,
    StateNoted,
    TakenBack,
    TestLeftOut,
    UnitName,
    Worked,
)
from procedures.records.codec import Fact


@dataclass(frozen=True, slots=True)
class JobSheet:
    """The newest word on everything. `sessions` are identifiers in the order in which they were filed."""

    words: Mapping[SheetField, str] = field(default_factory=dict)
    complaint_tried: ComplaintTried | None = None
    states: tuple[StateNoted, ...] = ()
    parts: tuple[PartFitted, ...] = ()
    work: tuple[Worked, ...] = ()
    left_out: tuple[TestLeftOut, ...] = ()
    photographs: tuple[Photographed, ...] = ()
    sessions: tuple[str, ...] = ()
    outcome: Concluded | None = None
    identity_erased: IdentityErased | None = None

    def text(self, sheet_field: SheetField) -> str:
        """What stands in a line of the sheet; empty when nobody has filled it in."""
        return self.words.get(sheet_field, "")

    @property
    def unit(self) -> UnitName:
        """The unit as the sheet names it."""
        parts = (SheetField.MAKER, SheetField.MODEL, SheetField.SERIAL)
        return UnitName(*(self.text(part) for part in parts))

    @property
    def number(self) -> str:
        """The workshop's own number for the job; empty when it has none."""
        return self.text(SheetField.NUMBER)

    @property
    def minutes(self) -> float:
        """Labour that was written down, in minutes."""
        return sum(work.minutes or 0.0 for work in self.work)

    def state(self, state: State) -> tuple[StateNoted, ...]:
        """What was noted in one of the three states."""
        return tuple(one for one in self.states if one.state is state)

    @property
    def complaint_words(self) -> str:
        """Whether the complaint was met again, in words."""
        tried = self.complaint_tried
        if tried is None or tried.reproduced is Reproduced.NOT_TRIED:
            return "not tried"
        hours = "" if tried.hours is None else f" in {tried.hours:g} hours"
        return f"{tried.reproduced.value}{hours}"


class _Folding:
    """What the facts so far come to."""

    def __init__(self) -> None:
        self.words: dict[SheetField, str] = {}
        self.states: dict[str, StateNoted] = {}
        self.parts: dict[str, PartFitted] = {}
        self.sessions: dict[str, None] = {}
        self.work: dict[str, Worked] = {}
        self.left_out: dict[str, TestLeftOut] = {}
        self.photographs: dict[str, Photographed] = {}
        self.tried: ComplaintTried | None = None
        self.outcome: Concluded | None = None
        self.erased: IdentityErased | None = None

    def take(self, fact: JobFact) -> None:
        """Add one fact; a later one of the same key replaces the earlier in its place."""
        match fact:
            case Filled():
                self.words[fact.sheet_field] = fact.words
            case StateNoted():
                self.states[fact.key] = fact
            case PartFitted():
                self.parts[fact.part] = fact
            case Worked():
                self._work(fact)
            case TestLeftOut():
                self.left_out[fact.key] = fact
            case Photographed():
                self.photographs[fact.key] = fact
            case TakenBack() | PartTakenBack():
                self._take_back(fact)
            case SessionFiled(belongs=True):
                self.sessions.setdefault(fact.session)
            case SessionFiled():
                self.sessions.pop(fact.session, None)
            case ComplaintTried():
                self.tried = fact
            case Concluded():
                self.outcome = fact
            case IdentityErased():
                self.erased = fact

    def _work(self, fact: Worked) -> None:
        key = fact.key
        while not fact.entry and key in self.work:
            key += "\n"  # the same words at the same moment, said twice: both were meant
        self.work[key] = fact

    def _take_back(self, fact: TakenBack | PartTakenBack) -> None:
        if isinstance(fact, PartTakenBack):
            self.parts.pop(fact.part, None)
            return
        if fact.what is EntryKind.OUTCOME:
            self.outcome = None
            return
        kept: Mapping[EntryKind, dict[str, Any]] = {
            EntryKind.STATE: self.states,
            EntryKind.WORK: self.work,
            EntryKind.TEST: self.left_out,
            EntryKind.PHOTOGRAPH: self.photographs,
        }
        kept[fact.what].pop(fact.key, None)


def fold_job(facts: Iterable[JobFact]) -> JobSheet:
    """Fold a job's facts, in the order in which they were written down."""
    folding = _Folding()
    for fact in facts:
        folding.take(fact)
    return JobSheet(
        words={key: text for key, text in folding.words.items() if text},
        complaint_tried=folding.tried,
        states=tuple(folding.states.values()),
        parts=tuple(folding.parts.values()),
        work=tuple(folding.work.values()),
        left_out=tuple(folding.left_out.values()),
        photographs=tuple(folding.photographs.values()),
        sessions=tuple(folding.sessions),
        outcome=folding.outcome,
        identity_erased=folding.erased,
    )


@dataclass(frozen=True, slots=True)
class StepTime:
    """How long a step of a session took, all its turns together, in seconds."""

    step: str
    seconds: float
    turns: int


def step_times(facts: Iterable[Fact]) -> tuple[StepTime, ...]:
    """How long each step of a session took, in the order in which they began; those that took none left out.

    A step that never ended counts to the session's last fact.
    """
    seconds: dict[str, float] = {}
    turns: dict[str, int] = {}
    began: dict[str, float] = {}
    last_s = 0.0
    for fact in facts:
        last_s = max(last_s, fact.at_s)
        if not isinstance(fact, StepChanged):
            continue
        if fact.state is StepState.ACTIVE:
            began.setdefault(fact.step, fact.at_s)
            seconds.setdefault(fact.step, 0.0)
            turns[fact.step] = turns.get(fact.step, 0) + 1
        elif fact.step in began:
            seconds[fact.step] += fact.at_s - began.pop(fact.step)
    for step, since_s in began.items():
        seconds[step] += last_s - since_s
    return tuple(StepTime(step, took, turns[step]) for step, took in seconds.items() if took > 0.0)
