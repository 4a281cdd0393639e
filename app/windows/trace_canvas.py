"""The picture inside the axes: windows, traces, marks, names and cursors, in dots of the screen.

Traces are drawn as upright bars one dot wide, as many as there are dots, whatever was recorded; where
readings are further apart than a dot, lines join them. Without colour, what lies beside the traces is told
from them by its kind of line (whole, broken, dotted), and the traces from one another by their shapes. Labels
keep out of each other's way. No pyqtgraph here.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget
from shiboken6 import wrapInstance

from app.bench.columns import Stretch
from app.language import worded
from app.windows.alarm_signs import alarm_word, draw_sign
from app.windows.ports import TraceMark
from app.windows.theme import shades
from app.windows.trace_shapes import ROOM, SIZE, draw_shape, marked_columns

MARK_ROWS = 2
MARK_LETTERS = 24
SIGN = 14.0  # dots: the sign of an alarm
SPIKE = 5.0  # dots: what is higher than this is drawn also where a broken line has a hole
_FIRST = {"alarm": 0, "note": 1, "supply": 2, "lead": 3, "step": 4, "lid": 5}
_LEAST_MARKED_HEIGHT = 100.0

Array = NDArray[np.float64]


class LineKind(Enum):
    """How a curve is drawn: (dots drawn, dots left out); whole lines leave out nothing."""

    WHOLE = (1, 0)
    BROKEN = (14, 8)
    DOTTED = (3, 5)


@dataclass(frozen=True, slots=True)
class Curve:
    """Columns to draw, in the unit they are kept in. `low`, `high`: the values at lower and upper edge.

    `label` is written at the curve's right end; `shape` is what tells it from others without colour.
    """

    columns: Stretch
    low: float
    high: float
    colour: str
    label: str
    kind: LineKind = LineKind.WHOLE
    weight: float = 2.0
    shape: int | None = None


@dataclass(frozen=True, slots=True)
class Cursor:
    """A moment that a person points at, and the values there as (value, low, high, colour)."""

    at_s: float
    name: str
    chosen: bool
    points: tuple[tuple[float, float, float, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Shown:
    """Everything in the picture. `windows`: low and high of each target window, in volts."""

    begin_s: float
    end_s: float
    low: float
    high: float
    curves: tuple[Curve, ...] = ()
    windows: tuple[tuple[float, float], ...] = ()
    marks: tuple[TraceMark, ...] = ()
    cursors: tuple[Cursor, ...] = ()


@dataclass(frozen=True, slots=True)
class PlacedMark:
    """Where a mark's words went: left edge and width in dots, and the row, 0 at the top."""

    mark: TraceMark
    left: float
    width: float
    row: int


def mark_words(mark: TraceMark, bare: str) -> str:
    """Few words: the whole story is beside the readings and in the record."""
    text = worded(alarm_word(mark.tier) if mark.tier is not None else mark.text or bare)
    return text if len(text) <= MARK_LETTERS else f"{text[: MARK_LETTERS - 1]}…"


def _sign_room(mark: TraceMark) -> float:
    return SIGN + 3.0 if mark.tier is not None else 0.0


def bars(columns: Stretch, x: Array, y: tuple[Array, Array, Array], weight: float) -> Array:
    """Upright bars, shape (n, 4): left, top, width, height; each reaches to where the one before ended.

    `x` is where each column is, `y` where its lowest, highest and last value are.
    """
    y_low, y_high, y_last = y
    top, bottom = y_high.copy(), y_low.copy()
    near = columns.joined[:-1] & (x[1:] - x[:-1] <= 1.01)
    top[1:][near] = np.minimum(top[1:], y_last[:-1])[near]
    bottom[1:][near] = np.maximum(bottom[1:], y_last[:-1])[near]
    half = weight / 2.0
    return np.column_stack((x - half, top - half, np.full(len(x), weight), bottom - top + weight))


def joints(columns: Stretch, x: Array, x_last: Array, y_first: Array, y_last: Array) -> Array:
    """Lines across more than a dot, shape (n, 4): from the last of a column to the first of the next."""
    far = np.flatnonzero(columns.joined[:-1] & (x[1:] - x[:-1] > 1.01))
    return np.column_stack((x_last[far], y_last[far], x[far + 1], y_first[far + 1]))


