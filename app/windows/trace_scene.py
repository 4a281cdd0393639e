"""Which curves are to be drawn for a stretch of time: the channels' traces, and others beside them.

Keeps the columns of every trace as it grows. Channels in volts share one scale; any other unit has a scale
of its own, with its newest value written at the curve.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from app.bench.columns import Columns, Stretch, shown_span
from app.bench.snapshot import Trace
from app.windows.ports import BenchPicture
from app.windows.theme import shades
from app.windows.trace_canvas import Curve, LineKind
from app.windows.trace_cursors import Scaled
from app.windows.wording import limits, plain
from drivers.reading import Unit
from procedures.analysis.channel import ChannelState

Span = tuple[float, float]


class Followed:
    """A trace with its columns, as long as it only grows."""

    def __init__(self, trace: Trace) -> None:
        self.trace = trace
        self.columns = Columns()
        self.columns.extend(trace)

    def take(self, trace: Trace) -> None:
        """Take a longer trace; a shorter or another one (a replay that was wound back) begins anew."""
        if trace is self.trace:
            return
        known = self.trace.seconds
        grown = len(trace.seconds) >= len(known)
        if not grown or (len(known) and trace.seconds[len(known) - 1] != known[-1]):
            self.columns = Columns()
        self.trace = trace
        self.columns.extend(trace)


class Overlay:
    """A curve beside the traces: whose colour it has (`index`), what is written at it, its kind of line."""

    def __init__(self, trace: Trace, index: int, label: str, kind: LineKind) -> None:
        self.followed = Followed(trace)
        self.index = index
        self.label = label
        self.kind = kind


@dataclass(frozen=True, slots=True)
class _Looked:
    """A curve with its columns in the stretch that is looked at."""

    trace: Trace
    part: Stretch
    span: Span | None
    index: int
    label: str
    kind: LineKind
    shared: bool  # whether it has the scale of all
    shape: int | None = None  # of a trace; what lies beside them has none


class TraceScene:
    """What there is to draw. `look` at a stretch of time, then ask for `spans` and `curves`."""

    def __init__(self) -> None:
        self.picture: BenchPicture | None = None
        self.traces: tuple[Trace, ...] = ()
        self.windows: tuple[Span, ...] = ()
        self.scaled: tuple[Scaled, ...] = ()
        self.hidden: frozenset[str] = frozenset()  # channels that are not drawn just now
        self._followed: dict[str, Followed] = {}
        self._overlays: dict[str, Overlay] = {}
        self._places: dict[str, int] = {}  # of each trace's channel among the rows
        self._looked: list[_Looked] = []

    def take(self, picture: BenchPicture) -> bool:
        """Take the newest picture; whether there are other channels than before."""
        view, first = picture.view, self.picture is None
        # In the order of the rows, which is what gives a channel its colour; traces come as readings came.
        order = {s.channel: place for place, s in enumerate(view.channels)}
        before = [(t.channel, t.unit) for t in self.traces]
        traces = tuple(sorted(picture.traces, key=lambda t: order.get(t.channel, len(order))))
        # A row that was not read yet has no trace, but it has its colour and its shape.
        rowless = [t.channel for t in traces if t.channel not in order]
        self._places = order | {name: len(order) + n for n, name in enumerate(rowless)}
        for trace in traces:
            known = self._followed.get(trace.channel)
            if known is None:
                self._followed[trace.channel] = Followed(trace)
            else:
                known.take(trace)
        by_name = {s.channel: s for s in view.channels}
        windows = (
            limits(s, by_name.get(s.channel, ChannelState(s.channel, view.at_s))) for s in picture.setups
        )
        self.windows = tuple(dict.fromkeys(w for w in windows if w is not None))
        self.picture, self.traces = picture, traces
        return first or before != [(t.channel, t.unit) for t in traces]

    def overlay(self, name: str, overlay: Overlay | None) -> None:
        """Draw another curve beside the traces, or no longer."""
        if overlay is None:
            self._overlays.pop(name, None)
        else:
            self._overlays[name] = overlay

    # --- facts ------------------------------------------------------------------------------------------

    @property
    def end_s(self) -> float:
        """The newest session second."""
        at_s = self.picture.view.at_s if self.picture is not None else 0.0
        return max(at_s, *(float(t.seconds[-1]) for t in self.traces if t.seconds.size), 0.0)

    @property
    def labels(self) -> list[str]:
        """What is written at the curves."""
        return [self._label(t) for t in self.traces] + [o.label for o in self._overlays.values()]

    @property
    def spans(self) -> list[Span]:
        """Lowest and highest value in view of every curve that has the scale of all."""
        return [one.span for one in self._looked if one.shared and one.span is not None]

    def _powered_s(self) -> float:
        if self.picture is None:
            return -math.inf
        switched = (m.at_s for m in self.picture.marks if m.kind == "supply")
        on_s = self.picture.view.power_on_s
        return next(switched, -math.inf) if on_s is None else on_s

    def _in_volts(self) -> bool:
        return any(t.unit is Unit.VOLT for t in self.traces)

    def _label(self, trace: Trace) -> str:
        if trace.unit is Unit.VOLT or not self._in_volts() or not trace.values.size:
            return trace.channel
        return f"{trace.channel}  {plain(float(trace.values[-1]), trace.unit, 1)}"

    # --- looking ----------------------------------------------------------------------------------------

    def look(self, begin_s: float, end_s: float, dot_s: float) -> None:
        """Find the columns of every curve for a stretch of time, one for each `dot_s`."""
        # The zero before the amplifier was switched on would only take the room.
        counted_s = max(begin_s, self._powered_s() + 2.0)
        volts = self._in_volts()
        looked = []
        for trace in self.traces:
            if trace.channel in self.hidden:
                continue
            index = self._places[trace.channel]
            part = self._followed[trace.channel].columns.between(trace, begin_s, end_s, dot_s)
            shared = trace.unit is Unit.VOLT or not volts
            kind = LineKind.WHOLE if shared else LineKind.DOTTED
            span = shown_span(part, counted_s, end_s)
            looked.append(_Looked(trace, part, span, index, self._label(trace), kind, shared, index))
        for one in self._overlays.values():
            trace = one.followed.trace
            part = one.followed.columns.between(trace, begin_s, end_s, dot_s)
            span = shown_span(part, counted_s, end_s)
            looked.append(_Looked(trace, part, span, one.index, one.label, one.kind, True))
        self._looked = looked

    def curves(self, low: float, high: float) -> tuple[Curve, ...]:
        """The curves, where the scale of all goes from `low` to `high`."""
        curves, scaled = [], []
        for one in self._looked:
            bottom, top = (low, high) if one.shared else _own_scale(one.span)
            colour = shades().trace(one.index)
            curves.append(Curve(one.part, bottom, top, colour, one.label, one.kind, shape=one.shape))
            scaled.append(Scaled(one.trace, bottom, top, colour))
        self.scaled = tuple(scaled)
        return tuple(curves)

    def points(self, at_s: float) -> tuple[tuple[float, float, float, str], ...]:
        """What was read at a moment, as the canvas draws it."""
        return tuple(p for one in self.scaled if (p := one.point(at_s)) is not None)


def _own_scale(span: Span | None) -> Span:
    """Edges for a channel of another unit: it takes the middle of the height."""
    low, high = span if span is not None else (0.0, 1.0)
    room = max(high - low, 1.0) * 0.25
    return low - room, high + 2.0 * room
