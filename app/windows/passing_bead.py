"""A bead that goes to and fro on a thread while something is being done whose length is not known."""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QSize, QTimer
from PySide6.QtGui import QColor, QHideEvent, QPainter, QPaintEvent, QPen, QShowEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.windows.theme import shades
from app.windows.worded import WordedWidget

_STEP_MS = 50
_ROUND_S = 2.0  # there and back


class PassingBead(WordedWidget):
    """Moves while it is shown."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._passed_s = 0.0
        self._timer = QTimer(self)
        self._timer.setInterval(_STEP_MS)
        self._timer.timeout.connect(self._move)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(self.tr("Being done"))

    def sizeHint(self) -> QSize:
        """A line."""
        return QSize(300, 24)

    def showEvent(self, event: QShowEvent) -> None:
        """Begin at the left."""
        self._passed_s = 0.0
        self._timer.start()
        super().showEvent(event)

    def hideEvent(self, event: QHideEvent) -> None:
        """Rest."""
        self._timer.stop()
        super().hideEvent(event)

    def _move(self) -> None:
        self._passed_s += _STEP_MS / 1000.0
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the thread and the bead."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colours, middle = shades(), self.height() / 2.0
        painter.setPen(QPen(QColor(colours.faint), 2.0))
        painter.drawLine(QPointF(0, middle), QPointF(self.width(), middle))
        way = 0.5 - 0.5 * math.cos(2.0 * math.pi * self._passed_s / _ROUND_S)
        painter.setPen(QPen(QColor(colours.ink), 2.5))
        painter.setBrush(QColor(colours.accent))
        painter.drawEllipse(QPointF(14 + way * (self.width() - 28), middle), 11, 7)
        painter.end()
