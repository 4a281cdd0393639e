"""The traces: readings against elapsed time, with target windows, marks and gaps.

The only module that imports pyqtgraph. Curves, bands and axes are made once for a set of channels and
after that only fed; the values stay in volts, the axes translate. Wide antialiased pens, NaN in the data
and automatic ranges are avoided on purpose: each was measured to be slow or to tell a falsehood.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import PySide6  # noqa: F401  before pyqtgraph, which otherwise looks for another binding first

# isort: split
import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QEvent, QPointF, Qt, QTimer, Slot
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPen, QResizeEvent
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from app.bench.snapshot import Trace
from app.windows.ports import BenchPicture, TraceMark
from app.windows.theme import shades, sized_font
from app.windows.wording import clock, limits
from drivers.reading import Unit
from procedures.analysis.channel import ChannelSetup, ChannelState

RETURN_MS = 12_000  # looking back ends by itself after this long without a touch
LEAST_SPAN_S = 120.0
LOW = 130  # style pixels
SMALL = 13
MARK_LETTERS = 24
TITLE = {"font-size": f"{SMALL}px"}
_FIRST = {"alarm": 0, "note": 1, "supply": 2, "lead": 3, "step": 4, "lid": 5}
_STEPS_S = (1, 5, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800, 86400)


class TimeAxis(pg.AxisItem):  # type: ignore[misc]  # pyqtgraph has no types
    """Elapsed time as m:ss, with a tick on the line for every reading that could not be had."""

    def __init__(self) -> None:
        super().__init__("bottom")
        self.enableAutoSIPrefix(False)
        self.missed: np.ndarray = np.empty(0)
        self.missed_pen = QPen()

    def tickSpacing(self, low: float, high: float, size: float) -> list[tuple[float, float]]:
        """Steps that a clock has; at least 90 dots apart."""
        wanted = (high - low) * 90.0 / max(size, 1.0)
        major = next((s for s in _STEPS_S if s >= wanted), _STEPS_S[-1])
        return [(float(major), 0.0)]

    def tickStrings(self, values: Sequence[float], scale: float, spacing: float) -> list[str]:
        """Elapsed time in words of a clock."""
        return [clock(round(v)) if v >= 0 else "" for v in values]

    def paint(self, p: QPainter, opt: object, widget: object) -> None:
        """Draw the axis, then the missed readings on it."""
        super().paint(p, opt, widget)
        low, high = self.range
        if not self.missed.size or high <= low:
            return
        box = self.boundingRect()
        first, last = np.searchsorted(self.missed, (low, high))
        shown = self.missed[first:last]
        columns = np.unique((shown - low) / (high - low) * self.width())
        p.setPen(self.missed_pen)
        top = self.mapRectFromParent(self.geometry()).top()
        for x in columns[:2000]:
            if box.left() <= x <= box.right():
                p.drawLine(QPointF(x, top - 7.0), QPointF(x, top + 4.0))


class ScaleAxis(pg.AxisItem):  # type: ignore[misc]
    """A value axis in its own unit; `setScale` translates from what the curves hold."""

    def __init__(self, side: str) -> None:
        super().__init__(side)
        self.enableAutoSIPrefix(False)
        self.setWidth(58)

    def tickStrings(self, values: Sequence[float], scale: float, spacing: float) -> list[str]:
        """As many decimals as the spacing of the ticks needs."""
        step = abs(spacing * scale)
        places = max(0, -math.floor(math.log10(step) + 1e-9)) if step > 0.0 else 0
        return [f"{v * scale:.{places}f}" for v in values]


class LivePlot(QWidget):
    """Traces of some channels. Feed it with `show_bench`; it follows the newest reading by itself."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._time_axis = TimeAxis()
        self._left_axis = ScaleAxis("left")
        self._right_axis = ScaleAxis("right")
        axes = {"bottom": self._time_axis, "left": self._left_axis, "right": self._right_axis}
        self._plot = pg.PlotWidget(axisItems=axes, antialias=False)
        self._plot.setMenuEnabled(False)
        self._plot.hideButtons()
        self._plot.setMouseEnabled(x=True, y=False)
        self._plot.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._plot.viewport().setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._plot.getPlotItem().setContentsMargins(0, 4, 0, 0)
        self._box = self._plot.getViewBox()
        self._box.disableAutoRange()
        self._curves: list[pg.PlotDataItem] = []
        self._names: list[pg.TextItem] = []
        self._bands: list[pg.LinearRegionItem] = []
        self._channels: tuple[str, ...] = ()
        self._small = sized_font(self, SMALL)
        for axis in (self._time_axis, self._left_axis, self._right_axis):
            axis.setStyle(tickFont=self._small)
        self._marks: tuple[TraceMark, ...] = ()
        self._mark_items: list[tuple[pg.InfiniteLine, pg.TextItem]] = []
        self._following = True
        self._end_s = 0.0
        self._powered_s = -math.inf
        self._framed: tuple[tuple[Trace, ...], tuple[tuple[float, float], ...]] | None = None
        self._back = QTimer(self)
        self._back.setSingleShot(True)
        self._back.setInterval(RETURN_MS)
        self._back.timeout.connect(self.follow)
        self._box.sigRangeChangedManually.connect(self._touched)
        self._aside = QLabel(self.tr("looking back – returns to now by itself (Home: at once)"), self)
        self._aside.hide()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self._plot)
        self.setMinimumHeight(84)
        self.setAccessibleName(self.tr("Traces of the readings against elapsed time"))
        self.take_shades()

    # --- facts for others -----------------------------------------------------------------------------

    @property
    def following(self) -> bool:
        """Whether the newest reading is kept in view."""
        return self._following

    @property
    def view_range(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """What is in view: session seconds, and the values as they are kept (volts)."""
        (x0, x1), (y0, y1) = self._plot.viewRange()
        return (x0, x1), (y0, y1)

    def drawn(self, index: int) -> tuple[np.ndarray, np.ndarray]:
        """What of a channel is handed to the painter: seconds and values, shapes (n,)."""
        x, y = self._curves[index].getData()
        return np.asarray([] if x is None else x), np.asarray([] if y is None else y)

    def axis_words(self) -> str:
        """The titles of the axes, as they are shown."""
        axes = (self._time_axis, self._left_axis, self._right_axis)
        return " ".join(str(a.labelString()) for a in axes if a.isVisible())

    # --- feeding --------------------------------------------------------------------------------------

    def show_bench(self, picture: BenchPicture) -> None:
        """Draw the traces as they are now. The arrays are referenced, not copied."""
        view = picture.view
        # In the order of the rows, which is what gives a channel its colour; traces come as readings came.
        order = {s.channel: place for place, s in enumerate(view.channels)}
        traces = tuple(sorted(picture.traces, key=lambda t: order.get(t.channel, len(order))))
        if tuple(t.channel for t in traces) != self._channels:
            self._make_curves(traces, picture.setups)
        for curve, trace in zip(self._curves, traces, strict=True):
            curve.setData(trace.seconds, trace.values, connect=trace.joined)
        missed = [t.missed for t in traces if t.missed.size]
        self._time_axis.missed = np.sort(np.concatenate(missed)) if missed else np.empty(0)
        self._time_axis.update()
        by_name = {s.channel: s for s in view.channels}
        windows = [
            limits(s, by_name.get(s.channel, ChannelState(s.channel, view.at_s))) for s in picture.setups
        ]
        for band, window in zip(self._bands, windows, strict=False):
            band.setVisible(window is not None)
            if window is not None:
                band.setRegion(window)
        self._show_marks(picture.marks)
        self._end_s = max(view.at_s, *(float(t.seconds[-1]) for t in traces if t.seconds.size), 0.0)
        switched = (m.at_s for m in picture.marks if m.kind == "supply")
        self._powered_s = next(switched, -math.inf) if view.power_on_s is None else view.power_on_s
        self._framed = traces, tuple(w for w in windows if w is not None)
        self._frame(*self._framed)

    def _make_curves(self, traces: Sequence[Trace], setups: Sequence[ChannelSetup]) -> None:
        self._plot.clear()
        self._mark_items, self._marks = [], ()
        self._curves, self._names, self._bands = [], [], []
        self._channels = tuple(t.channel for t in traces)
        for _ in setups:
            band = pg.LinearRegionItem(orientation="horizontal", movable=False)
            band.setZValue(-20)
            self._plot.addItem(band, ignoreBounds=True)
            self._bands.append(band)
        for _ in traces:
            # About two points a dot: what more there is cannot be seen, and costs ten milliseconds a frame.
            curve = pg.PlotDataItem(antialias=False, autoDownsampleFactor=1.0)
            self._plot.addItem(curve)
            # WORKAROUND pyqtgraph#1854: clipToView only once the curve is in the plot.
            curve.setClipToView(True)
            curve.setDownsampling(auto=True, method="peak")
            self._curves.append(curve)
            name = pg.TextItem(anchor=(0.0, 0.5))
            name.setFont(self._small)
            self._plot.addItem(name, ignoreBounds=True)
            self._names.append(name)
        self._make_axes(traces, setups)
        self.take_shades()

    def _make_axes(self, traces: Sequence[Trace], setups: Sequence[ChannelSetup]) -> None:
        volts = all(t.unit is Unit.VOLT for t in traces)
        self._left_axis.setScale(1000.0 if volts else 1.0)
        self._left_axis.setLabel(
            self.tr("mV") if volts else (traces[0].unit.value if traces else ""), **TITLE
        )
        self._time_axis.setLabel(self.tr("elapsed, min:s"), **TITLE)
        ohms = {s.resistance_ohm for s in setups}
        ohm = ohms.pop() if len(ohms) == 1 else None
        self._plot.getPlotItem().showAxis("right", volts and ohm is not None)
        if volts and ohm is not None:
            self._right_axis.setScale(1000.0 / ohm)
            self._right_axis.setLabel(self.tr("mA"), **TITLE)

    def _show_marks(self, marks: tuple[TraceMark, ...]) -> None:
        if marks[: len(self._marks)] != self._marks:
            for pair in self._mark_items:
                for item in pair:
                    self._plot.removeItem(item)
            self._mark_items, self._marks = [], ()
        for mark in marks[len(self._marks) :]:
            line = pg.InfiniteLine(mark.at_s, angle=90)
            line.setZValue(-10)
            self._plot.addItem(line, ignoreBounds=True)
            words = pg.TextItem(anchor=(0.0, 0.0))
            words.setFont(self._small)
            words.setText(self._mark_words(mark))
            self._plot.addItem(words, ignoreBounds=True)
            self._mark_items.append((line, words))
            self._paint_mark(line, words, mark)
        self._marks = marks

    def _mark_words(self, mark: TraceMark) -> str:
        """Few words: the whole story is beside the readings and in the record."""
        if mark.kind == "alarm":
            return self.tr("alarm")
        text = mark.text or self.tr("mark")
        return text if len(text) <= MARK_LETTERS else f"{text[: MARK_LETTERS - 1]}…"

    def _place_mark_words(self, top: float) -> None:
        """Write the words of as many marks as find room along the upper edge, the telling kinds first."""
        (x0, x1), _ = self.view_range
        metrics = QFontMetrics(self._small)
        dot_s = (x1 - x0) / max(self._plot.width() - 120.0, 100.0)
        taken: list[tuple[float, float]] = []
        order = sorted(range(len(self._marks)), key=lambda i: (_FIRST.get(self._marks[i].kind, 9), i))
        for i in order:
            mark, (_, words) = self._marks[i], self._mark_items[i]
            width = (metrics.horizontalAdvance(self._mark_words(mark)) + 14.0) * dot_s
            place = (mark.at_s, mark.at_s + width)
            free = all(place[1] <= low or high <= place[0] for low, high in taken)
            fits = x0 <= mark.at_s and place[1] <= x1 and free and self.height() >= LOW
            words.setVisible(fits)
            if fits:
                words.setPos(mark.at_s, top)
                taken.append(place)

    def _frame(self, traces: Sequence[Trace], windows: Sequence[tuple[float, float]]) -> None:
        if self._following:
            self._box.setXRange(0.0, self._span_s(), padding=0.0)
        (x0, x1), _ = self.view_range
        lows, highs = [w[0] for w in windows], [w[1] for w in windows]
        for trace in traces:
            # The zero before the amplifier was switched on would only take the room.
            first, last = np.searchsorted(trace.seconds, (max(x0, self._powered_s + 2.0), x1))
            if last > first:
                lows.append(float(trace.values[first:last].min()))
                highs.append(float(trace.values[first:last].max()))
        if not lows:
            lows, highs = [0.0], [0.02]
        # A narrow window in view keeps a still reading from being blown up to a mountain range.
        least = max([*(w[1] - w[0] for w in windows), 0.0002]) * 1.6
        middle, half = (min(lows) + max(highs)) / 2.0, max((max(highs) - min(lows)) * 0.56, least / 2.0)
        # Room above the lines for the words of the marks.
        head = 2.0 * half * 20.0 / max(self._plot.height() - 70.0, 40.0) if self._marks else 0.0
        self._box.setYRange(middle - half, middle + half + head, padding=0.0)
        self._place_names(traces, middle, half)
        self._place_mark_words(middle + half + head)

    def _span_s(self) -> float:
        """What is in view while following: all so far, and room for the names at the end of the lines."""
        metrics = QFontMetrics(self._small)
        names = max((metrics.horizontalAdvance(c) for c in self._channels), default=0) + 10.0
        share = min(0.4, names / max(self._plot.width() - 130.0, 100.0))
        return float(max(LEAST_SPAN_S, self._end_s) / (1.0 - share))

    def _place_names(self, traces: Sequence[Trace], middle: float, half: float) -> None:
        """Write each channel's name at the end of its line; names keep out of each other's way."""
        order = sorted(
            (i for i, t in enumerate(traces) if t.seconds.size), key=lambda i: float(traces[i].values[-1])
        )
        room = 2.0 * half * 15.0 / max(self._plot.height() - 60.0, 60.0)
        last = middle - half - room / 2.0
        for place, i in enumerate(order):
            ceiling = middle + half - room * (len(order) - place - 0.5)
            y = max(min(float(traces[i].values[-1]), ceiling), last + room)
            self._names[i].setText(traces[i].channel)
            self._names[i].setPos(float(traces[i].seconds[-1]), y)
            last = y
        for i, trace in enumerate(traces):
            self._names[i].setVisible(bool(trace.seconds.size))

    # --- looking back ---------------------------------------------------------------------------------

    @Slot(object)
    def _touched(self, _axes: object) -> None:
        self._following = False
        self._aside.adjustSize()
        self._aside.move(76, 6)
        self._aside.show()
        self._back.start()

    @Slot()
    def follow(self) -> None:
        """Come back to the newest reading."""
        self._back.stop()
        self._following = True
        self._aside.hide()
        self._box.setXRange(0.0, self._span_s(), padding=0.0)

    # --- colours --------------------------------------------------------------------------------------

    def take_shades(self) -> None:
        """Take up the colours in force (pyqtgraph does not follow the palette by itself)."""
        colours = shades()
        # A pen is so many dots of the screen wide, however large the desktop draws everything else.
        dots = self._dots = self.devicePixelRatioF()
        self._plot.setBackground(QColor(colours.ground))
        for axis in (self._time_axis, self._left_axis, self._right_axis):
            axis.setPen(pg.mkPen(colours.faint))
            axis.setTextPen(pg.mkPen(colours.muted))
        self._time_axis.missed_pen = pg.mkPen(colours.outside, width=round(2 * dots))
        for index, curve in enumerate(self._curves):
            # Opaque, solid, not antialiased: anything else strokes ten times slower.
            curve.setPen(pg.mkPen(colours.trace(index), width=round(2 * dots)))
            self._names[index].setColor(QColor(colours.trace(index)))
        for band in self._bands:
            band.setBrush(QColor(colours.band))
            for line in band.lines:
                line.setPen(pg.mkPen(colours.inside, width=round(dots)))
        for (line, words), mark in zip(self._mark_items, self._marks, strict=False):
            self._paint_mark(line, words, mark)
        self._aside.setStyleSheet(
            f"background: {colours.accent}; color: {colours.on_accent}; padding: 2px 8px; border-radius: 6px;"
        )

    def _paint_mark(self, line: pg.InfiniteLine, words: pg.TextItem, mark: TraceMark) -> None:
        colours = shades()
        alarm = mark.kind == "alarm"
        style = Qt.PenStyle.SolidLine if mark.kind in ("note", "alarm") else Qt.PenStyle.DotLine
        line.setPen(
            pg.mkPen(
                colours.outside if alarm else colours.faint,
                width=round((2 if alarm else 1) * self._dots),
                style=style,
            )
        )
        words.setColor(QColor(colours.outside if alarm else colours.muted))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """A low plot has no room for the words of marks and of the time axis."""
        super().resizeEvent(event)
        self._time_axis.showLabel(self.height() >= LOW)
        if self._framed is not None:
            self._frame(*self._framed)

    def changeEvent(self, event: QEvent) -> None:
        """Follow a change of palette, and a move to a screen of another scale."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.DevicePixelRatioChange:
            self.take_shades()
        if event.type() in (QEvent.Type.PaletteChange, QEvent.Type.ApplicationPaletteChange):
            self.take_shades()
