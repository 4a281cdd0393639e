"""The sections of a form at its left: which one is shown, and in which something is to be put right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPen
from PySide6.QtWidgets import (
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from app.language import worded
from app.windows.theme import shades, sized_font
from app.windows.worded import List, list_item

HEIGHT = 44
_COUNT = int(Qt.ItemDataRole.UserRole)


class _SectionPainter(QStyledItemDelegate):
    """A section as a bead on a thread; what is to be put right in it as a number beside it."""

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        """One height for all."""
        return QSize(180, HEIGHT)

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """Draw one section."""
        colours, widget = shades(), option.widget
        box = QRectF(option.rect)
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        wrong = int(index.data(_COUNT) or 0)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if chosen:
            painter.fillRect(box, QColor(colours.raised))
        x = box.right() - 22.0
        painter.setPen(QPen(QColor(colours.rule), 2.0))
        painter.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))
        painter.setPen(QPen(QColor(colours.outside if wrong else colours.ink), 2.5))
        painter.setBrush(QColor(colours.ground if wrong or not chosen else colours.ink))
        painter.drawEllipse(QPointF(x, box.center().y()), 7.0, 11.0)
        painter.setFont(sized_font(widget, 17, bold=chosen))
        painter.setPen(QColor(colours.ink))
        words = QRectF(box.left() + 10, box.top(), box.width() - (74 if wrong else 44), box.height())
        text = str(index.data())
        middle = Qt.AlignmentFlag.AlignVCenter
        flags = middle | Qt.AlignmentFlag.AlignRight
        if painter.fontMetrics().horizontalAdvance(text) > words.width():  # in two lines
            painter.setFont(sized_font(widget, 15, bold=chosen))
            flags |= Qt.TextFlag.TextWordWrap
        painter.drawText(words, int(flags), text)
        if wrong:
            painter.setPen(QColor(colours.outside))
            painter.setFont(sized_font(widget, 15, bold=True))
            count = QRectF(x - 40, box.top(), 28, box.height())
            painter.drawText(count, int(middle | Qt.AlignmentFlag.AlignRight), f"{wrong}")
        if chosen and widget is not None and widget.hasFocus():
            painter.setPen(QPen(QColor(colours.traces[0]), 3.0))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(box.adjusted(2, 2, -2, -2))
        painter.restore()


class SectionList(List):
    """The sections; the row that is chosen is the page that is shown."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setItemDelegate(_SectionPainter(self))
        self.setFixedWidth(236)
        self.setStyleSheet("QListWidget { background: transparent; border: 0; padding: 0; }")
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName(self.tr("Sections"))

    def show_titles(self, titles: Sequence[str], row: int) -> None:
        """Show other sections, with one of them chosen."""
        self.blockSignals(True)
        self.clear()
        for title in titles:
            self.addItem(list_item(title))
        self.setCurrentRow(row)
        self.blockSignals(False)

    def show_counts(self, counts: Mapping[int, int]) -> None:
        """Say how many things are to be put right in each section."""
        for number in range(self.count()):
            item, wrong = self.item(number), counts.get(number, 0)
            if item.data(_COUNT) != wrong:
                item.setData(_COUNT, wrong)
                said = f"{item.text()}: {worded(self.tr('{n} to put right').format(n=wrong))}"
                item.setData(Qt.ItemDataRole.AccessibleTextRole, said if wrong else item.text())
