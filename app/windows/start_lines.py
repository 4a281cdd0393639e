"""What the start screen is made of: the title beside a level, the sentences, the lists in their boxes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QLayout, QSizePolicy, QVBoxLayout, QWidget

from app.language import worded
from app.windows.flow import Flow
from app.windows.gauge import Level, LevelPicture
from app.windows.start_lists import GROUP_ROLE
from app.windows.theme import shades, sized_font
from app.windows.worded import ComboBox, Label, WordedWidget

if TYPE_CHECKING:
    from app.windows.start_lists import Card

VERBS = 190  # style pixels: the column of the verbs
NARROW = 640


class Title(WordedWidget):
    """The program's name beside a level that rests in its window."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._level = Level(self)
        self._level.show_picture(
            LevelPicture(-0.36, 0.36, "", "", bubble=0.04, bubble_half=0.05, inside=True)
        )
        self._level.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Warmtrim")

    def sizeHint(self) -> QSize:
        """A broad line."""
        return QSize(700, 92)

    def minimumSizeHint(self) -> QSize:
        """Without the level."""
        return QSize(300, 92)

    def resizeEvent(self, event: object) -> None:
        """The level stands at the right."""
        self._level.setVisible(self.width() >= 700)
        self._level.setGeometry(self.width() - 330, 0, 320, 92)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the name and what the program is for."""
        painter = QPainter(self)
        painter.setPen(QColor(shades().ink))
        painter.setFont(sized_font(self, 40, bold=True))
        painter.drawText(QRectF(0, 8, self.width(), 48), Qt.AlignmentFlag.AlignVCenter, "Warmtrim")
        painter.setFont(sized_font(self, 18))
        painter.setPen(QColor(shades().muted))
        words = self.tr("Bias, set where it comes to rest.")
        painter.drawText(QRectF(2, 56, self.width(), 28), Qt.AlignmentFlag.AlignVCenter, worded(words))
        painter.end()


class Line(QWidget):
    """One way to begin, as a sentence: the verb in large letters, and what it is done with."""

    def __init__(self, verb: str, explanation: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        title = Label(verb, self)
        title.setStyleSheet("font-size: 32px; font-weight: 700;")
        title.setFixedWidth(VERBS)
        title.setMinimumHeight(52)
        self._title = title
        self._narrow: bool | None = None
        self._explanation = Label(explanation, self)
        self._explanation.setProperty("role", "quiet")
        self._explanation.setVisible(bool(explanation))
        self._explanation.setWordWrap(True)
        self._rows = QVBoxLayout()
        self._rows.setSpacing(10)
        self._rows.addWidget(self._explanation)
        self._rows.addStretch(1)
        self._row = layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 7, 0, 7)
        layout.addWidget(title, 0, Qt.AlignmentFlag.AlignTop)
        layout.addLayout(self._rows, 1)
        self._set_narrow(False)

    def _set_narrow(self, narrow: bool) -> None:
        """The verb above what is done with it, or beside."""
        if narrow == self._narrow:
            return
        self._narrow = narrow
        way = QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        self._row.setDirection(way)
        self._row.setSpacing(4 if narrow else 38)
        side = Qt.AlignmentFlag.AlignLeft if narrow else Qt.AlignmentFlag.AlignRight
        self._title.setAlignment(side | Qt.AlignmentFlag.AlignVCenter)
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """A narrow window has no room for two columns."""
        super().resizeEvent(event)
        self._set_narrow(self.width() < NARROW)

    def say(self, *parts: QWidget | str | QLayout) -> None:
        """Add a row to the sentence: words and controls in their order."""
        row = Flow(gap=12, line_gap=8)
        for part in parts:
            if isinstance(part, str):
                word = Label(part, self)
                word.setStyleSheet("font-size: 20px;")
                row.addWidget(word)
            elif isinstance(part, QLayout):
                row.addChildLayout(part)
                row.addItem(part)
            else:
                row.addWidget(part)
        self._rows.insertLayout(self._rows.count() - 2, row)

    def paintEvent(self, event: QPaintEvent) -> None:
        """A hairline, and a bead where the verb ends."""
        if self._narrow:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(shades().rule), 2.0))
        painter.drawLine(QPointF(VERBS + 19, 0), QPointF(VERBS + 19, self.height()))
        painter.setPen(QPen(QColor(shades().ink), 2.5))
        painter.setBrush(QColor(shades().ground))
        painter.drawEllipse(QPointF(VERBS + 19, 38), 7, 11)
        painter.end()


def fill(box: ComboBox, cards: tuple[Card, ...], *, detailed: bool = False, prefer: str = "") -> None:
    """Offer the cards in a box; what was chosen stays chosen, else `prefer` is."""
    chosen = box.currentData()
    box.clear()
    for number, card in enumerate(cards):
        box.addItem(f"{card.title} – {card.detail}" if detailed and card.detail else card.title, card.key)
        box.setItemData(number, card.detail, Qt.ItemDataRole.ToolTipRole)
        box.setItemData(number, card.group, GROUP_ROLE)
    for key in (chosen, prefer):
        if key is not None and box.findData(key) >= 0:
            box.setCurrentIndex(box.findData(key))
            return
