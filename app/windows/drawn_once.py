"""Pictures that are drawn once and then only laid down, until what they depend on changes.

Antialiased outlines cost milliseconds, and most of what a screen shows is the same in the next frame.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPixmap
from PySide6.QtWidgets import QWidget

MOST_KEPT = 96


def drawn(size: QRectF, dots: float, paint: Callable[[QPainter], None]) -> QPixmap:
    """A transparent picture of a place, in style pixels, at `dots` of the screen to a style pixel."""
    picture = QPixmap(max(1, math.ceil(size.width() * dots)), max(1, math.ceil(size.height() * dots)))
    picture.setDevicePixelRatio(dots)
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.translate(-size.topLeft())
    paint(painter)
    painter.end()
    return picture


class Layer:
    """What lies behind or before the moving parts of a widget, as large as the widget."""

    def __init__(self, widget: QWidget) -> None:
        self._widget = widget
        self._key: Hashable = None
        self._picture: QPixmap | None = None

    def lay(self, painter: QPainter, key: Hashable, paint: Callable[[QPainter], None]) -> None:
        """Lay it down; `paint` draws it where `key`, the size or the screen is another than before."""
        widget = self._widget
        whole = (key, widget.width(), widget.height(), widget.devicePixelRatioF())
        if self._picture is None or whole != self._key:
            self._picture = drawn(QRectF(widget.rect()), widget.devicePixelRatioF(), paint)
            self._key = whole
        painter.drawPixmap(QPointF(0.0, 0.0), self._picture)


class Stamps:
    """Small pictures that come again and again, such as the digits of a reading."""

    def __init__(self) -> None:
        self._kept: dict[Hashable, QPixmap] = {}

    def press(
        self, painter: QPainter, place: QRectF, dots: float, key: Hashable, paint: Callable[[QPainter], None]
    ) -> None:
        """Lay a picture down at a place that begins on a dot; `paint` draws in the painter's coordinates.

        `key` holds all that the picture depends on but the place's fraction of a dot and the screen.
        """
        left = math.floor(place.left() * dots) / dots
        whole = (key, round(place.left() - left, 4), place.width(), place.height(), dots)
        picture = self._kept.get(whole)
        if picture is None:
            if len(self._kept) >= MOST_KEPT:
                self._kept.clear()
            room = QRectF(left, place.top(), place.width() + 2.0, place.height())
            picture = self._kept[whole] = drawn(room, dots, paint)
        painter.drawPixmap(QPointF(left, place.top()), picture)