class TraceCanvas(QGraphicsItem):
    """Draws what `show` was given into a place of a given size; its parent says where that is."""

    def __init__(self, parent: QGraphicsItem | None = None) -> None:
        super().__init__(parent)
        self._place = QRectF(0.0, 0.0, 10.0, 10.0)
        self._shown: Shown | None = None
        self.font = QFont()
        self.dots = 1.0  # dots of the screen in a style pixel
        self.bare_words = "mark"
        self.placed: tuple[PlacedMark, ...] = ()
        self.labels: tuple[tuple[str, QRectF], ...] = ()

    def set_place(self, place: QRectF) -> None:
        """Take up another size."""
        if place != self._place:
            self.prepareGeometryChange()
            self._place = place

    def show_picture(self, shown: Shown) -> None:
        """Draw this from now on."""
        self._shown = shown
        self._place_marks(shown)
        self.update()

    def boundingRect(self) -> QRectF:
        """The place."""
        return self._place

    # --- from facts to dots -----------------------------------------------------------------------------

    def x_of(self, at_s: float) -> float:
        """Where a moment is."""
        shown = self._shown
        if shown is None:
            return 0.0
        return self._place.width() * (at_s - shown.begin_s) / (shown.end_s - shown.begin_s)

    def moment_at(self, x: float) -> float:
        """The moment at a place."""
        shown = self._shown
        if shown is None:
            return 0.0
        return shown.begin_s + (shown.end_s - shown.begin_s) * x / max(self._place.width(), 1.0)

    def _y(self, values: Array | float, low: float, high: float) -> Array:
        height = self._place.height()
        return np.clip(height - height * (np.asarray(values) - low) / (high - low), -9.0, height + 9.0)

    # --- drawing ------------------------------------------------------------------------------------------

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """Draw everything, the windows at the back and the cursors in front."""
        shown = self._shown
        if shown is None or shown.end_s <= shown.begin_s:
            return
        painter.setClipRect(self._place)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.setFont(self.font)
        colours = shades()
        for low, high in shown.windows:
            top, bottom = (float(self._y(v, shown.low, shown.high)) for v in (high, low))
            painter.fillRect(QRectF(0.0, top, self._place.width(), bottom - top), QColor(colours.band))
            painter.setPen(QPen(QColor(colours.inside), 1.0))
            for y in (top, bottom):
                painter.drawLine(QLineF(0.0, y, self._place.width(), y))
        self._draw_mark_lines(painter, shown)
        for curve in shown.curves:
            self._draw_curve(painter, shown, curve)
        self._draw_names(painter, shown)
        self._draw_mark_words(painter)
        self._draw_cursors(painter, shown)

    def _draw_curve(self, painter: QPainter, shown: Shown, curve: Curve) -> None:
        columns = curve.columns
        if not len(columns):
            return
        scale = self._place.width() / (shown.end_s - shown.begin_s)
        # Far outside of the picture a line still has the right slope, and the painter's numbers stay small.
        wide = 3.0 * self._place.width()
        x = np.clip((columns.first_s - shown.begin_s) * scale, -wide, 2.0 * wide)
        x_last = np.clip((columns.last_s - shown.begin_s) * scale, -wide, 2.0 * wide)
        y_first, y_last, y_low, y_high = (
            self._y(v, curve.low, curve.high)
            for v in (columns.first, columns.last, columns.low, columns.high)
        )
        x = np.floor(x * self.dots) / self.dots
        upright = bars(columns, x, (y_low, y_high, y_last), curve.weight)
        drawn, left_out = curve.kind.value
        if left_out:
            place = np.floor(x) % (drawn + left_out)
            upright = upright[(place < drawn) | (upright[:, 3] > SPIKE + curve.weight)]
        colour = QColor(curve.colour)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour)
        _draw(painter.drawRects, QRectF, upright)
        slanted = joints(columns, x, x_last, y_first, y_last)
        if len(slanted):
            pen = QPen(colour, curve.weight)
            if left_out:
                pen.setDashPattern([drawn / curve.weight, left_out / curve.weight])
            painter.setPen(pen)
            _draw(painter.drawLines, QLineF, slanted)
        if curve.shape is not None:
            for one in marked_columns(
                columns.first_s, curve.shape, shown.begin_s, shown.end_s, self._place.width()
            ):
                at = QPointF(float(x[one]), float(y_last[one]))
                draw_shape(painter, curve.shape, at, curve.colour, shades().ground)
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _draw_names(self, painter: QPainter, shown: Shown) -> None:
        """Write each label at the end of its line, apart from the others."""
        metrics = QFontMetricsF(self.font)
        room = metrics.height()
        ends: list[tuple[float, float, Curve]] = []
        for curve in shown.curves:
            inside = np.flatnonzero(curve.columns.first_s <= shown.end_s)
            if not curve.label or not inside.size:
                continue
            last = inside[-1]
            x = self.x_of(float(curve.columns.last_s[last])) + 5.0
            ends.append((float(self._y(curve.columns.last[last], curve.low, curve.high)), x, curve))
        ends.sort(key=lambda end: end[0])
        labels: list[tuple[str, QRectF]] = []
        least = 0.0
        for place, (wanted, right, curve) in enumerate(ends):
            most = self._place.height() - room * (len(ends) - place)
            top = max(least, min(wanted - room / 2.0, most))
            label = worded(curve.label)
            lead = ROOM if curve.shape is not None else 0.0
            width = metrics.horizontalAdvance(label) + lead
            box = QRectF(max(4.0, min(right, self._place.width() - width - 2.0)), top, width, room)
            painter.fillRect(box, QColor(shades().ground))
            if curve.shape is not None:
                at = QPointF(box.left() + SIZE / 2.0 + 1.0, box.center().y())
                draw_shape(painter, curve.shape, at, curve.colour, shades().ground)
            painter.setPen(QColor(curve.colour))
            painter.drawText(QPointF(box.left() + lead, top + metrics.ascent()), label)
            labels.append((curve.label, box))
            least = top + room
        self.labels = tuple(labels)

    # --- marks --------------------------------------------------------------------------------------------

    def _place_marks(self, shown: Shown) -> None:
        """Find room for the words of as many marks as possible, the telling kinds first."""
        metrics = QFontMetricsF(self.font)
        placed: list[PlacedMark] = []
        if self._place.height() >= _LEAST_MARKED_HEIGHT:
            taken: list[list[tuple[float, float]]] = [[] for _ in range(MARK_ROWS)]
            inside = [m for m in shown.marks if shown.begin_s <= m.at_s <= shown.end_s]
            for mark in sorted(inside, key=lambda m: (_FIRST.get(m.kind, 9), m.at_s)):
                left = self.x_of(mark.at_s) + 3.0
                width = metrics.horizontalAdvance(self._words(mark)) + 10.0 + _sign_room(mark)
                left = max(0.0, min(left, self._place.width() - width))
                for row, others in enumerate(taken):
                    if all(left + width <= a or b <= left for a, b in others):
                        others.append((left, left + width))
                        placed.append(PlacedMark(mark, left, width, row))
                        break
        self.placed = tuple(placed)

    def _words(self, mark: TraceMark) -> str:
        return mark_words(mark, self.bare_words)

    def _draw_mark_lines(self, painter: QPainter, shown: Shown) -> None:
        colours = shades()
        for mark in shown.marks:
            if shown.begin_s <= mark.at_s <= shown.end_s:
                alarm = mark.kind == "alarm"
                style = Qt.PenStyle.SolidLine if mark.kind in ("note", "alarm") else Qt.PenStyle.DotLine
                colour = QColor(colours.outside if alarm else colours.faint)
                painter.setPen(QPen(colour, 2.0 if alarm else 1.0, style))
                x = self.x_of(mark.at_s)
                painter.drawLine(QLineF(x, 0.0, x, self._place.height()))

    def _draw_mark_words(self, painter: QPainter) -> None:
        """Signs and words; an alarm whose words found no room has its sign at the foot of its line."""
        metrics = QFontMetricsF(self.font)
        colours = shades()
        written = {id(one.mark) for one in self.placed}
        for mark in self._shown.marks if self._shown is not None else ():
            if mark.tier is not None and id(mark) not in written:
                foot = QPointF(self.x_of(mark.at_s), self._place.height() - SIGN / 2.0)
                draw_sign(painter, mark.tier, foot, SIGN, colours.outside)
        for one in self.placed:
            top = one.row * metrics.height()
            text = self._words(one.mark)
            room = _sign_room(one.mark)
            box = QRectF(one.left, top, metrics.horizontalAdvance(text) + 2.0 + room, metrics.height())
            painter.fillRect(box, QColor(colours.ground))
            if one.mark.tier is not None:
                centre = QPointF(one.left + SIGN / 2.0, box.center().y())
                draw_sign(painter, one.mark.tier, centre, SIGN, colours.outside)
            painter.setPen(QColor(colours.outside if one.mark.kind == "alarm" else colours.muted))
            painter.drawText(QPointF(one.left + room, top + metrics.ascent()), text)

    # --- cursors ------------------------------------------------------------------------------------------

    def _draw_cursors(self, painter: QPainter, shown: Shown) -> None:
        metrics = QFontMetricsF(self.font)
        ink = QColor(shades().ink)
        for cursor in shown.cursors:
            x = self.x_of(cursor.at_s)
            painter.setPen(QPen(ink, 2.0 if cursor.chosen else 1.0))
            painter.drawLine(QLineF(x, 0.0, x, self._place.height()))
            for value, low, high, colour in cursor.points:
                y = float(self._y(value, low, high))
                painter.setBrush(QColor(colour))
                painter.drawEllipse(QPointF(x, y), 4.0, 4.0)
            width = metrics.horizontalAdvance(cursor.name) + 8.0
            flag = QRectF(x, self._place.height() - metrics.height(), width, metrics.height())
            painter.fillRect(flag, ink)
            painter.setPen(QColor(shades().ground))
            painter.drawText(QPointF(x + 4.0, flag.top() + metrics.ascent()), cursor.name)
        painter.setBrush(Qt.BrushStyle.NoBrush)


def _draw(drawing: object, kind: type, numbers: Array) -> None:
    """Hand an array to the painter as it lies in memory; objects for each would cost a frame."""
    array = np.ascontiguousarray(numbers, dtype=np.float64)
    if len(array):
        drawing(wrapInstance(array.ctypes.data, kind), len(array))  # type: ignore[operator]
