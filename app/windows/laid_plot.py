"""The plot of several sessions' traces, each over the minutes since its own power-on.

It is moved about by the keys of the working screen's traces, by the wheel and by dragging.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
    QWheelEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.bench.snapshot import Trace
from app.language import worded
from app.reports.drawn_words import nice_step
from app.windows.laid_view import LaidView
from app.windows.theme import shades, sized_font
from app.windows.trace_cursors import Cursors, value_at
from app.windows.trace_deeds import FAR
from app.windows.worded import WordedWidget
from app.windows.wording import shown_number, shown_unit
from drivers.reading import Unit

# Whole, broken, dotted, both: with four hues each of eight sessions has a line of its own.
_DASHES: tuple[tuple[float, ...], ...] = ((), (7.0, 4.0), (1.5, 3.0), (8.0, 3.0, 1.5, 3.0))
_STRETCHES = 900
LEFT, RIGHT, TOP, BOTTOM = 78.0, 14.0, 14.0, 44.0
_DRAGGED = 4.0  # dots; less is a click
_WHEEL = 0.8


class LaidPlot(WordedWidget):
    """Draws one channel of all sessions. `moved`: another stretch is in view, or a cursor moved."""

    moved = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._traces: tuple[tuple[int, Trace], ...] = ()
        self.view = LaidView()
        self.cursors = Cursors()
        self._pressed: float | None = None
        self._dragging = False
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def sizeHint(self) -> QSize:
        """Broad."""
        return QSize(900, 420)

    def show_traces(self, traces: Sequence[tuple[int, Trace]]) -> None:
        """Draw these, each with the number of its session."""
        self._traces = tuple((n, t) for n, t in traces if len(t.values) and t.seconds[-1] > 0.0)
        self.setAccessibleName(f"{len(self._traces)} traces over minutes since power-on")
        self.view.end_s = max((float(t.seconds[-1]) for _, t in self._traces), default=0.0)
        self.view.pan(0.0)  # no further than these go
        self._changed()

    def trace_of(self, number: int) -> Trace | None:
        """The trace of a session that is drawn."""
        return next((t for n, t in self._traces if n == number), None)

    # --- moving about -----------------------------------------------------------------------------------

    def show_all(self) -> None:
        """All of it again."""
        self.view.show_all()
        self._changed()

    def zoom(self, factor: float, about_s: float | None = None) -> None:
        """Look closer or wider, about a moment, else the chosen cursor, else the middle."""
        begin, end = self.view.span
        if about_s is None:
            about_s = self.cursors.chosen_s if self.cursors.placed else (begin + end) / 2.0
        self.view.zoom(factor, about_s)
        self._changed()

    def pan(self, share: float) -> None:
        """Move by a share of what is in view."""
        self.view.pan(share)
        self._changed()

    def next_cursor(self) -> None:
        """One cursor in the middle, then a second before it, then none."""
        begin, end = self.view.span
        self.cursors.next((begin + end) / 2.0, (end - begin) / 8.0)
        self._changed()

    def swap_cursors(self) -> None:
        """Let the keys move the other one."""
        self.cursors.swap()
        self._changed()

    def move_cursor(self, share: float) -> None:
        """Move the chosen cursor by a share of what is in view; where there is none, place it."""
        begin, end = self.view.span
        if not self.cursors.placed:
            self.next_cursor()
        self.cursors.move(share * (end - begin), 0.0, self.view.end_s)
        self._changed()

    def _changed(self) -> None:
        self.update()
        self.moved.emit()

    def _frame(self) -> QRectF:
        return QRectF(LEFT, TOP, self.width() - LEFT - RIGHT, self.height() - TOP - BOTTOM)

    def moment_at(self, x: float) -> float:
        """The second since power-on that stands at a place across the widget."""
        begin, end = self.view.span
        frame = self._frame()
        return begin + (x - frame.left()) / max(frame.width(), 1.0) * (end - begin)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Closer and wider about the pointer; sideways, earlier and later."""
        turned = event.angleDelta()
        if turned.y():
            self.zoom(_WHEEL ** (turned.y() / 120.0), self.moment_at(event.position().x()))
        elif turned.x():
            self.pan(-turned.x() / 120.0 * FAR)
        event.accept()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Begin to drag, or to click."""
        self._pressed, self._dragging = event.position().x(), False

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Take what is in view along."""
        x = event.position().x()
        if self._pressed is None or not (self._dragging or abs(x - self._pressed) > _DRAGGED):
            return
        self._dragging = True
        self.pan((self._pressed - x) / max(self._frame().width(), 1.0))
        self._pressed = x

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """A click places a cursor; with Shift or the other button, the second."""
        clicked = self._pressed is not None and not self._dragging
        self._pressed = None
        if clicked and self._traces and self._frame().contains(event.position()):
            shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
            at_s = min(max(self.moment_at(event.position().x()), 0.0), self.view.end_s)
            self.cursors.put(at_s, shift or event.button() == Qt.MouseButton.RightButton)
            self._changed()

    # --- drawing ----------------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw axes and lines."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(shades().raised))
        painter.setFont(sized_font(self, 14))
        frame = self._frame()
        if self._traces:
            self._draw(painter, frame)
        else:
            painter.setPen(QColor(shades().ink))
            words = worded("No session has readings of this channel after its power-on.")
            painter.drawText(frame, int(Qt.AlignmentFlag.AlignCenter), words)
        painter.end()

    def _draw(self, painter: QPainter, frame: QRectF) -> None:
        unit = self._traces[0][1].unit
        begin, end = (moment / 60.0 for moment in self.view.span)
        low, high = self._values(unit)
        pad = max(high - low, abs(high) * 0.05 if self.view.whole else 0.0, 0.01) * 0.08
        low, high = low - pad, high + pad
        self._axes(painter, frame, (low, high), (begin, end), unit)
        painter.setClipRect(frame)
        for number, trace in self._traces:
            painter.setPen(line_pen(number))
            self._line(painter, frame, trace, (low, high), (begin, end))
        painter.setClipping(False)
        for at_s, name, chosen in self.cursors.all():
            self._cursor(painter, frame, (low, high), at_s, name, chosen=chosen)

    def _values(self, unit: Unit) -> tuple[float, float]:
        """The lowest and highest that is shown, in the unit of the axis."""
        begin, end = self.view.span
        inside = [
            t.values[(t.seconds > 0.0) & (t.seconds >= begin) & (t.seconds <= end)] for _, t in self._traces
        ]
        shown = [values for values in inside if len(values)]
        if not shown:
            return 0.0, 1.0
        if not self.view.whole:
            low = min(float(values.min()) for values in shown)
            return shown_number(low, unit), shown_number(max(float(v.max()) for v in shown), unit)
        # Not from the very least: what is switched off reads zero, and would flatten all the rest.
        low = shown_number(min(float(np.quantile(values, 0.03)) for values in shown), unit)
        high = shown_number(max(float(np.quantile(values, 0.997)) for values in shown), unit)
        return low, high

    def _cursor(
        self,
        painter: QPainter,
        frame: QRectF,
        span: tuple[float, float],
        at_s: float,
        name: str,
        *,
        chosen: bool,
    ) -> None:
        """A line across at a moment in view, its name, and a ring at what each trace reads there."""
        (begin, end), (low, high) = self.view.span, span
        if not begin <= at_s <= end:
            return
        x = frame.left() + (at_s - begin) / (end - begin) * frame.width()
        ink = QColor(shades().ink)
        painter.setPen(
            QPen(ink, 2.0 if chosen else 1.2, Qt.PenStyle.SolidLine if chosen else Qt.PenStyle.DashLine)
        )
        painter.drawLine(QPointF(x, frame.top()), QPointF(x, frame.bottom()))
        painter.drawText(QPointF(x + 5.0, frame.top() + 16.0), name)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for number, trace in self._traces:
            value = value_at(trace, at_s)
            if value is not None:
                y = frame.bottom() - (shown_number(value, trace.unit) - low) / (high - low) * frame.height()
                painter.setPen(QPen(QColor(shades().trace(number)), 2.0))
                painter.drawEllipse(QPointF(x, y), 5.0, 5.0)

    def _axes(
        self,
        painter: QPainter,
        frame: QRectF,
        span: tuple[float, float],
        minutes: tuple[float, float],
        unit: Unit,
    ) -> None:
        colours = shades()
        low, high = span
        step = nice_step((high - low) / max(2.0, frame.height() / 70.0))
        decimals = max(0, -math.floor(math.log10(step)))
        value = math.ceil(low / step) * step
        while value <= high:
            y = frame.bottom() - (value - low) / (high - low) * frame.height()
            painter.setPen(QPen(QColor(colours.rule), 1.0))
            painter.drawLine(QPointF(frame.left(), y), QPointF(frame.right(), y))
            painter.setPen(QColor(colours.ink))
            words = QRectF(0, y - 10, LEFT - 8, 20)
            painter.drawText(
                words,
                int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter),
                f"{value:.{decimals}f}",
            )
            value += step
        begin, end = minutes
        step = nice_step((end - begin) / max(2.0, frame.width() / 110.0))
        for n in range(math.ceil(begin / step - 1e-9), int(end / step + 1e-9) + 1):
            x = frame.left() + (n * step - begin) / (end - begin) * frame.width()
            painter.setPen(QPen(QColor(colours.rule), 1.0))
            painter.drawLine(QPointF(x, frame.top()), QPointF(x, frame.bottom()))
            painter.setPen(QColor(colours.ink))
            box = QRectF(x - 40, frame.bottom() + 3, 80, 18)
            painter.drawText(box, int(Qt.AlignmentFlag.AlignHCenter), f"{n * step:.6g}")
        box = QRectF(frame.left(), frame.bottom() + 21, frame.width(), 20)
        painter.drawText(box, int(Qt.AlignmentFlag.AlignRight), worded("minutes since power-on"))
        above = QRectF(0, 0, LEFT - 8, TOP - 2)
        painter.drawText(above, int(Qt.AlignmentFlag.AlignRight), shown_unit(unit))
        painter.setPen(QPen(QColor(colours.ink), 2.0))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(frame)

    def _line(
        self,
        painter: QPainter,
        frame: QRectF,
        trace: Trace,
        span: tuple[float, float],
        minutes: tuple[float, float],
    ) -> None:
        """Broken where readings are not joined; of many, the least and the most of each stretch."""
        (low, high), (begin, end) = span, minutes
        # One reading beyond each edge, so that lines lead out of the frame.
        first = max(
            int(np.searchsorted(trace.seconds, 0.0, "right")),
            int(np.searchsorted(trace.seconds, 60.0 * begin)) - 1,
        )
        after = np.arange(
            first, min(int(np.searchsorted(trace.seconds, 60.0 * end, "right")) + 1, len(trace.seconds))
        )
        if not len(after):
            return
        for piece in np.split(after, np.flatnonzero(~trace.joined[after[:-1]]) + 1):
            points = [
                QPointF(
                    frame.left() + (float(trace.seconds[i]) / 60.0 - begin) / (end - begin) * frame.width(),
                    frame.bottom()
                    - (shown_number(float(trace.values[i]), trace.unit) - low)
                    / (high - low)
                    * frame.height(),
                )
                for i in _thinned(piece, trace)
            ]
            if len(points) == 1:
                painter.drawEllipse(points[0], 1.5, 1.5)
            else:
                painter.drawPolyline(QPolygonF(points))


def _thinned(piece: np.ndarray, trace: Trace) -> np.ndarray:
    if len(piece) <= 2 * _STRETCHES:
        return piece
    kept = [piece[:1], piece[-1:]]
    for stretch in np.array_split(piece, _STRETCHES):
        values = trace.values[stretch]
        kept.append(stretch[[int(values.argmin()), int(values.argmax())]])
    return np.unique(np.concatenate(kept))


def line_pen(number: int) -> QPen:
    """How the line of a session is drawn."""
    pen = QPen(QColor(shades().trace(number)), 2.4)
    dashes = _DASHES[(number + number // 4) % len(_DASHES)]
    if dashes:
        pen.setDashPattern(list(dashes))
    return pen
