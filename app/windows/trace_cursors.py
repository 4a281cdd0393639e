"""Two cursors on the traces: where they are, what was read there, and how the two differ, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QCoreApplication

from app.bench.snapshot import Trace
from app.windows.number_sign import signed
from app.windows.ports import BenchPicture
from app.windows.wording import clock, shown_number, shown_unit
from drivers.reading import Unit

NAMES = ("1", "2")


def tr(text: str) -> str:
    """Translate words that belong to no widget."""
    return QCoreApplication.translate("cursors", text)


def value_at(trace: Trace, at_s: float) -> float | None:
    """The reading nearest to a moment; None in a gap, before the first reading and after the last."""
    count = len(trace.seconds)
    after = int(np.searchsorted(trace.seconds, at_s, "right"))
    before = after - 1
    if before < 0 or (after == count and at_s > trace.seconds[-1]):
        nearest = 0 if before < 0 else before
        # The newest reading holds for the moment that has passed since.
        close = count > 0 and abs(float(trace.seconds[nearest]) - at_s) <= 1.0
        return float(trace.values[nearest]) if close else None
    if after < count and not trace.joined[before] and at_s - trace.seconds[before] > 1e-9:
        return None
    if after == count or at_s - trace.seconds[before] <= trace.seconds[after] - at_s:
        return float(trace.values[before])
    return float(trace.values[after])


@dataclass(frozen=True, slots=True)
class Scaled:
    """A trace as it lies in the picture: the values at the lower and the upper edge, and its colour."""

    trace: Trace
    low: float
    high: float
    colour: str

    def point(self, at_s: float) -> tuple[float, float, float, str] | None:
        """The reading at a moment, as the canvas wants it."""
        value = value_at(self.trace, at_s)
        return None if value is None else (value, self.low, self.high, self.colour)


class Cursors:
    """No, one or two moments; one of them is chosen, which is the one that keys move."""

    def __init__(self) -> None:
        self._at_s: list[float] = []
        self._chosen = 0

    @property
    def placed(self) -> int:
        """How many there are."""
        return len(self._at_s)

    @property
    def chosen_s(self) -> float:
        """The chosen cursor's session second; 0 where there is none."""
        return self._at_s[self._chosen] if self._at_s else 0.0

    def all(self) -> tuple[tuple[float, str, bool], ...]:
        """Session second, name, and whether it is the chosen one."""
        return tuple((at_s, NAMES[i], i == self._chosen) for i, at_s in enumerate(self._at_s))

    def next(self, newest_s: float, apart_s: float) -> None:
        """None, then one, then two (the second is chosen), then none again."""
        if len(self._at_s) == 2:
            self._at_s.clear()
            self._chosen = 0
        elif self._at_s:
            self._at_s.append(max(0.0, self._at_s[0] - apart_s))
            self._chosen = 1
        else:
            self._at_s.append(newest_s)

    def put(self, at_s: float, other: bool) -> None:
        """Put the first cursor somewhere, or with `other` the second; it becomes the chosen one."""
        place = 1 if other and self._at_s else 0
        if place == len(self._at_s):
            self._at_s.append(at_s)
        else:
            self._at_s[place] = at_s
        self._chosen = place

    def swap(self) -> None:
        """Choose the other one."""
        if len(self._at_s) == 2:
            self._chosen = 1 - self._chosen

    def move(self, by_s: float, least_s: float, most_s: float) -> None:
        """Move the chosen cursor."""
        if self._at_s:
            self._at_s[self._chosen] = min(max(self.chosen_s + by_s, least_s), most_s)


def cursor_words(cursors: Cursors, traces: Sequence[Trace], picture: BenchPicture) -> str:
    """A line for each cursor, and one for the difference where there are two."""
    moments = [at_s for at_s, _, _ in cursors.all()]
    lines = [_at(name, at_s, traces, picture) for at_s, name, _ in cursors.all()]
    if len(moments) == 2:
        lines.append(_between(moments[0], moments[1], traces, picture))
    return "\n".join(lines)


def _moment(at_s: float, picture: BenchPicture) -> str:
    on_s = picture.view.power_on_s
    if on_s is None:
        switched = [m.at_s for m in picture.marks if m.kind == "supply" and m.at_s <= at_s]
        on_s = switched[0] if switched else None
    if on_s is None:
        return tr("at {elapsed}").format(elapsed=clock(at_s))
    if at_s < on_s:
        return tr("at {elapsed}, before power-on").format(elapsed=clock(at_s))
    return tr("at {elapsed}, {minutes} min since power-on").format(
        elapsed=clock(at_s), minutes=signed(f"{(at_s - on_s) / 60.0:.1f}")
    )


def _at(name: str, at_s: float, traces: Sequence[Trace], picture: BenchPicture) -> str:
    parts = [f"{name}  {_moment(at_s, picture)}"]
    for trace in traces:
        value = value_at(trace, at_s)
        words = tr("no reading") if value is None else _value(value, trace, picture)
        parts.append(f"{trace.channel}  {words}")
    return "   ·   ".join(parts)


def _value(value: float, trace: Trace, picture: BenchPicture, sign: str = "") -> str:
    if trace.unit is not Unit.VOLT:
        return signed(f"{shown_number(value, trace.unit):{sign}.1f} {shown_unit(trace.unit)}")
    words = signed(f"{value * 1000.0:{sign}.2f} mV")
    ohm = picture.setup_of(trace.channel).resistance_ohm
    return f"{words} = " + signed(f"{value / ohm * 1000.0:{sign}.1f} mA") if ohm else words


def _between(first_s: float, second_s: float, traces: Sequence[Trace], picture: BenchPicture) -> str:
    gone = second_s - first_s
    parts = [f"2 − 1  {'−' if gone < 0 else '+'}{clock(abs(gone))}"]
    for trace in traces:
        first, second = value_at(trace, first_s), value_at(trace, second_s)
        words = "–" if first is None or second is None else _value(second - first, trace, picture, "+")
        parts.append(f"{trace.channel}  {words}")
    return "   ·   ".join(parts)
