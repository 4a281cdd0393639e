"""Readings from a table of text: elapsed seconds first, then a column a channel with its unit in brackets.

`left bias [mV]` is such a header; a blank cell is a gap; a column without a unit in brackets holds words, and
is passed over. Commas, semicolons (then with decimal commas) and tabs separate. What cannot be read is
refused with one sentence, or counted and named, never dropped silently.
"""

from __future__ import annotations

import codecs
import csv
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from drivers.reading import GapReason, Unit
from procedures.events import ChannelGap, ChannelReading

_UNITS: dict[str, tuple[Unit, float]] = {
    "V": (Unit.VOLT, 1.0),
    "mV": (Unit.VOLT, 1e-3),
    "uV": (Unit.VOLT, 1e-6),
    "nV": (Unit.VOLT, 1e-9),
    "A": (Unit.AMPERE, 1.0),
    "mA": (Unit.AMPERE, 1e-3),
    "uA": (Unit.AMPERE, 1e-6),
    "W": (Unit.WATT, 1.0),
    "mW": (Unit.WATT, 1e-3),
    "Ohm": (Unit.OHM, 1.0),
    "ohm": (Unit.OHM, 1.0),
    "Ω": (Unit.OHM, 1.0),
    "mOhm": (Unit.OHM, 1e-3),
    "kOhm": (Unit.OHM, 1e3),
    "Hz": (Unit.HERTZ, 1.0),
    "degC": (Unit.CELSIUS, 1.0),
    "°C": (Unit.CELSIUS, 1.0),
    "C": (Unit.CELSIUS, 1.0),
}
_TIMES = {"s": 1.0, "sec": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0}
_HEADER = re.compile(r"^(?P<name>.*?)\s*\[(?P<unit>[^\]]*)\]\s*$")
_OVERLOADED = {"ol", "o.l", "o.l.", "0l", "ovld", "ovrng", "over", "overload", "inf", "+inf", "-inf"}
_SENTINEL = 9e36  # SCPI meters send 9.9E37 for an overload
_GAPS = {"", "-", "--", "nan", "none", "null"}
_NAMED = 20
_LONGEST_S = (
    7 * 86400.0
)  # a clock's seconds (since 1970, say) are no elapsed ones, and would be waited through


class TableRefused(ValueError):
    """A table that cannot be read; the text is one sentence that says why and what would be right."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column of readings: its channel, its unit, the factor to that unit, and its place in the row."""

    channel: str
    unit: Unit
    factor: float
    place: int


@dataclass(slots=True)
class Table:
    """A readings file that was opened.

    `bad` counts the rows in which something could not be read; `passed_over` are columns without a unit.
    """

    path: Path
    columns: tuple[Column, ...]
    delimiter: str
    time_factor: float
    encoding: str
    width: int
    passed_over: tuple[str, ...] = ()
    bad: int = 0
    named: list[str] = field(default_factory=list)
    rows: int = 0

    def facts(self) -> Iterator[ChannelReading | ChannelGap]:
        """Readings row by row. What is wrong with a row is noted, and the rest of it is used.

        Raises OSError, TableRefused.
        """
        last_s = -math.inf
        comma = self.delimiter == ";"
        with self.path.open(encoding=self.encoding, newline="") as file:
            lines = csv.reader(_without_nul(file), delimiter=self.delimiter)
            next(lines)
            for cells in lines:
                if not cells or (len(cells) == 1 and not cells[0].strip()):
                    continue
                self.rows += 1
                try:
                    at_s = _number(cells[0], comma) * self.time_factor
                except ValueError:
                    at_s = math.nan
                if not math.isfinite(at_s):
                    self._bad(lines.line_num, f"{cells[0]!r} is no time")
                elif at_s < last_s:
                    self._bad(lines.line_num, f"its time {at_s:g} s is before that of the row above")
                elif at_s > _LONGEST_S:
                    self._bad(
                        lines.line_num, f"its time {at_s:g} s is over a week: give seconds since power-on"
                    )
                else:
                    last_s = at_s
                    yield from self._row(lines.line_num, at_s, cells, comma)

    def _row(
        self, line: int, at_s: float, cells: Sequence[str], comma: bool
    ) -> Iterator[ChannelReading | ChannelGap]:
        if len(cells) > self.width and any(cell.strip() for cell in cells[self.width :]):
            # A decimal comma cuts 13,5 in two: none of its cells can be trusted to be under its own header.
            self._bad(line, f"it has {len(cells)} cells, the header {self.width}")
            return
        wrong = ""
        for column in self.columns:
            if column.place >= len(cells):
                continue
            cell = cells[column.place]
            try:
                value = float(cell) if not comma else _number(cell, True)
            except ValueError:
                word = cell.strip().lower()
                if word in _OVERLOADED:
                    yield ChannelGap(at_s, at_s, column.channel, GapReason.OVERLOAD, "overload")
                elif word not in _GAPS:
                    wrong = wrong or f"{cell!r} is no value of {column.channel}"
                continue
            if abs(value) < _SENTINEL:
                yield ChannelReading(at_s, column.channel, value * column.factor, column.unit)
            elif not math.isnan(value):
                yield ChannelGap(at_s, at_s, column.channel, GapReason.OVERLOAD, "overload")
        if wrong:
            self._bad(line, wrong)

    def _bad(self, line: int, what: str) -> None:
        self.bad += 1
        if len(self.named) < _NAMED:
            self.named.append(f"line {line}: {what}")


