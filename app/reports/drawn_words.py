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
) -> None:
    """Write on one line in the middle of a box's height; what does not fit is cut by the paper's edge."""
    font = QFont("DejaVu Sans")
    font.setPixelSize(round(points * _PIXELS_A_POINT))
    font.setBold(bold)
    painter.setFont(font)
    painter.setPen(QPen(QColor(colour)))
    painter.drawText(box, int(align | Qt.AlignmentFlag.AlignVCenter), words)
