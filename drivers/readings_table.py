"""Readings from a table of text: elapsed time first, then a column a channel with its unit in brackets.

`left bias [mV]` is such a header; a blank cell is a gap; a column without a unit in brackets holds words, and
is passed over. Commas, semicolons and tabs separate; where a comma does not, it may be the decimal mark. What
cannot be read is refused with one sentence, or counted and named, never dropped silently.

Here: the one reader of such tables, for judging a recording and for a file that stands in for a meter. Not
here: how text becomes lines of cells (`table_text`), and what the readings mean.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal, DecimalException
from pathlib import Path

from drivers.errors import ReplyRefused
from drivers.reading import GapReason, Unit
from drivers.table_text import TableRefused, TextTable, open_text
from drivers.typed import ShownUnit, shown_unit, unit_words

__all__ = ["Column", "Row", "Table", "TableRefused", "open_table"]

_TIMES = {"s": 1.0, "sec": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0}
_HEADER = re.compile(r"^(?P<name>.*?)\s*\[(?P<unit>[^\[\]]*)\]\s*$", re.DOTALL)
_OVERLOADED = frozenset(
    {"ol", "o.l", "o.l.", "0l", "0.l", "ovld", "ovrng", "over", "overload", "inf", "+inf"}
)
_OVERLOADED_BELOW = frozenset({"-ol", "-o.l", "-inf", "+ol", "infinity", "-infinity", "+infinity"})
_GAPS = frozenset({"", "-", "--", "---", "nan", "none", "null", "n/a", "na", "#n/a"})
_SENTINEL = 9e36  # SCPI meters send 9.9E37 for an overload, whatever the unit of the column
_NAMED = 20
_SHOWN = 40  # of what a cell holds, in a sentence
_FORMULA = ("'=", "'+", "'-", "'@")  # how an export keeps a spreadsheet from computing
# A clock's seconds (since 1970, say) are no elapsed ones, and would be waited through.
_LONGEST_S = 7 * 86400.0

Cell = float | GapReason | None
Row = tuple[float, list[Cell]]


@dataclass(frozen=True, slots=True)
class Column:
    """A column of readings: its channel, the unit that it is written in, and its place in the row."""

    channel: str
    shown: ShownUnit
    place: int

    @property
    def unit(self) -> Unit:
        """The unit of the readings as they leave the table."""
        return self.shown.unit


@dataclass(slots=True)
class Table:
    """A readings file that was opened.

    `bad` counts the rows in which something could not be read, the first of them are `named`; `passed_over`
    are columns without a unit.
    """

    path: Path
    columns: tuple[Column, ...]
    time_factor: float
    text: TextTable
    width: int
    passed_over: tuple[str, ...] = ()
    bad: int = 0
    named: list[str] = field(default_factory=list)
    count: int = 0

    def rows(self) -> Iterator[Row]:
        """Elapsed seconds, rising; for each column a value, a reason for a gap, or None where it is blank.

        What is wrong with a row is noted, and the rest of it is used. Raises OSError, TableRefused.
        """
        self.bad, self.count, last_s = 0, 0, -math.inf
        self.named.clear()
        comma = self.text.decimal_comma
        time = _value_of(comma, 0)
        cells_of = [(c.place, _value_of(comma, c.shown.exponent), _limit(c.shown)) for c in self.columns]
        offsets = [column.shown.offset for column in self.columns]
        shifted = any(offsets)
        for line, cells in self.text.rows(1 + max(column.place for column in self.columns)):
            if not any(cells) or not any(cell.strip() for cell in cells):
                continue
            self.count += 1
            try:
                at_s = time(cells[0]) * self.time_factor
            except ValueError:
                at_s = math.nan
            if wrong := self._wrong_place(at_s, last_s, cells):
                self._bad(line, wrong)
                continue
            last_s = at_s
            values = self._values(line, cells, cells_of)
            if shifted:
                values = [v + o if type(v) is float else v for v, o in zip(values, offsets, strict=True)]
            yield at_s, values

    def _wrong_place(self, at_s: float, last_s: float, cells: Sequence[str]) -> str:
        if len(cells) > self.width and any(cell.strip() for cell in cells[self.width :]):
            # A decimal comma cuts 13,5 in two: none of its cells can be trusted to be under its own header.
            return f"it has {len(cells)} cells, the header {self.width}"
        if not math.isfinite(at_s):
            return f"{cells[0][:_SHOWN]!r} is no time"
        if at_s < last_s:
            return f"its time {at_s:g} s is before that of the row above"
        if at_s > _LONGEST_S:
            return f"its time {at_s:g} s is over a week: give seconds since power-on"
        return ""

    def _values(
        self, line: int, cells: Sequence[str], cells_of: Sequence[tuple[int, Callable[[str], float], float]]
    ) -> list[Cell]:
        values: list[Cell] = []
        wrong = ""
        for place, value_of, limit in cells_of:
            cell = cells[place] if place < len(cells) else ""
            if not cell:
                values.append(None)
                continue
            try:
                value = value_of(cell)
            except ValueError:
                values.append(_word(cell))
                if values[-1] is GapReason.GARBLED:
                    wrong = wrong or f"{cell[:_SHOWN]!r} is no value of {self._called(place)}"
            else:
                if abs(value) < limit:
                    values.append(value)
                else:
                    values.append(None if math.isnan(value) else GapReason.OVERLOAD)
        if wrong:
            self._bad(line, wrong)
        return values

    def _called(self, place: int) -> str:
        return next(column.channel for column in self.columns if column.place == place)

    def _bad(self, line: int, what: str) -> None:
        self.bad += 1
        if len(self.named) < _NAMED:
            self.named.append(f"line {line}: {what}")


def open_table(path: Path) -> Table:
    """Read a table's header. Raises TableRefused with one sentence that says what would be right."""
    text = open_text(path)
    headers = text.headers
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
            f"{path}: column 2 is headed {words[0][:_SHOWN]!r}; "
            "a channel and its unit in brackets are needed, such as `left bias [mV]`."
        )
    names = [column.channel for column in columns]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise TableRefused(f"{path}: two columns are headed {twice!r}; each channel needs a name of its own.")
    return Table(path, columns, time_factor, text, len(headers), words)


