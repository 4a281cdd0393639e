"""A file of readings standing in for a meter, at the pace in which it was recorded.

The file is a table of readings (`readings_table`): the first column counts elapsed seconds, every other with
a unit in brackets in its header is an input. Rows that cannot be used are counted and the first is named,
never dropped in silence.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from drivers.clock import Clock
from drivers.errors import LinkRefused, MeterRefused
from drivers.meter import MeterAccuracy, MeterFacts, MeterSetup
from drivers.reading import Gap, GapReason, Reading, Unit
from drivers.readings_table import open_table

_GAPS = {
    GapReason.OVERLOAD: "overload",
    GapReason.GARBLED: "what the file holds there is no value",
    GapReason.NO_READING: "blank",
}
_MISSED = 1.5  # of the usual interval: then a blank is a reading that did not come


@dataclass(frozen=True, slots=True)
class RecordedFile:
    """A file as it was read. `rows` are its moments, rising, and what each input was then.

    `bad` counts the rows in which something could not be read; the first of them are named in `problems`.
    """

    inputs: tuple[str, ...]
    units: tuple[Unit, ...]
    times_s: array[float]
    rows: tuple[list[float | GapReason | None], ...]
    bad: int
    problems: tuple[str, ...]
    usual_s: tuple[float, ...]


def inputs_of(path: Path) -> dict[str, Unit]:
    """The inputs of a file and their units, from its first line. Raises MeterRefused."""
    return {column.channel: column.unit for column in open_table(path).columns}


def read_file(path: Path) -> RecordedFile:
    """Read a file of readings.

    Raises:
        MeterRefused: when nothing in it can be used; with file, place and what is wrong.
    """
    table = open_table(path)
    times_s, rows = array("d"), []
    for at_s, values in table.rows():
        times_s.append(at_s)
        rows.append(values)
    if not any(type(value) is float for values in rows for value in values):
        said = table.named[0] if table.named else "there are no rows below the first line"
        raise MeterRefused(f"{path}: no reading could be found in it ({said}).")
    usual_s = tuple(_usual_step(times_s, rows, place) for place in range(len(table.columns)))
    return RecordedFile(
        tuple(column.channel for column in table.columns),
        tuple(column.unit for column in table.columns),
        times_s,
        tuple(rows),
        table.bad,
        tuple(table.named),
        usual_s,
    )


def _usual_step(times_s: array[float], rows: list[list[float | GapReason | None]], place: int) -> float:
    """The usual time from one reading of an input to the next; infinite when there is none."""
    filled = (at_s for at_s, values in zip(times_s, rows, strict=True) if values[place] is not None)
    steps_s = sorted(later - earlier for earlier, later in pairwise(filled))
    return steps_s[len(steps_s) // 2] if steps_s else math.inf


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
        self._last_s: dict[str, float] = {}

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
        if self._origin_s is None:
            self._origin_s = self._clock.now() - self._file.times_s[0]
        steps_s = [step_s for step_s in self._file.usual_s if 0.0 < step_s < math.inf]
        usual_s = min(steps_s, default=1.0)
        count = self._file.bad
        notes = (f"{count} rows could not be used whole; {self._file.problems[0]}",) if count else ()
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
            at_s = self._origin_s + self._file.times_s[self._next]
            if at_s > now_s:
                break
            facts.extend(self._row(self._file, at_s, self._file.rows[self._next]))
            self._next += 1
        return tuple(facts)

    def _row(
        self, file: RecordedFile, at_s: float, values: list[float | GapReason | None]
    ) -> Iterator[Reading | Gap]:
        """What each input was at a moment. A blank is a gap once a reading should have come again."""
        for place, value in enumerate(values):
            name = file.inputs[place]
            if isinstance(value, float):
                yield Reading(self._name, name, value, file.units[place], at_s, at_s)
            elif value is not None:
                yield Gap(self._name, name, at_s, at_s, value, _GAPS[value])
            elif at_s - self._last_s.get(name, math.inf) >= _MISSED * file.usual_s[place]:
                yield Gap(self._name, name, self._last_s[name], at_s, GapReason.NO_READING, "blank")
            else:
                continue
            self._last_s[name] = at_s

    def recover(self, deadline: float) -> None:
        """There is nothing to recover."""

    def abort(self) -> None:
        """Nothing blocks."""

    def disconnect(self) -> None:
        """There is nothing to let go of."""