def open_table(path: Path) -> Table:
    """Read a table's header. Raises OSError, and TableRefused with one sentence."""
    encoding = _encoding(path)
    with path.open(encoding=encoding, newline="") as file:
        first = file.readline().replace("\0", "")
    if not first.strip():
        raise TableRefused(f"{path}: the file is empty; its first line should name the columns.")
    delimiter = next((d for d in (";", "\t", ",") if d in first), ",")
    headers = next(csv.reader([first], delimiter=delimiter))
    if len(headers) < 2:
        raise TableRefused(
            f"{path}: there is one column only; elapsed seconds come first, then such as `left bias [mV]`."
        )
    time_factor = _time_factor(path, headers[0])  # first: a missing header shows here
    found = [_column(path, header, place) for place, header in enumerate(headers[1:], start=1)]
    columns = tuple(column for column in found if column is not None)
    words = tuple(header.strip() for header, column in zip(headers[1:], found, strict=True) if column is None)
    if not columns:
        raise TableRefused(
            f"{path}: column 2 is headed {words[0]!r}; "
            "a channel and its unit in brackets are needed, such as `left bias [mV]`."
        )
    return Table(path, columns, delimiter, time_factor, encoding, len(headers), words)


def _encoding(path: Path) -> str:
    with path.open("rb") as file:
        start = file.read(65536)
    if start[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    try:
        # Incremental: a character cut in two at the end of the piece is no fault of the file.
        codecs.getincrementaldecoder("utf-8")().decode(start)
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8-sig"


def _time_factor(path: Path, header: str) -> float:
    found = _HEADER.match(header.strip())
    if found is None:
        try:
            float(header)
        except ValueError:
            return 1.0
        raise TableRefused(f"{path}: the first line holds numbers; it should name the columns.")
    unit = found["unit"].strip()
    if unit not in _TIMES:
        known = ", ".join(_TIMES)
        raise TableRefused(f"{path}: the first column is in [{unit}]; it should be a time in one of {known}.")
    return _TIMES[unit]


def _column(path: Path, header: str, place: int) -> Column | None:
    """The channel of a column, or None for a column of words. Raises TableRefused for an unknown unit."""
    found = _HEADER.match(header.strip())
    if found is None or not found["name"].strip():
        return None
    unit = found["unit"].strip().replace("µ", "u").replace("μ", "u")
    unit = {"mΩ": "mOhm", "kΩ": "kOhm"}.get(unit, unit)
    if unit not in _UNITS:
        known = ", ".join(_UNITS)
        raise TableRefused(f"{path}: column {place + 1} is in [{found['unit']}]; units are {known}.")
    kind, factor = _UNITS[unit]
    return Column(found["name"].strip(), kind, factor, place)


def _number(text: str, comma: bool) -> float:
    return float(text.strip().replace(",", ".")) if comma else float(text)


def _without_nul(lines: Iterator[str]) -> Iterator[str]:
    """The csv module stops at a NUL, as a torn file may hold; what is around it is worth reading."""
    return (line.replace("\0", "") for line in lines)
