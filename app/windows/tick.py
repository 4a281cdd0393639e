"""The tick in a box: a short stroke down and a long one up, so that shape says it and not a filled square."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen
from PySide6.QtWidgets import QCheckBox, QStyle, QStyleOptionButton

from app.windows.theme import shades

_KNEE = ((0.22, 0.52), (0.43, 0.74), (0.80, 0.26))  # shares of the box
_STROKE = 0.15


def draw_tick(painter: QPainter, box: QRectF, colour: str) -> None:
    """Draw a tick into a box."""
    places = [QPointF(box.left() + x * box.width(), box.top() + y * box.height()) for x, y in _KNEE]
    path = QPainterPath(places[0])
    for place in places[1:]:
        path.lineTo(place)
    pen = QPen(QColor(colour), _STROKE * box.width())
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawPath(path)


def indicator_of(box: QCheckBox) -> QRectF:
    """Where the square of a box is."""
    option = QStyleOptionButton()
    box.initStyleOption(option)
    return QRectF(box.style().subElementRect(QStyle.SubElement.SE_CheckBoxIndicator, option, box))


def tick_box(box: QCheckBox) -> None:
    """Draw the tick of a box that is ticked, over what the style has drawn."""
    if box.isChecked():
        colours = shades()
        painter = QPainter(box)
        draw_tick(painter, indicator_of(box), colours.on_accent if box.isEnabled() else colours.muted)
        painter.end()
