"""Words in a picture, and the step between the lines of an axis: shared by traces and curves."""

from __future__ import annotations

import math

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPen

INK = QColor("#1c1c1c")
_PIXELS_A_POINT = 1.35


def nice_step(rough: float) -> float:
    """1, 2 or 5 times a power of ten, not below `rough`."""
    power = 10.0 ** math.floor(math.log10(rough))
    return next((factor * power for factor in (1.0, 2.0, 5.0) if factor * power >= rough), 10.0 * power)


def draw_words(
    painter: QPainter,
    box: QRectF,
    words: str,
    points: int,
    *,
    bold: bool = False,
    colour: QColor | str = INK,
    align: Qt.AlignmentFlag = Qt.AlignmentFlag.AlignLeft,
    wrapped: bool = False,
) -> None:
    """Write in the middle of a box's height, on one line unless `wrapped`; what does not fit is cut."""
    painter.setFont(_font(points, bold))
    painter.setPen(QPen(QColor(colour)))
    wrap = Qt.TextFlag.TextWordWrap if wrapped else Qt.TextFlag.TextSingleLine
    painter.drawText(box, int(align | Qt.AlignmentFlag.AlignVCenter | wrap), words)


def height_of_words(painter: QPainter, words: str, points: int, width: float) -> float:
    """The height that words take on lines of a width, in the painter's units."""
    painter.setFont(_font(points, bold=False))
    room = QRectF(0, 0, width, 10_000)
    return painter.boundingRect(room, int(Qt.TextFlag.TextWordWrap), words).height()


def width_of_words(painter: QPainter, words: str, points: int) -> float:
    """The width of one line of words, in the painter's units."""
    painter.setFont(_font(points, bold=False))
    return painter.boundingRect(QRectF(0, 0, 10_000, 100), int(Qt.TextFlag.TextSingleLine), words).width()


def _font(points: int, bold: bool) -> QFont:
    font = QFont("DejaVu Sans")
    font.setPixelSize(round(points * _PIXELS_A_POINT))
    font.setBold(bold)
    return font
