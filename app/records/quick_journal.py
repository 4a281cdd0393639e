"""Reading a long journal fast: its readings as whole columns of numbers, everything else fact by fact.

`session_folder.open_session` makes a fact of every reading, which a judgement needs and a picture does not.
Here lines of plain readings are taken hundreds at a time; a line that is anything but plain is read as
always. What a column file covers is not read again.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from app.records.session_folder import JOURNAL, Session, SessionUnreadable
from drivers.reading import Unit
from procedures.events import ChannelGap, ChannelReading
from procedures.records import codec
from procedures.records.codec import Fact, LineRefused
from procedures.records.journal import Journal, read_journal

_ROWS = b'{"kind":"rows"'
_BREAKS = (b'{"kind":"gap"', b'{"kind":"lead moved"', b'{"kind":"segment"')
_CLOSING = b'{"kind":"closing"'
_SPACES = bytes.maketrans(b"[],\n", b"    ")
AT_ONCE = 300  # lines; a few milliseconds, so that whoever draws is not held up

Floats = NDArray[np.float64]
Places = NDArray[np.int64]


class ReadingsTaker(Protocol):
    """Where readings and what comes between them go, in the order of the journal."""

    def readings(self, channel: str, unit: Unit, seconds: Floats, values: Floats, /) -> None:
        """Readings of one channel, shapes (n,)."""
        ...

    def between(self, fact: Fact) -> None:
        """A gap, a moved lead, or an unwatched break."""
        ...


@dataclass(frozen=True, slots=True)
class QuickSession:
    """A session without its readings, which went to the taker. `size`: bytes read.

    `whole`: the last line is; where it is not, somebody is writing it, or nobody will.
    """

    session: Session
    last_s: float
    size: int
    whole: bool = True


@dataclass(slots=True)
class _Batch:
    """Lines of plain readings that were not taken yet."""

    tails: list[bytes]
    prefixes: list[int]


class QuickReader:
    """Reads one journal. `covered`: lines that begin before this byte have their readings elsewhere."""

    def __init__(self, taker: ReadingsTaker, covered: int, progress: Callable[[float], None]) -> None:
        self._taker = taker
        self._covered = covered
        self._progress = progress
        self._known: dict[bytes, int] = {}
        self._channels: list[list[tuple[str, Unit]]] = []
        self._batch = _Batch([], [])
        self._others: list[tuple[int, bytes]] = []
        self.last_s = 0.0

    def read(self, folder: Path) -> QuickSession:
        """Read it. Raises SessionUnreadable with one sentence."""
        path = folder / JOURNAL
        try:
            whole = max(path.stat().st_size, 1)
            with open(path, "rb") as file:
                place, line = 0, b""
                for number, line in enumerate(file, start=1):
                    self._line(number, line, place)
                    place += len(line)
                    if number % 2000 == 0:
                        self._progress(place / whole)
            self._flush()
            journal = self._journal()
        except OSError as error:
            raise SessionUnreadable(f"{path}: {error.strerror or error}") from error
        except LineRefused as refused:
            raise SessionUnreadable(f"{path}: {refused}") from refused
        for fact in journal.facts:
            self.last_s = max(self.last_s, fact.until_s if isinstance(fact, ChannelGap) else fact.at_s)
        self._progress(1.0)
        return QuickSession(Session(folder, journal), self.last_s, place, line.endswith(b"\n"))

    def _line(self, number: int, line: bytes, place: int) -> None:
        if line.startswith(_ROWS):
            if place >= self._covered:
                self._rows(number, line)
            elif not line.rstrip().endswith(b"]]}"):
                self._others.append((number, line))  # damaged: named among the journal's problems
            return
        self._others.append((number, line))
        if place >= self._covered and line.startswith(_BREAKS):
            self._flush()
            try:
                for fact in codec.decode(line.decode("utf-8", "replace")):
                    self._taker.between(fact)
            except LineRefused:
                return  # named among the journal's problems

    def _rows(self, number: int, line: bytes) -> None:
        prefix, found, tail = line.rstrip().partition(b',"rows":[')
        if not found or not tail.endswith(b"]]}") or b'"' in tail:
            self._by_facts(number, line)
            return
        known = self._known.get(prefix)
        if known is None:
            known = self._known[prefix] = len(self._channels)
            try:
                entry = codec.parse((prefix + b"}").decode("utf-8"))
                self._channels.append([(str(name), Unit(unit)) for name, unit in entry.get("channels", ())])
            except (LineRefused, ValueError, TypeError):
                self._channels.append([])
        self._batch.tails.append(tail[:-2])
        self._batch.prefixes.append(known)
        if len(self._batch.tails) >= AT_ONCE:
            self._flush()

    def _by_facts(self, number: int, line: bytes) -> None:
        """Read a line as always; a damaged one is kept for the journal to name."""
        self._flush()
        try:
            for fact in codec.decode(line.decode("utf-8", "replace")):
                self.last_s = max(self.last_s, fact.at_s)
                if isinstance(fact, ChannelReading):
                    seconds, values = np.array([fact.at_s]), np.array([fact.value])
                    self._taker.readings(fact.channel, fact.unit, seconds, values)
        except LineRefused:
            self._others.append((number, line))

    def _flush(self) -> None:
        batch, self._batch = self._batch, _Batch([], [])
        if not batch.tails:
            return
        table = _table(batch.tails)
        if table is None or not self._give(batch, *table):
            for tail, prefix in zip(batch.tails, batch.prefixes, strict=True):
                rebuilt = b'{"kind":"rows","rows":[' + tail + b"]}"
                known = next(text for text, number in self._known.items() if number == prefix)
                self._by_facts(0, rebuilt.replace(_ROWS, known, 1))

    def _give(self, batch: _Batch, numbers: Floats, starts: Places, counts: Places, lines: Places) -> bool:
        """Hand a table of rows to the taker, channel by channel; False where it makes no sense."""
        prefixes = np.asarray(batch.prefixes)
        widest = max((len(self._channels[p]) for p in set(batch.prefixes)), default=0)
        order: dict[tuple[str, Unit], int] = {}
        table = np.full((len(self._channels), max(widest, 1)), -1)
        for prefix in set(batch.prefixes):
            for place, key in enumerate(self._channels[prefix]):
                table[prefix, place] = order.setdefault(key, len(order))
        read = counts >= 3
        local = numbers[starts[read]].astype(np.int64)
        if (counts == 2).any() or (local < 0).any() or (local >= table.shape[1]).any():
            return False
        which = table[prefixes[lines[read]], local]
        if (which < 0).any():
            return False
        at, values = numbers[starts[read] + 1], numbers[starts[read] + 2]
        ticks = numbers[starts[counts == 1]]
        for part in (at, ticks):
            if part.size:
                self.last_s = max(self.last_s, float(part.max()))
        for (channel, unit), place in order.items():
            mine = which == place
            if mine.any():
                self._taker.readings(channel, unit, at[mine], values[mine])
        return True

    def _journal(self) -> Journal:
        """What is not readings, as a journal; its problems name the lines of the file."""
        kept = [(number, line) for number, line in self._others if not line.startswith(_CLOSING)]
        journal = read_journal(line.decode("utf-8", "replace") for _, line in kept)
        for place, problem in enumerate(journal.problems):
            found = re.match(r"Line (\d+) ", problem)
            if found:
                real = kept[int(found[1]) - 1][0]
                journal.problems[place] = problem.replace(f"Line {found[1]} ", f"Line {real} ", 1)
        return journal


def _table(tails: list[bytes]) -> tuple[Floats, Places, Places, Places] | None:
    """All numbers of some lines, and for each row: where it starts, how many it has, which line it is on.

    None where the text is not as plain as it seemed.
    """
    text = b"\n".join(tails)
    letters = np.frombuffer(text, dtype=np.uint8)
    ends = np.flatnonzero(letters == ord("]"))
    commas = np.flatnonzero(letters == ord(","))
    breaks = np.flatnonzero(letters == ord("\n"))
    with warnings.catch_warnings():
        warnings.simplefilter("error", DeprecationWarning)
        try:
            numbers = np.fromstring(text.translate(_SPACES).decode("ascii"), sep=" ")
        except (ValueError, DeprecationWarning, UnicodeDecodeError):
            return None
    lines = np.searchsorted(breaks, ends)
    # A comma between two rows stands after the end of the first; a line's first row has none before it.
    so_far = np.searchsorted(commas, ends)
    first_of_line = np.concatenate(([True], lines[1:] != lines[:-1]))
    counts = np.diff(so_far, prepend=0) - np.where(first_of_line, 0, 1) + 1
    starts = np.concatenate(([0], np.cumsum(counts)[:-1]))
    if int(counts.sum()) != len(numbers) or (counts < 1).any():
        return None
    return numbers, starts, counts, lines


def read_quickly(
    folder: Path, taker: ReadingsTaker, covered: int, progress: Callable[[float], None]
) -> QuickSession:
    """Read a journal, its readings into `taker`. Raises SessionUnreadable."""
    return QuickReader(taker, covered, progress).read(folder)
