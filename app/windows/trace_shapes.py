"""Four small shapes that tell traces apart without colour: along the line, and before the name at its end."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

SHAPES = 4  # disc, lozenge, triangle, hollow square
SIZE = 9.0  # dots
ROOM = 14.0  # before a name
_LOZENGE = ((0.0, -1.4), (1.2, 0.0), (0.0, 1.4), (-1.2, 0.0))  # in half sizes
_TRIANGLE = ((0.0, -1.3), (1.3, 1.0), (-1.3, 1.0))
_APART = 120.0  # dots between two of one trace, at least; at most twice as many


def draw_shape(painter: QPainter, shape: int, at: QPointF, colour: str, ground: str) -> None:
    """Draw one of the shapes about a place, with a rim of the ground that lifts it off its line."""
    half = SIZE / 2.0
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(QColor(ground), 1.5))
    painter.setBrush(QColor(colour))
    match shape % SHAPES:
        case 0:
            painter.drawEllipse(at, half, half)
        case 1 | 2 as which:
            tips = _LOZENGE if which == 1 else _TRIANGLE
            painter.drawPolygon(QPolygonF([at + QPointF(half * x, half * y) for x, y in tips]))
        case _:
            painter.drawRect(QRectF(at.x() - half, at.y() - half, SIZE, SIZE))
            painter.setPen(QPen(QColor(colour), 2.0))
            painter.setBrush(QColor(ground))
            painter.drawRect(QRectF(at.x() - half + 1.5, at.y() - half + 1.5, SIZE - 3.0, SIZE - 3.0))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)


def marked_columns(
    seconds: NDArray[np.float64], shape: int, begin_s: float, end_s: float, width: float
) -> NDArray[np.intp]:
    """Which columns carry a shape: at round moments, so that they move with the trace; staggered by shape.

    `seconds`, shape (n,), is when the columns begin. A moment at which nothing was read has none.
    """
    step_s = 2.0 ** math.ceil(math.log2(_APART * (end_s - begin_s) / max(width, 1.0)))
    offset_s = step_s * (shape % SHAPES) / SHAPES
    first = math.ceil((begin_s - offset_s) / step_s)
    moments = offset_s + step_s * np.arange(first, math.floor((end_s - offset_s) / step_s) + 1)
    columns = np.searchsorted(seconds, moments)
    inside = columns < len(seconds)
    columns, moments = columns[inside], moments[inside]
    near = seconds[columns] - moments <= step_s / SHAPES
    return np.unique(columns[near & (seconds[columns] <= end_s)])
