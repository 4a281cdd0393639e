"""The stations of a visit along a thread: each leads to its part of the sheet and shows if it is blank."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QVBoxLayout, QWidget

from app.windows.theme import shades, sized_font
from app.windows.worded import Button

WIDTH = 196
BEAD = WIDTH - 18
ROOM = BEAD - 18  # for the name
LEAST = 12


class Station(Button):
    """One part of the sheet."""

    def __init__(self, text: str, parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.filled = False
        self.here = False
        self.setFixedWidth(WIDTH)
        self.setStyleSheet("min-height: 20px; padding: 0; border: 0;")
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)

    def sizeHint(self) -> QSize:
        """A line with room around it."""
        return QSize(WIDTH, 44)

    def minimumSizeHint(self) -> QSize:
        """A line."""
        return QSize(WIDTH, 22)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the name, the thread, and a bead that is filled where something is written."""
        colours = shades()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        middle = self.height() / 2.0
        painter.setPen(QPen(QColor(colours.rule), 2.0))
        painter.drawLine(QPointF(BEAD, 0), QPointF(BEAD, self.height()))
        painter.setPen(QColor(colours.ink if self.filled or self.here else colours.muted))
        letter = 19 if self.here else 17
        painter.setFont(sized_font(self, letter, bold=self.here))
        while painter.fontMetrics().horizontalAdvance(self.text().replace("&", "")) > ROOM and letter > LEAST:
            letter -= 1
            painter.setFont(sized_font(self, letter, bold=self.here))
        flags = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight | Qt.TextFlag.TextShowMnemonic
        painter.drawText(QRectF(0, 0, ROOM, self.height()), int(flags), self.text())
        painter.setPen(QPen(QColor(colours.inside if self.filled else colours.ink), 2.5))
        painter.setBrush(QColor(colours.inside if self.filled else colours.ground))
        size = (9.0, 13.0) if self.here else (6.0, 9.0)
        painter.drawEllipse(QPointF(BEAD, middle), size[0], min(size[1], middle - 2.0))
        if self.hasFocus():
            painter.setPen(QPen(QColor(colours.ring), 3.0))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(2, 2, -2, -2), 8, 8)
        painter.end()


class Stations(QWidget):
    """All of them. `gone_to` carries the name of the one that was pressed."""

    gone_to = Signal(str)

    def __init__(self, titles: Mapping[str, str], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        self.stations: dict[str, Station] = {}
        for name, title in titles.items():
            station = Station(title, self)
            station.clicked.connect(self._pressed)
            layout.addWidget(station)
            self.stations[name] = station
        self.setFixedWidth(WIDTH)

    @Slot()
    def _pressed(self) -> None:
        pressed = self.sender()
        for name, station in self.stations.items():
            if station is pressed:
                self.gone_to.emit(name)

    def show_here(self, name: str) -> None:
        """Mark where the sheet stands now."""
        for one, station in self.stations.items():
            if station.here != (one == name):
                station.here = one == name
                station.update()

    def show_filled(self, name: str, filled: bool) -> None:
        """Say whether something is written in a part."""
        station = self.stations[name]
        if station.filled != filled:
            station.filled = filled
            state = self.tr("written") if filled else self.tr("blank")
            station.setAccessibleName(f"{station.english().replace('&', '')}, {state}")
            station.update()
