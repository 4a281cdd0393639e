"""The cautions before hands go to a unit: one page, and one key of its own that is not the big key."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRect, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import (
    QColor,
    QFontMetrics,
    QKeySequence,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
    QResizeEvent,
    QShortcut,
)
from PySide6.QtWidgets import QSizePolicy, QVBoxLayout, QWidget

from app.language import worded
from app.windows.theme import glove_sheet, shades, sized_font
from app.windows.worded import Button, WordedWidget
from procedures.events import Question

TWO_COLUMNS = 700  # style pixels
SCROLLED_LETTER = 18.0
_WRAP = Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop


class CautionList(WordedWidget):
    """The cautions in two columns, each with a sign, as large as fits."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lines: list[str] = []
        self._scrolling = False
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def show_lines(self, lines: list[str]) -> None:
        """Show these cautions."""
        self._lines = lines
        self._take_height()
        self.setAccessibleName(" ".join(lines))
        self.update()

    def minimumSizeHint(self) -> QSize:
        """Small windows scroll nothing here: the letters become smaller."""
        return QSize(200, 120)

    def set_scrolling(self, scrolling: bool) -> None:
        """Whether the page scrolls: the letters then keep their size, and the list its height."""
        self._scrolling = scrolling
        self._take_height()

    def _take_height(self) -> None:
        if not self._scrolling:
            self.setMinimumHeight(0)
            return
        columns = 1 if self.width() < TWO_COLUMNS else 2
        metrics = QFontMetrics(sized_font(self, SCROLLED_LETTER))
        box = QRect(0, 0, self.width() // columns - 92, 4000)
        high = max(
            (metrics.boundingRect(box, int(_WRAP), worded(t)).height() for t in self._lines), default=0
        )
        self.setMinimumHeight((high + 16) * ((len(self._lines) + columns - 1) // columns))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Narrower lines need more height."""
        super().resizeEvent(event)
        self._take_height()

    def _cells(self) -> list[QRect]:
        columns = 1 if self.width() < TWO_COLUMNS else 2
        rows = (len(self._lines) + columns - 1) // columns
        width, height = self.width() // columns, self.height() // max(1, rows)
        return [
            QRect((i // rows) * width + 64, (i % rows) * height + 8, width - 92, height - 12)
            for i in range(len(self._lines))
        ]

    def _letter(self) -> float:
        for size in (24.0, 22.0, 20.0, 18.0, 16.0, 14.0):
            metrics = QFontMetrics(sized_font(self, size))
            pairs = zip(self._cells(), map(worded, self._lines), strict=True)
            if all(metrics.boundingRect(c, int(_WRAP), t).height() <= c.height() for c, t in pairs):
                return size
        return 13.0

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the cautions."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colours = shades()
        painter.setFont(sized_font(self, self._letter()))
        for cell, text in zip(self._cells(), self._lines, strict=True):
            self._sign(painter, QPointF(cell.left() - 34.0, cell.top() + 18.0))
            painter.setPen(QColor(colours.ink))
            painter.drawText(cell, int(_WRAP), worded(text))
        painter.end()

    def _sign(self, painter: QPainter, centre: QPointF) -> None:
        colours = shades()
        painter.setPen(QPen(QColor(colours.outside), 3.0, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        corners = [centre + QPointF(0, -15), centre + QPointF(17, 14), centre + QPointF(-17, 14)]
        painter.drawPolygon(QPolygonF(corners))
        painter.drawLine(centre + QPointF(0, -5), centre + QPointF(0, 4))
        painter.drawEllipse(QRectF(centre.x() - 0.5, centre.y() + 9.0, 1.0, 1.0))


class CautionPage(QWidget):
    """Shows the run's caution question; `answered` has the form of the answer bar's signal."""

    answered = Signal(str, str, str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._question: Question | None = None
        self._list = CautionList(self)
        self._read = Button(self)
        self.fit_glove()
        self._read.clicked.connect(self._say)
        enter = QShortcut(QKeySequence("Return"), self)  # at once; a button's own shortcut presses late
        enter.setAutoRepeat(False)
        enter.activated.connect(self._say)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(16, 8, 16, 12)
        layout.addWidget(self._list, 1)
        layout.addWidget(self._read, 0, Qt.AlignmentFlag.AlignHCenter)
        self.hide()

    def fit_glove(self) -> None:
        """Take up what a millimetre of the screen is."""
        self._read.setStyleSheet(f"font-size: 22px; font-weight: 600; {glove_sheet()}")

    def set_scrolling(self, scrolling: bool) -> None:
        """Whether it stands on a page that scrolls."""
        self._list.set_scrolling(scrolling)

    @property
    def key(self) -> Button:
        """The key that says they have been read."""
        return self._read

    def show_question(self, question: Question | None) -> None:
        """Show the cautions, or hide the page."""
        if question == self._question:
            return
        self._question = question
        self.setVisible(question is not None)
        if question is None:
            return
        self._list.show_lines(question.text.split("\n"))
        words = question.choices[0].text if question.choices else self.tr("I have read them")
        self._read.setText(self.tr("Enter   {words}").format(words=words))
        self._read.setAccessibleName(words)

    @Slot()
    def _say(self) -> None:
        if self._question is not None and self._question.choices:
            self.answered.emit(self._question.id, self._question.choices[0].key, "")
