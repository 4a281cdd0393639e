"""Which stretch of laid traces is in view, and what they read at the cursors, in words."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication

from app.bench.snapshot import Trace
from app.windows.number_sign import signed
from app.windows.trace_cursors import Cursors, value_at
from app.windows.wording import shown_number, shown_unit
from drivers.reading import Unit

LEAST_S = 2.0


def tr(text: str) -> str:
    """Translate words that belong to no widget."""
    return QCoreApplication.translate("laid", text)


class LaidView:
    """A part of the time from power-on to `end_s`, or all of it."""

    def __init__(self, end_s: float = 0.0) -> None:
        self.end_s = end_s
        self._part: tuple[float, float] | None = None

    @property
    def whole(self) -> bool:
        """Whether all of it is in view."""
        return self._part is None

    @property
    def span(self) -> tuple[float, float]:
        """First and last second in view."""
        return self._part if self._part is not None else (0.0, max(self.end_s, LEAST_S))

    def show_all(self) -> None:
        """All of it again."""
        self._part = None

    def zoom(self, factor: float, about_s: float) -> None:
        """Show `factor` times as long a stretch; the moment stays where it is."""
        begin, end = self.span
        about = min(max(about_s, begin), end)
        self._look(about - (about - begin) * factor, about + (end - about) * factor)

    def pan(self, share: float) -> None:
        """Move by a share of what is in view, to later times where positive."""
        begin, end = self.span
        self._look(begin + share * (end - begin), end + share * (end - begin))

    def _look(self, begin: float, end: float) -> None:
        """Look at a stretch, no further than there is anything and no closer than can be read."""
        length = max(end - begin, LEAST_S)
        if length >= self.end_s:
            self._part = None
            return
        begin = min(max(begin, 0.0), self.end_s - length)
        self._part = (begin, begin + length)


def moments(cursors: Cursors) -> str:
    """Where the cursors stand; empty where there is none."""
    places = [at_s for at_s, _, _ in cursors.all()]
    told = [
        tr("{name}  at {minutes} min").format(name=name, minutes=signed(f"{at_s / 60.0:.2f}"))
        for at_s, name, _ in cursors.all()
    ]
    if len(places) == 2:
        told.append("2 − 1  " + signed(f"{(places[1] - places[0]) / 60.0:+.2f} min"))
    return "   ·   ".join(told)


def readings(cursors: Cursors, trace: Trace) -> str:
    """What a trace reads at the cursors, and the difference of two; empty where there is no cursor."""
    found = [(name, value_at(trace, at_s)) for at_s, name, _ in cursors.all()]
    told = [f"{name}  {tr('no reading') if value is None else _value(value, trace)}" for name, value in found]
    known = [value for _, value in found if value is not None]
    if len(known) == 2:
        told.append(f"2 − 1  {_value(known[1] - known[0], trace, '+')}")
    return "   ".join(told)


def _value(value: float, trace: Trace, sign: str = "") -> str:
    places = 2 if trace.unit is Unit.VOLT else 1
    return signed(f"{shown_number(value, trace.unit):{sign}.{places}f} {shown_unit(trace.unit)}")