def _time_factor(path: Path, header: str) -> float:
    found = _HEADER.match(header.strip())
    if found is None:
        try:
            float(header.strip().replace(",", "."))
        except ValueError:
            return 1.0
        raise TableRefused(f"{path}: the first line holds numbers; it should name the columns.")
    unit = found["unit"].strip()
    if unit in _TIMES:
        return _TIMES[unit]
    known = ", ".join(_TIMES)
    raise TableRefused(
        f"{path}: the first column is in [{unit[:_SHOWN]}]; it should be a time in one of {known}."
    )


def _column(path: Path, header: str, place: int) -> Column | None:
    """The channel of a column, or None for a column of words. Raises TableRefused for an unknown unit."""
    found = _HEADER.match(header.strip())
    if found is None or not found["name"].strip():
        return None
    name = found["name"].strip()
    try:
        shown = shown_unit(found["unit"])
    except ReplyRefused:
        raise TableRefused(
            f"{path}: column {place + 1} is in [{found['unit'][:_SHOWN]}]; "
            f"units are {', '.join(unit_words())}."
        ) from None
    return Column(name[1:] if name.startswith(_FORMULA) else name, shown, place)


def _word(cell: str) -> GapReason | None:
    """What a cell that is no number says: a gap, an overload, or nothing that could be understood."""
    word = cell.strip().lower()
    if word in _GAPS:
        return None
    known = word in _OVERLOADED or word in _OVERLOADED_BELOW
    return GapReason.OVERLOAD if known else GapReason.GARBLED


def _limit(shown: ShownUnit) -> float:
    """From where on a value of a column stands for an overload."""
    return float(_SENTINEL * 10.0 ** min(0, shown.exponent))


def _value_of(comma: bool, exponent: int) -> Callable[[str], float]:
    """From a cell to its number times ten to a power; it raises ValueError.

    The power is put behind the digits, so that 13.4 mV is the float 0.0134 and not a neighbour of it.
    """
    suffix = f"e{exponent}" if exponent else ""

    def value(cell: str) -> float:
        text = cell.strip()
        if "_" in text:
            raise ValueError(cell)  # Python's own way of writing a thousand is nobody's in a table
        if comma:
            text = text.replace(",", ".")
        try:
            return float(text + suffix)
        except ValueError:
            return _with_exponent(text, exponent)

    return value


def _with_exponent(text: str, exponent: int) -> float:
    """A number that has a power of ten of its own. Raises ValueError."""
    try:
        number = Decimal(text)
        return float(number.scaleb(exponent) if number.is_finite() else number)
    except DecimalException:  # no number, or a power of ten that no number has
        raise ValueError(text) from None
