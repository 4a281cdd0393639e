"""Whether a session's record is whole, and whether its verdicts follow from its own readings.

Three questions, each answered on its own: do count and digest agree with the lines, is anything missing, and
does a new run that is fed the recorded inputs come to the recorded verdicts. Rules of another version may
judge differently; that is said as such and is no damage. Files and attachments are somebody else's business.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import zip_longest

from procedures.events import Event, RunEnded, SegmentOpened, Verdict
from procedures.records.codec import Fact, LineRefused, is_input
from procedures.records.journal import Header, Journal
from procedures.replay import first_difference, setup_of
from procedures.runner import Run
from procedures.setup import RULES_VERSION

_SHOWN = 3  # of a kind, in one sentence


class Finding(StrEnum):
    """How one question was answered."""

    AGREES = "agrees"
    INCOMPLETE = "incomplete"
    DIFFERS = "differs"
    OTHER_RULES = "would judge differently"


@dataclass(frozen=True, slots=True)
class Answered:
    """One question about a record, and its answer in a sentence."""

    question: str
    finding: Finding
    sentence: str


@dataclass(frozen=True, slots=True)
class Recomputed:
    """A verdict of the record and what the recorded inputs give now; None where one side has none."""

    recorded: Verdict | None
    now: Verdict | None

    @property
    def same(self) -> bool:
        """Whether both say the same, numbers within 1e-9."""
        if self.recorded is None or self.now is None:
            return False
        return first_difference([self.recorded], [self.now]) is None


@dataclass(frozen=True, slots=True)
class Verification:
    """All answers about one session, and its verdicts one by one."""

    answers: tuple[Answered, ...]
    verdicts: tuple[Recomputed, ...]

    @property
    def agrees(self) -> bool:
        """Whether nothing is missing or changed."""
        return nothing_wrong(self.answers)


def nothing_wrong(answers: Sequence[Answered]) -> bool:
    """Whether nothing is missing or changed; that other rules would judge differently is neither."""
    return all(one.finding in (Finding.AGREES, Finding.OTHER_RULES) for one in answers)


def verify(journal: Journal) -> Verification:
    """Answer all three questions about a journal as it was read."""
    judged, verdicts = _verdicts(journal)
    return Verification((_digest(journal), _complete(journal), judged), verdicts)


def _digest(journal: Journal) -> Answered:
    if journal.closed:
        words = f"{journal.lines} lines, and their count and digest agree."
        return Answered("digest", Finding.AGREES, words)
    if journal.closings:
        words = (
            "Count and digest do not agree with the lines: something was changed, lost or added after the "
            "record was closed. Compare it with a backup copy."
        )
        return Answered("digest", Finding.DIFFERS, words)
    words = (
        "The record was never closed, or its end is missing: there is no digest to compare it with. "
        "Compare it with a backup copy, or close the session in the window."
    )
    return Answered("digest", Finding.INCOMPLETE, words)


def _complete(journal: Journal) -> Answered:
    missing: list[str] = []
    if journal.problems:
        more = len(journal.problems) - _SHOWN
        missing += [*journal.problems[:_SHOWN], *([f"And {more} more."] if more > 0 else [])]
    breaks = [fact for fact in journal.facts if isinstance(fact, SegmentOpened)]
    if breaks:
        missing.append(f"{sum(fact.unwatched_s for fact in breaks):.0f} s were not watched by anybody.")
    missing += [f"From {fault.at_s:.0f} s nothing was judged: {fault.text}" for fault in journal.faults[:1]]
    ended = next((fact for fact in reversed(journal.facts) if isinstance(fact, RunEnded)), None)
    if ended is None:
        missing.append("The end of the run is not in the record.")
    elif not ended.finished:
        missing.append(f"The run was stopped before its end: {ended.reason}")
    if journal.problems or ended is None:
        return Answered("complete", Finding.INCOMPLETE, " ".join(missing))
    return Answered("complete", Finding.AGREES, " ".join(missing) or "Every line is whole, to the run's end.")


def _verdicts(journal: Journal) -> tuple[Answered, tuple[Recomputed, ...]]:
    recorded = [fact for fact in journal.facts if not is_input(fact)]
    try:
        said, stopped = _judged(journal.header, journal.facts)
    except LineRefused as refused:
        words = f"The verdicts cannot be recomputed: {refused}."
        return Answered("verdicts", Finding.INCOMPLETE, words), ()
    then = [fact for fact in recorded if isinstance(fact, Verdict)]
    now = [event for event in said if isinstance(event, Verdict)]
    pairs = tuple(Recomputed(a, b) for a, b in zip_longest(then, now))
    apart = [pair for pair in pairs if not pair.same]
    elsewhere = "" if apart else first_difference(recorded, said)
    if not apart and not elsewhere:
        count = f"{len(pairs)} verdicts" if len(pairs) != 1 else "1 verdict"
        words = f"{count} recomputed from the recorded inputs, and all say the same."
        if not pairs:
            words = "There is no verdict in the record, and none comes of its inputs."
        return Answered("verdicts", Finding.AGREES, words), pairs
    difference = _difference(apart) if apart else f"{elsewhere}."
    if journal.header.rules != RULES_VERSION:
        words = (
            f"Rules version {RULES_VERSION} would judge this session of version {journal.header.rules} "
            f"differently: {difference} That is no damage."
        )
        return Answered("verdicts", Finding.OTHER_RULES, words), pairs
    if journal.problems or stopped:
        why = f"judging stopped by an error ({stopped})" if stopped else "lines are missing"
        words = f"The verdicts cannot be compared, because {why}: {difference}"
        return Answered("verdicts", Finding.INCOMPLETE, words), pairs
    words = f"The recorded inputs lead to something else than the record says: {difference}"
    return Answered("verdicts", Finding.DIFFERS, words), pairs


def _judged(header: Header, facts: Sequence[Fact]) -> tuple[list[Event], str]:
    """What a new run says to the recorded inputs, and the error that stopped it, if one did.

    The conductor stops judging at an error of the program and goes on recording; so does this.
    """
    run = Run(setup_of(header))
    said: list[Event] = []
    for fact in facts:
        if not is_input(fact):
            continue
        try:
            said.extend(run.feed(fact))  # type: ignore[arg-type]
        except Exception as error:
            return said, f"{type(error).__name__} at {fact.at_s:.0f} s"
    return said, ""


def _difference(apart: Sequence[Recomputed]) -> str:
    shown = "; ".join(f"{_told(pair.recorded)} is now {_told(pair.now)}" for pair in apart[:_SHOWN])
    more = f"; and {len(apart) - _SHOWN} more" if len(apart) > _SHOWN else ""
    return f"{shown}{more}."


def _told(verdict: Verdict | None) -> str:
    if verdict is None:
        return "no verdict"
    about = verdict.channel or verdict.subject or "the whole"
    value = "" if verdict.value is None else f", {verdict.value!r}"
    said = f"{verdict.outcome.value}{value} ({verdict.reason})"
    return f"{about} in {verdict.step} at {verdict.at_s:.0f} s: {said}"
