"""The kinds of journal lines that are not facts: header, time anchors, names and more.

A journal is a header, then facts (`codec`) and anchors in the order of the inbox, then a closing line with
the number of lines before it and a digest over them. A name may be added later; it is followed by a closing
line of its own. Lines in and out only: files are somebody else's business.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from pydantic import TypeAdapter, ValidationError

from procedures.job import Naming
from procedures.records.codec import LONGEST_S, MOMENT, Fact, LineRefused, decode_entry, dumps, parse
from procedures.records.practised import KINDS as PRACTISED
from procedures.records.practised import PractiseLine, practise_line

FORMAT_VERSION = 1
_NAMING = TypeAdapter(Naming)


@dataclass(frozen=True, slots=True)
class Header:
    """The first line. `setup` is everything that decides, as `procedures.replay` writes and reads it.

    `meters` gives the address of each meter by its name, and `ways` how it is spoken to where that was chosen
    (dialect, pattern of lines), so that a session that was cut off can go on.
    """

    session: str
    started_utc: datetime
    setup: Mapping[str, Any]
    rules: str
    format: int = FORMAT_VERSION
    program: str = ""
    title: str = ""
    unit: str = ""
    practice: bool = False
    meters: Mapping[str, str] = field(default_factory=dict)
    ways: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def line(self) -> str:
        """The header as a line of JSON."""
        return dumps(
            {
                "kind": "header",
                "format": self.format,
                "rules": self.rules,
                "program": self.program,
                "session": self.session,
                "started_utc": self.started_utc.isoformat(),
                "title": self.title,
                "unit": self.unit,
                "practice": self.practice,
                "meters": dict(self.meters),
                "ways": {name: dict(way) for name, way in self.ways.items()},
                "setup": self.setup,
            }
        )

    @classmethod
    def read(cls, line: str) -> Header:
        """The header from the first line of a journal.

        Raises:
            LineRefused: with what is wrong, in one sentence.
        """
        entry = parse(line)
        if entry["kind"] != "header":
            raise LineRefused("the file does not begin with a session's header")
        if not isinstance(entry.get("format"), int) or entry["format"] < 1:
            raise LineRefused("the header's format is damaged; take the session from a backup copy")
        if entry["format"] > FORMAT_VERSION:
            raise LineRefused(
                f"the session is in format {entry.get('format')} and this version reads up to "
                f"{FORMAT_VERSION}: open it with a newer one"
            )
        try:
            return cls(
                session=str(entry["session"]),
                started_utc=MOMENT.validate_python(entry["started_utc"]),
                setup=dict(entry["setup"]),
                rules=str(entry["rules"]),
                format=entry["format"],
                program=str(entry.get("program", "")),
                title=str(entry.get("title", "")),
                unit=str(entry.get("unit", "")),
                practice=entry.get("practice") is True,
                meters=_words(entry.get("meters", {})),
                ways={str(name): _words(way) for name, way in dict(entry.get("ways", {})).items()},
            )
        except (KeyError, TypeError, ValueError, OverflowError):
            raise LineRefused("the session's header is damaged") from None


def _words(entry: Any) -> dict[str, str]:
    """An object of a line whose values are words."""
    return {str(name): str(word) for name, word in dict(entry).items()}


@dataclass(frozen=True, slots=True)
class Anchor:
    """What the wall clock said at a session second."""

    session_s: float
    utc: datetime

    def line(self) -> str:
        """The anchor as a line of JSON."""
        return dumps({"kind": "anchor", "session_s": self.session_s, "utc": self.utc.isoformat()})


@dataclass(frozen=True, slots=True)
class Fault:
    """The run broke down by an error of the program, in words; from here on readings are kept unjudged."""

    at_s: float
    text: str

    def line(self) -> str:
        """The fault as a line of JSON."""
        return dumps({"kind": "fault", "at_s": self.at_s, "text": self.text})


@dataclass(frozen=True, slots=True)
class TakenBack:
    """The note or mark made at `noted_s` was taken back; it stays in the journal, and is shown no more."""

    at_s: float
    noted_s: float

    def line(self) -> str:
        """The taking back as a line of JSON."""
        return dumps({"kind": "taken back", "at_s": self.at_s, "noted_s": self.noted_s})


@dataclass(frozen=True, slots=True)
class Closing:
    """How many lines came before, and the SHA-256 over them, each with its line end."""

    lines: int
    sha256: str

    def line(self) -> str:
        """The closing as a line of JSON."""
        return dumps({"kind": "closing", "lines": self.lines, "sha256": self.sha256})


class Seal:
    """Counts lines and digests them as they are written."""

    def __init__(self) -> None:
        self._digest = hashlib.sha256()
        self._lines = 0

    def add(self, line: str) -> None:
        """Take one line, without its line end, as it stands in the file."""
        self._digest.update(line.encode("utf-8") + b"\n")
        self._lines += 1

    def copy(self) -> Seal:
        """One of its own that has taken the same lines."""
        same = Seal()
        same._digest, same._lines = self._digest.copy(), self._lines
        return same

    def closing(self) -> Closing:
        """The closing over everything so far."""
        return Closing(self._lines, self._digest.hexdigest())


def naming_line(naming: Naming) -> str:
    """A name for the unit and the job, given during the session or afterwards."""
    return dumps({"kind": "named", **_NAMING.dump_python(naming, mode="json")})


@dataclass(slots=True)
class Journal:
    """A journal as read: facts in their order, and what does not belong to the facts.

    `problems` name damaged lines, one sentence each; everything else is kept. `closed` is true when the
    last closing line is right about all lines before it. `lines` counts all lines but empty ends, `closings`
    the closing lines among them.
    """

    header: Header
    facts: list[Fact] = field(default_factory=list)
    anchors: list[Anchor] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    taken_back: list[TakenBack] = field(default_factory=list)
    practised: list[PractiseLine] = field(default_factory=list)
    naming: Naming | None = None
    closed: bool = False
    problems: list[str] = field(default_factory=list)
    lines: int = 1
    closings: int = 0


def read_journal(lines: Iterable[str]) -> Journal:
    """Read a journal from its lines (with or without line ends).

    A damaged line is set aside and named in `problems`; a torn last line is one of those.

    Raises:
        LineRefused: when there is no header to read anything by.
    """
    stripped = (line.rstrip("\r\n") for line in lines)
    first = next(stripped, "")
    journal = Journal(Header.read(first))
    seal = Seal()
    seal.add(first)
    for number, line in enumerate(stripped, start=2):
        journal.lines = number
        try:
            _take(journal, parse(line), seal)
        except LineRefused as refused:
            journal.closed = False
            journal.problems.append(f"Line {number} is set aside: {refused}.")
        seal.add(line)
    return journal


def _seconds(entry: Any) -> float:
    """A session second. Raises ValueError."""
    seconds = float(entry)
    if not abs(seconds) <= LONGEST_S:
        raise ValueError(f"{seconds:g} s")
    return seconds


def _take(journal: Journal, entry: Mapping[str, Any], seal: Seal) -> None:
    kind = entry["kind"]
    if kind == "closing":
        journal.closings += 1
        expected = seal.closing()
        journal.closed = (entry.get("lines"), entry.get("sha256")) == (expected.lines, expected.sha256)
        if not journal.closed:
            raise LineRefused("its count or digest does not fit the lines before it")
        return
    journal.closed = False
    if kind in PRACTISED:
        journal.practised.append(practise_line(entry))
        return
    try:
        if kind == "anchor":
            journal.anchors.append(Anchor(_seconds(entry["session_s"]), MOMENT.validate_python(entry["utc"])))
            return
        if kind == "fault":
            journal.faults.append(Fault(_seconds(entry["at_s"]), str(entry["text"])))
            return
        if kind == "taken back":
            journal.taken_back.append(TakenBack(_seconds(entry["at_s"]), _seconds(entry["noted_s"])))
            return
        if kind == "named":
            named = {key: value for key, value in entry.items() if key != "kind"}
            journal.naming = _NAMING.validate_python(named)
            return
    except (KeyError, TypeError, ValueError, OverflowError, ValidationError):
        raise LineRefused(f'the line of kind "{kind}" is damaged') from None
    journal.facts.extend(decode_entry(entry))
