"""Boxes and buttons in the program's own drawing: a chooser, and a button that begins something."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from app.windows.lettering import draw_plate, largest_fitting
from app.windows.theme import shades, sized_font
from app.windows.worded import Button, ComboBox

WIDEST = 380  # style pixels: a chooser that would need more writes on two lines


class Chooser(ComboBox):
    """One of several, written on a line as in a form that is filled in by hand."""

    def __init__(self, name: str, parent: QWidget | None = None, letter: float = 19.0) -> None:
        super().__init__(parent)
        self._letter = letter
        self.setAccessibleName(name)
        self.setMinimumHeight(44)
        self.setSizeAdjustPolicy(ComboBox.SizeAdjustPolicy.AdjustToContents)

    def sizeHint(self) -> QSize:
        """As wide as its widest entry, within reason."""
        metrics = QFontMetrics(sized_font(self, self._letter, bold=True))
        widest = max((metrics.horizontalAdvance(self.itemText(i)) for i in range(self.count())), default=60)
        return QSize(min(widest + 60, WIDEST), 46)

    def minimumSizeHint(self) -> QSize:
        """May be shortened."""
        return QSize(min(self.sizeHint().width(), 170), 44)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the words over a line, and a chevron."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colours = shades()
        ink = QColor(colours.ink if self.isEnabled() else colours.muted)
        edge = colours.ring if self.hasFocus() else colours.ink
        painter.fillRect(self.rect(), QColor(colours.raised))
        painter.fillRect(QRectF(0, self.height() - 4, self.width(), 4), QColor(edge))
        if self.hasFocus():
            painter.setPen(QPen(QColor(edge), 2.0))
            painter.drawRect(QRectF(self.rect()).adjusted(1, 1, -1, -1))
        painter.setPen(ink)
        box = QRect(10, 0, self.width() - 46, self.height() - 4)
        # What is too long for one line stands on two, in smaller letters.
        letter = largest_fitting(self, self.currentText(), box, self._letter)
        painter.setFont(sized_font(self, letter, bold=True))
        wrap = Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignVCenter
        painter.drawText(box, int(wrap), self.currentText())
        centre = QPointF(self.width() - 20.0, self.height() / 2.0)
        painter.setPen(QPen(ink, 2.5, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        corners = [centre + QPointF(-7, -4), centre + QPointF(0, 4), centre + QPointF(7, -4)]
        painter.drawPolyline(QPolygonF(corners))
        painter.end()


class GoButton(Button):
    """Begins something; drawn like the big key, with an arrow."""

    def __init__(self, text: str, parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.setMinimumHeight(52)

    def _words(self) -> str:
        return self.text().replace("&&", "\0").replace("&", "").replace("\0", "&")

    def sizeHint(self) -> QSize:
        """Room for words and arrow."""
        return QSize(QFontMetrics(sized_font(self, 19, bold=True)).horizontalAdvance(self._words()) + 74, 52)

    def minimumSizeHint(self) -> QSize:
        """May be shortened to its arrow."""
        return QSize(72, 52)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the plate."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        _, ink = draw_plate(painter, self, 14.0)
        font = sized_font(self, 19, bold=True)
        painter.setPen(QColor(ink))
        painter.setFont(font)
        box = QRectF(self.rect()).adjusted(18, 0, -40, 0)
        words = QFontMetrics(font).elidedText(
            self._words(), Qt.TextElideMode.ElideRight, max(0, int(box.width()))
        )
        painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter), words)
        painter.setPen(QPen(QColor(ink), 3.0, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        tip = QPointF(self.width() - 18.0, self.height() / 2.0)
        painter.drawLine(tip - QPointF(14, 0), tip)
        painter.drawLine(tip - QPointF(6, 6), tip)
        painter.drawLine(tip - QPointF(6, -6), tip)
        painter.end()
