"""The traces: readings against elapsed time, with target windows, marks, gaps and cursors.

The only module that imports pyqtgraph, which gives the axes and the moving about; what is inside them is
drawn by `app.windows.trace_canvas` from the columns of each trace. Values stay in volts, the axes translate.
The view follows the newest reading; a touch stops that for a while, and the plot says so.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence

import PySide6  # noqa: F401  before pyqtgraph, which otherwise looks for another binding first

# isort: split
import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QEvent, QPointF, QRectF, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPen, QResizeEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.bench.snapshot import Trace
from app.language import worded
from app.windows.number_sign import signed
from app.windows.ports import BenchPicture
from app.windows.theme import shades, sized_font
from app.windows.trace_canvas import Cursor, Shown, TraceCanvas
from app.windows.trace_cursors import Cursors, cursor_words
from app.windows.trace_scene import Overlay, TraceScene
from app.windows.trace_shapes import ROOM
from app.windows.worded import Label, WordedWidget
from app.windows.wording import clock, shown_unit
from drivers.reading import Unit
from procedures.analysis.channel import ChannelSetup

RETURN_MS = 12_000  # looking back ends by itself after this long without a touch
LEAST_SPAN_S = 120.0
LEAST_ZOOM_S = 2.0
LOW = 130  # style pixels
SMALL = 13
TITLE = {"font-size": f"{SMALL}px"}
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
        return [signed(f"{v * scale:.{places}f}") for v in values]


class LivePlot(WordedWidget):
    """Traces of some channels. Feed it with `show_bench`; it follows the newest reading by itself."""

    cursors_changed = Signal()

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
        self._box.setLimits(minXRange=LEAST_ZOOM_S)
        self._small = sized_font(self, SMALL)
        for axis in (self._time_axis, self._left_axis, self._right_axis):
            axis.setStyle(tickFont=self._small)
        self._canvas = TraceCanvas(self._box)
        self._canvas.font = self._small
        self._canvas.setZValue(5)
        self._canvas.bare_words = self.tr("mark")
        self._scene = TraceScene()
        self._shown: Shown | None = None
        self._framing = False
        self._following = True
        self._cursors = Cursors()
        self._back = QTimer(self)
        self._back.setSingleShot(True)
        self._back.setInterval(RETURN_MS)
        self._back.timeout.connect(self.follow)
        self._box.sigRangeChangedManually.connect(self._touched)
        self._box.sigXRangeChanged.connect(self._range_changed)
        self._box.sigResized.connect(self._resized)
        self._plot.scene().sigMouseClicked.connect(self._clicked)
        self._arrange()
        self.setMinimumHeight(84)
        self.setAccessibleName(self.tr("Traces of the readings against elapsed time"))
        self.take_shades()

    def _arrange(self) -> None:
        self._aside = Label(self.tr("looking back – returns to now by itself (Home: at once)"), self)
        self._aside.hide()
        self._read_out = Label(self)
        self._read_out.setFont(self._small)
        self._read_out.setContentsMargins(62, 0, 8, 2)
        self._read_out.hide()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self._plot, 1)
        layout.addWidget(self._read_out, 0)

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

    @property
    def canvas(self) -> TraceCanvas:
        """What is drawn inside the axes."""
        return self._canvas

    @property
    def shown(self) -> Shown | None:
        """What the canvas was given last."""
        return self._shown

    @property
    def cursors(self) -> Cursors:
        """The moments that a person points at."""
        return self._cursors

    @property
    def read_out(self) -> str:
        """What the cursors say, in words."""
        return self._read_out.text() if self._cursors.placed else ""

    @property
    def aside(self) -> str:
        """What is said while the newest reading is not followed."""
        return self._aside.text() if self._aside.isVisibleTo(self) else ""

    def axis_words(self) -> str:
        """The titles of the axes, as they are shown."""
        axes = (self._time_axis, self._left_axis, self._right_axis)
        return " ".join(str(a.labelString()) for a in axes if a.isVisible())

    # --- feeding --------------------------------------------------------------------------------------

    def show_bench(self, picture: BenchPicture) -> None:
        """Draw the traces as they are now. The arrays are referenced, not copied."""
        if self._scene.take(picture):
            self._make_axes(self._scene.traces, picture.setups)
        missed = [t.missed for t in self._scene.traces if t.missed.size]
        fresh = np.sort(np.concatenate(missed)) if missed else np.empty(0)
        if len(fresh) != len(self._time_axis.missed):
            self._time_axis.missed = fresh
            self._time_axis.update()
        self._frame()

    def lay_beside(self, fresh: dict[str, Overlay], gone: set[str], hidden: frozenset[str]) -> None:
        """Draw other curves beside the traces, drop some, and leave some channels out."""
        for name in gone:
            self._scene.overlay(name, None)
        for name, overlay in fresh.items():
            self._scene.overlay(name, overlay)
        self._scene.hidden = hidden
        self._frame()

    def _make_axes(self, traces: Sequence[Trace], setups: Sequence[ChannelSetup]) -> None:
        volts = any(t.unit is Unit.VOLT for t in traces) or not traces
        self._left_axis.setScale(1000.0 if volts else 1.0)
        self._left_axis.setLabel(worded(shown_unit(Unit.VOLT if volts else traces[0].unit)), **TITLE)
        self._time_axis.setLabel(worded(self.tr("elapsed, min:s")), **TITLE)
        ohms = {s.resistance_ohm for s in setups if s.unit is Unit.VOLT}
        ohm = ohms.pop() if len(ohms) == 1 else None
        self._plot.getPlotItem().showAxis("right", volts and ohm is not None)
        if volts and ohm is not None:
            self._right_axis.setScale(1000.0 / ohm)
            self._right_axis.setLabel(worded(self.tr("mA")), **TITLE)

    def redraw_axes(self) -> None:
        """Write the figures at the axes anew, such as with another decimal sign."""
        for axis in (self._left_axis, self._right_axis):
            axis.picture = None
            axis.update()

    # --- what is in view --------------------------------------------------------------------------------

    def _frame(self) -> None:
        """Find what is in view and hand it to the canvas."""
        scene = self._scene
        if scene.picture is None or self._framing:
            return
        self._framing = True
        try:
            if self._following:
                self._keep_up()
            (x0, x1), _ = self.view_range
            dot_s = (x1 - x0) / max(self._canvas.boundingRect().width() * self._canvas.dots, 10.0)
            scene.look(x0, x1, dot_s)
            low, high = self._values_in_view(scene.spans)
            curves = scene.curves(low, high)
            self._shown = Shown(x0, x1, low, high, curves, scene.windows, scene.picture.marks)
            self._show_cursors()
        finally:
            self._framing = False

    def _keep_up(self) -> None:
        """Keep all so far in view; the range moves in steps, because axes cost more than traces."""
        needed = self._needed_s()
        (x0, x1), _ = self.view_range
        if x0 != 0.0 or x1 < needed or x1 > 1.1 * needed:
            slack = 1.02 if self._scene.end_s > LEAST_SPAN_S else 1.0
            self._box.setXRange(0.0, needed * slack, padding=0.0)

    def _values_in_view(self, spans: Sequence[tuple[float, float]]) -> tuple[float, float]:
        """The values at both edges; they change only when something leaves or much room is left."""
        lows = [s[0] for s in (*spans, *self._scene.windows)] or [0.0]
        highs = [s[1] for s in (*spans, *self._scene.windows)] or [0.02]
        # A narrow window in view keeps a still reading from being blown up to a mountain range.
        least = max([*(w[1] - w[0] for w in self._scene.windows), 0.0002]) * 1.6
        middle, half = (min(lows) + max(highs)) / 2.0, max((max(highs) - min(lows)) * 0.56, least / 2.0)
        # Room above the lines for the words of the marks.
        marked = self._scene.picture is not None and bool(self._scene.picture.marks)
        head = 2.0 * half * 38.0 / max(self._plot.height() - 70.0, 60.0) if marked else 0.0
        low, high = middle - half, middle + half + head
        _, (y0, y1) = self.view_range
        holds = y0 <= min(lows) and max(highs) + head <= y1
        if not holds or y1 - y0 > 1.25 * (high - low):
            self._box.setYRange(low, high, padding=0.0)
        _, edges = self.view_range
        return edges

    def _needed_s(self) -> float:
        """What is in view while following: all so far, and room for the names at the end of the lines."""
        metrics = QFontMetrics(self._small)
        names = (
            max((metrics.horizontalAdvance(worded(c)) for c in self._scene.labels), default=0) + 14.0 + ROOM
        )
        share = min(0.4, names / max(self._plot.width() - 130.0, 100.0))
        return float(max(LEAST_SPAN_S, self._scene.end_s) / (1.0 - share))

    # --- moving about -----------------------------------------------------------------------------------

    @Slot(object)
    def _touched(self, _axes: object = None) -> None:
        self._following = False
        self._aside.adjustSize()
        self._aside.move(76, 6)
        self._aside.raise_()
        self._aside.show()
        self._back.start()

    @Slot(object, object)
    def _range_changed(self, _box: object, _range: object) -> None:
        self._frame()

    @Slot()
    def follow(self) -> None:
        """Come back to the newest reading."""
        self._back.stop()
        self._following = True
        self._aside.hide()
        self._box.setXRange(0.0, self._needed_s(), padding=0.0)
        self._frame()

    def zoom(self, factor: float) -> None:
        """Show `factor` times as long a stretch, about the chosen cursor or else the newest reading."""
        (x0, x1), _ = self.view_range
        about = self._cursors.chosen_s if self._cursors.placed else min(self._scene.end_s, x1)
        about = min(max(about, x0), x1)
        self._touched()
        self._box.setXRange(about - (about - x0) * factor, about + (x1 - about) * factor, padding=0.0)

    def pan(self, share: float) -> None:
        """Move by a share of what is in view, to later times where positive."""
        (x0, x1), _ = self.view_range
        by = min(max((x1 - x0) * share, -x0 - 0.5 * (x1 - x0)), max(self._scene.end_s - x0, 0.0))
        self._touched()
        self._box.setXRange(x0 + by, x1 + by, padding=0.0)

    # --- cursors ----------------------------------------------------------------------------------------

    def next_cursor(self) -> None:
        """The first cursor at the newest reading, then a second beside it, then none."""
        (x0, x1), _ = self.view_range
        self._cursors.next(min(self._scene.end_s, x1), (x1 - x0) / 8.0)
        self._show_cursors()

    def swap_cursors(self) -> None:
        """Let the keys move the other one."""
        self._cursors.swap()
        self._show_cursors()

    def move_cursor(self, share: float) -> None:
        """Move the chosen cursor by a share of what is in view; where there is none, place it."""
        (x0, x1), _ = self.view_range
        if not self._cursors.placed:
            self.next_cursor()
        self._cursors.move(share * (x1 - x0), 0.0, self._scene.end_s)
        if not self._following:
            self._back.start()
        self._show_cursors()

    @Slot(object)
    def _clicked(self, event: object) -> None:
        where = self._box.mapFromScene(event.scenePos())  # type: ignore[attr-defined]
        if not self._box.rect().contains(where):
            return
        shift = event.modifiers() & Qt.KeyboardModifier.ShiftModifier  # type: ignore[attr-defined]
        other = bool(shift) or event.button() == Qt.MouseButton.RightButton  # type: ignore[attr-defined]
        self._cursors.put(min(max(self._canvas.moment_at(where.x()), 0.0), self._scene.end_s), other)
        if not self._following:
            self._back.start()
        self._show_cursors()

    def _show_cursors(self) -> None:
        """Hand the picture with the cursors to the canvas, and put into words what they point at."""
        picture = self._scene.picture
        if self._shown is None or picture is None:
            return
        drawn = tuple(
            Cursor(
                at_s, name, chosen, tuple(p for s in self._scene.scaled if (p := s.point(at_s)) is not None)
            )
            for at_s, name, chosen in self._cursors.all()
        )
        self._shown = dataclasses.replace(self._shown, cursors=drawn)
        self._canvas.show_picture(self._shown)
        if bool(drawn) != self._read_out.isVisibleTo(self):
            self._read_out.setVisible(bool(drawn))
            self.cursors_changed.emit()
        if drawn:
            words = cursor_words(self._cursors, self._scene.traces, picture)
            if words != self._read_out.english():
                self._read_out.setText(words)
                self._read_out.setAccessibleName(words)

    # --- colours and size -------------------------------------------------------------------------------

    def take_shades(self) -> None:
        """Take up the colours in force (pyqtgraph does not follow the palette by itself)."""
        colours = shades()
        # A pen is so many dots of the screen wide, however large the desktop draws everything else.
        dots = self._canvas.dots = self.devicePixelRatioF()
        self._plot.setBackground(QColor(colours.ground))
        for axis in (self._time_axis, self._left_axis, self._right_axis):
            axis.setPen(pg.mkPen(colours.faint))
            axis.setTextPen(pg.mkPen(colours.muted))
        self._time_axis.missed_pen = pg.mkPen(colours.outside, width=round(2 * dots))
        self._aside.setStyleSheet(
            f"background: {colours.accent}; color: {colours.on_accent}; padding: 2px 8px; border-radius: 6px;"
        )
        self._frame()

    @Slot(object)
    def _resized(self, _box: object = None) -> None:
        self._canvas.set_place(QRectF(self._box.rect()))
        self._frame()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """A low plot has no room for the title of the time axis."""
        super().resizeEvent(event)
        self._time_axis.showLabel(self.height() >= LOW)
        self._frame()

    def changeEvent(self, event: QEvent) -> None:
        """Follow a change of palette, and a move to a screen of another scale."""
        super().changeEvent(event)
        if event.type() is QEvent.Type.LanguageChange and self._scene.picture is not None:
            self._make_axes(self._scene.traces, self._scene.picture.setups)
        if event.type() in (
            QEvent.Type.DevicePixelRatioChange,
            QEvent.Type.PaletteChange,
            QEvent.Type.ApplicationPaletteChange,
        ):
            self.take_shades()
