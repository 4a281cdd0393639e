"""The lines of a job's journal: a header, then one fact a line. Lines in and out; files are elsewhere."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from pydantic import TypeAdapter, ValidationError

from procedures.job import (
    ComplaintTried,
    Concluded,
    Filled,
    IdentityErased,
    JobFact,
    PartFitted,
    PartTakenBack,
    Photographed,
    SessionFiled,
    StateNoted,
    TakenBack,
    TestLeftOut,
    Worked,
)
from procedures.records.codec import MOMENT, LineRefused, dumps, parse

JOB_FORMAT = 1
KINDS: dict[str, type] = {
    "filled": Filled,
    "complaint tried": ComplaintTried,
    "state": StateNoted,
    "part": PartFitted,
    "part taken back": PartTakenBack,
    "worked": Worked,
    "test left out": TestLeftOut,
    "photographed": Photographed,
    "session filed": SessionFiled,
    "concluded": Concluded,
    "taken back": TakenBack,
    "identity erased": IdentityErased,
}
_ADAPTERS: dict[str, TypeAdapter[Any]] = {kind: TypeAdapter(fact) for kind, fact in KINDS.items()}
_KIND_OF = {fact: kind for kind, fact in KINDS.items()}


@dataclass(frozen=True, slots=True)
class JobHeader:
    """The first line: which job, and when it was opened."""

    job: str
    opened_utc: datetime
    format: int = JOB_FORMAT
    program: str = ""

    def line(self) -> str:
        """The header as a line of JSON."""
        return dumps(
            {
                "kind": "job",
                "format": self.format,
                "program": self.program,
                "job": self.job,
                "opened_utc": self.opened_utc.isoformat(),
            }
        )

    @classmethod
    def read(cls, line: str) -> JobHeader:
        """The header from the first line of a journal.

        Raises:
            LineRefused: with what is wrong, in one sentence.
        """
        entry = parse(line)
        if entry["kind"] != "job":
            raise LineRefused("the file does not begin with a job's header")
        if not isinstance(entry.get("format"), int) or not 1 <= entry["format"] <= JOB_FORMAT:
            raise LineRefused(
                f"the job is in format {entry.get('format')} and this version reads up to {JOB_FORMAT}: "
                "open it with a newer one"
            )
        try:
            return cls(
                str(entry["job"]),
                MOMENT.validate_python(entry["opened_utc"]),
                entry["format"],
                str(entry.get("program", "")),
            )
        except (KeyError, TypeError, ValueError):
            raise LineRefused("the job's header is damaged") from None


@dataclass(slots=True)
class JobJournal:
    """A job's journal as read; `problems` name damaged lines, everything else is kept."""

    header: JobHeader
    facts: list[JobFact] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)


def fact_line(fact: JobFact) -> str:
    """A fact as a line of JSON."""
    kind = _KIND_OF[type(fact)]
    return dumps({"kind": kind, **_ADAPTERS[kind].dump_python(fact, mode="json")})


def forgetful_line(line: str, files: Collection[str]) -> str | None:
    """The line of one of these photographs without its words; None for any other. Raises LineRefused."""
    fact = _fact(line)
    if isinstance(fact, Photographed) and fact.file in files and fact.words:
        return fact_line(replace(fact, words=""))
    return None


def read_job(lines: Iterable[str]) -> JobJournal:
    """Read a job's journal from its lines (with or without line ends).

    Raises:
        LineRefused: when there is no header to read anything by.
    """
    stripped = (line.rstrip("\r\n") for line in lines)
    journal = JobJournal(JobHeader.read(next(stripped, "")))
    for number, line in enumerate(stripped, start=2):
        if not line:
            continue
        try:
            journal.facts.append(_fact(line))
        except LineRefused as refused:
            journal.problems.append(f"Line {number} is set aside: {refused}.")
    return journal


def _fact(line: str) -> JobFact:
    entry = parse(line)
    kind = entry.pop("kind")
    adapter = _ADAPTERS.get(kind)
    if adapter is None:
        raise LineRefused(f'"{kind}" is no kind of entry that this version knows')
    try:
        fact: JobFact = adapter.validate_python(entry)
        MOMENT.validate_python(fact.at_utc)
    except ValidationError as error:
        place = ".".join(str(part) for part in error.errors(include_url=False)[0]["loc"])
        raise LineRefused(f'the entry of kind "{kind}" is damaged at {place or "its start"}') from None
    return fact
