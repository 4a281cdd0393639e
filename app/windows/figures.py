"""The digits of the readings: one drawn stroke each, all in cells of one width, at any size.

Drawn rather than set in a font, so that a reading has the same width and the same height in millimetres
whatever fonts a computer has. Digits that carry no information are drawn faint.
"""

from __future__ import annotations

import math
from functools import cache, partial

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPaintEvent, QPen, QTransform
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.windows.drawn_once import Stamps
from app.windows.theme import shades

CELL = 0.66  # width of a digit's cell, in digit heights
DOT_CELL = 0.26
SIGN_CELL = 0.44
STROKE = 0.135
CELLS = SIGN_CELL + 4 * CELL + DOT_CELL  # width of a reading in digit heights


def _six() -> QPainterPath:
    path = QPainterPath(QPointF(0.45, 0.07))
    path.cubicTo(QPointF(0.20, 0.17), QPointF(0.07, 0.40), QPointF(0.07, 0.655))
    path.addEllipse(QRectF(0.07, 0.39, 0.46, 0.54))
    return path


def _strokes(points: tuple[tuple[float, float], ...]) -> QPainterPath:
    path = QPainterPath(QPointF(*points[0]))
    for x, y in points[1:]:
        path.lineTo(x, y)
    return path


@cache
def figure(character: str) -> QPainterPath:
    """The centre line of a digit, dash or point in a box 0.6 wide and 1 high."""
    path = QPainterPath()
    if character == "0":
        path.addRoundedRect(QRectF(0.07, 0.07, 0.46, 0.86), 0.23, 0.23)
    elif character == "1":
        path = _strokes(((0.13, 0.23), (0.33, 0.07), (0.33, 0.93)))
    elif character == "2":
        bow = QRectF(0.07, 0.07, 0.46, 0.46)
        path.arcMoveTo(bow, 175.0)
        path.arcTo(bow, 175.0, -212.0)
        path.lineTo(0.08, 0.93)
        path.lineTo(0.54, 0.93)
    elif character == "3":
        path = _strokes(((0.09, 0.07), (0.50, 0.07), (0.27, 0.40)))
        path.arcTo(QRectF(0.06, 0.40, 0.47, 0.53), 90.0, -250.0)
    elif character == "4":
        path = _strokes(((0.42, 0.93), (0.42, 0.07), (0.05, 0.68), (0.57, 0.68)))
    elif character == "5":
        path = _strokes(((0.50, 0.07), (0.13, 0.07), (0.10, 0.46)))
        path.arcTo(QRectF(0.05, 0.375, 0.48, 0.555), 142.0, -302.0)
    elif character == "6":
        path = _six()
    elif character == "7":
        path = _strokes(((0.07, 0.07), (0.53, 0.07), (0.22, 0.93)))
    elif character == "8":
        path.addEllipse(QRectF(0.11, 0.07, 0.38, 0.37))
        path.addEllipse(QRectF(0.07, 0.44, 0.46, 0.49))
    elif character == "9":
        path = QTransform().translate(0.60, 1.0).rotate(180.0).map(_six())
    elif character in "-–":
        path = _strokes(((0.10, 0.53), (0.50, 0.53)))
    elif character in ".,":
        path = _strokes(((0.10, 0.93), (0.101, 0.93)) if character == "." else ((0.12, 0.86), (0.07, 0.95)))
    return path


def cell_width(character: str, first: bool) -> float:
    """Width of a character's cell in digit heights."""
    if first:
        return SIGN_CELL
    return DOT_CELL if character in ".," else CELL


def uninformative_from(text: str, noise: float | None) -> int:
    """Index of the first digit that is below the noise, in a text as `wording.digits` makes it.

    `noise` is the scatter in the unit shown. A digit counts for nothing when one step of it is smaller
    than the scatter; the digit before the point always counts.
    """
    point = max(text.find("."), text.find(","))
    if noise is None or not math.isfinite(noise) or point < 0:
        return len(text)
    for place in range(1, len(text) - point):
        if 10.0**-place < noise:
            return point + place
    return len(text)


class Figures(QWidget):
    """A reading in drawn digits. The text must come from `wording.digits`."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._text = " ––.––"
        self._faint_from = len(self._text)
        self._aged = False
        self._digit_height = 132.0
        self._stamps = Stamps()
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    @property
    def text(self) -> str:
        """What is shown."""
        return self._text

    @property
    def digit_height(self) -> float:
        """Height of a digit in style pixels."""
        return self._digit_height

    def set_digit_height(self, pixels: float) -> None:
        """Make the digits this high; the widget takes the size that they need."""
        if abs(pixels - self._digit_height) >= 0.5:
            self._digit_height = pixels
            self.updateGeometry()
            self.update()

    def show_text(self, text: str, noise: float | None, aged: bool) -> None:
        """Show a reading; `aged` marks one that is no longer the present state (drawn faint)."""
        wanted = (text, uninformative_from(text, noise), aged)
        if wanted != (self._text, self._faint_from, self._aged):
            self._text, self._faint_from, self._aged = wanted
            self.update()

    def sizeHint(self) -> QSize:
        """The space of a sign, four digits and a point."""
        return QSize(math.ceil(CELLS * self._digit_height), math.ceil(self._digit_height * 1.02))

    def minimumSizeHint(self) -> QSize:
        """See `sizeHint`."""
        return self.sizeHint()

    def _fitting(self) -> float:
        """The height with which every digit is seen: a volt and more has cells for more of them."""
        needed = sum(cell_width(character, index == 0) for index, character in enumerate(self._text))
        return self._digit_height * min(1.0, CELLS / needed)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Lay the digits down on one line; each is drawn once."""
        painter = QPainter(self)
        colours = shades()
        dots, scale = self.devicePixelRatioF(), self._fitting()
        painter.translate(0.0, self._digit_height - scale)
        left = 0.0
        for index, character in enumerate(self._text):
            faint = self._aged or index >= self._faint_from
            colour = colours.faint if faint else colours.ink
            over = 0.04 * scale  # strokes reach out of their cell by as much
            place = QRectF(left - over, 0.0, CELL * scale + over, self.height())
            paint = partial(_paint_digit, character, left, scale, colour)
            self._stamps.press(painter, place, dots, (character, index == 0, scale, colour), paint)
            left += cell_width(character, index == 0) * scale
        painter.end()


def _paint_digit(character: str, left: float, scale: float, colour: str, painter: QPainter) -> None:
    pen = QPen(QColor(colour), STROKE)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    painter.translate(left, 0.0)
    painter.scale(scale, scale)
    if left == 0.0:  # the cell of the sign
        painter.scale(SIGN_CELL / CELL, 1.0)
    painter.setPen(pen)
    painter.drawPath(figure(character))
