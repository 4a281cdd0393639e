"""A file of readings standing in for a meter, at the pace in which it was recorded.

The file is CSV: the first column counts elapsed seconds, every other column is an input whose header carries
the unit in brackets, such as `left bias [mV]`; a blank is a gap. Rows that cannot be used are counted and
the first is named, never dropped in silence.
"""

from __future__ import annotations

import csv
import math
import re
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from drivers.clock import Clock
from drivers.errors import LinkRefused, MeterRefused, ReplyRefused
from drivers.meter import MeterAccuracy, MeterFacts, MeterSetup
from drivers.reading import Gap, GapReason, Reading, Unit
from drivers.typed import ShownUnit, shown_unit

_HEADER = re.compile(r"^(?P<name>.*?)\s*\[(?P<unit>[^\[\]]+)\]\s*$")
_LONGEST_LINE = 100_000


@dataclass(frozen=True, slots=True)
class RecordedFile:
    """A file as it was read. Rows are (elapsed seconds, a value or None for each input), rising in time."""

    inputs: tuple[str, ...]
    units: tuple[Unit, ...]
    rows: tuple[tuple[float, tuple[float | None, ...]], ...]
    problems: tuple[str, ...]


def read_file(path: Path) -> RecordedFile:
    """Read a file of readings.

    Raises:
        MeterRefused: when nothing in it can be used; with file, place and what is wrong.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as lines:
            table = list(csv.reader(line[:_LONGEST_LINE] for line in lines))
    except (OSError, UnicodeDecodeError, csv.Error) as problem:
        raise MeterRefused(f"{path}: cannot be read as a file of readings ({problem})") from problem
    if not table or len(table[0]) < 2:
        raise MeterRefused(f"{path}: needs a first line such as: elapsed [s],left bias [mV]")
    names, units = _headers(path, table[0][1:])
    rows: list[tuple[float, tuple[float | None, ...]]] = []
    problems: list[str] = []
    for number, cells in enumerate(table[1:], start=2):
        if not any(cell.strip() for cell in cells):
            continue
        row = _row(cells, units)
        if isinstance(row, str):
            problems.append(f"line {number}: {row}")
        elif rows and row[0] < rows[-1][0]:
            problems.append(f"line {number}: time goes back to {row[0]:g} s")
        else:
            rows.append(row)
    if not rows:
        raise MeterRefused(f"{path}: no row can be used; {problems[0] if problems else 'there are none'}")
    return RecordedFile(names, tuple(unit.unit for unit in units), tuple(rows), tuple(problems))


def _headers(path: Path, cells: list[str]) -> tuple[tuple[str, ...], tuple[ShownUnit, ...]]:
    names: list[str] = []
    units: list[ShownUnit] = []
    for cell in cells:
        match = _HEADER.match(cell)
        if not match or not match["name"]:
            raise MeterRefused(f"{path}: the header {cell!r} needs a name and a unit, as in: left bias [mV]")
        try:
            units.append(shown_unit(match["unit"]))
        except ReplyRefused as problem:
            raise MeterRefused(f"{path}: the header {cell!r}: {problem}") from problem
        if match["name"] in names:
            raise MeterRefused(f"{path}: two columns are called {match['name']!r}")
        names.append(match["name"])
    return tuple(names), tuple(units)


def _row(cells: list[str], units: tuple[ShownUnit, ...]) -> tuple[float, tuple[float | None, ...]] | str:
    if len(cells) != len(units) + 1:
        return f"{len(cells)} columns where {len(units) + 1} should be"
    numbers: list[float | None] = []
    for cell in cells:
        text = cell.strip()
        if not text:
            numbers.append(None)
            continue
        try:
            number = float(text)
        except ValueError:
            return f"{text[:40]!r} is not a number"
        if not math.isfinite(number):
            return f"{text[:40]!r} is not a number"
        numbers.append(number)
    elapsed_s = numbers[0]
    if elapsed_s is None:
        return "the time is missing"
    values = tuple(
        None if number is None else unit.inside(number)
        for number, unit in zip(numbers[1:], units, strict=True)
    )
    return elapsed_s, values


class ReplayedMeter:
    """A file as a meter: `read` gives the rows whose time has come since the last call.

    Its clock starts at `connect`; a file that has ended refuses, and says so.
    """

    def __init__(self, name: str, path: Path, clock: Clock, *, accuracy: MeterAccuracy | None = None) -> None:
        self._name = name
        self._path = path
        self._clock = clock
        self._accuracy = accuracy or MeterAccuracy()
        self._file: RecordedFile | None = None
        self._origin_s: float | None = None
        self._next = 0

    @property
    def name(self) -> str:
        """See `Meter.name`."""
        return self._name

    @property
    def address(self) -> str:
        """See `Meter.address`."""
        return f"file:{self._path}"

    @property
    def inputs(self) -> tuple[str, ...]:
        """The names of the columns; known after `connect`."""
        return self._file.inputs if self._file else ()

    def connect(self, deadline: float) -> str:
        """Read the file. A second call goes on where the first had come to."""
        if self._file is None:
            self._file = read_file(self._path)
        if self._next >= len(self._file.rows):
            raise LinkRefused(self.address, "the file has ended")
        return f"readings from {self._path.name}"

    def configure(self, setup: MeterSetup, deadline: float) -> MeterFacts:
        """Start the pace; there is nothing to set."""
        if self._file is None:
            raise MeterRefused(f"{self.address}: the file has not been read yet")
        rows = self._file.rows
        if self._origin_s is None:
            self._origin_s = self._clock.now() - rows[0][0]
        steps_s = [later[0] - earlier[0] for earlier, later in pairwise(rows)]
        usual_s = sorted(steps_s)[len(steps_s) // 2] if steps_s else 1.0
        count = len(self._file.problems)
        notes = (f"{count} rows could not be used; {self._file.problems[0]}",) if count else ()
        return MeterFacts(
            identity=f"readings from {self._path.name}",
            range_volts=0.0,
            integration_s=usual_s,
            reading_s=usual_s,
            accuracy=self._accuracy,
            unit=self._file.units[0],
            dialect="file",
            notes=notes,
        )

    def read(self, deadline: float) -> tuple[Reading | Gap, ...]:
        """The rows whose time has come, oldest first; none is an empty answer."""
        if self._file is None or self._origin_s is None:
            raise MeterRefused(f"{self.address}: the file has not been read yet")
        if self._next >= len(self._file.rows):
            raise LinkRefused(self.address, "the file has ended")
        now_s = self._clock.now()
        facts: list[Reading | Gap] = []
        while self._next < len(self._file.rows):
            elapsed_s, values = self._file.rows[self._next]
            at_s = self._origin_s + elapsed_s
            if at_s > now_s:
                break
            self._next += 1
            for meter_input, unit, value in zip(self._file.inputs, self._file.units, values, strict=True):
                if value is None:
                    facts.append(Gap(self._name, meter_input, at_s, at_s, GapReason.NO_READING, "blank"))
                else:
                    facts.append(Reading(self._name, meter_input, value, unit, at_s, at_s))
        return tuple(facts)

    def recover(self, deadline: float) -> None:
        """There is nothing to recover."""

    def abort(self) -> None:
        """Nothing blocks."""

    def disconnect(self) -> None:
        """There is nothing to let go of."""
