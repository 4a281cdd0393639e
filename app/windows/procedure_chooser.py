"""Which procedure: a list grouped by when it is wanted, found by typing."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import (
    QEvent,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QPoint,
    QRectF,
    QSize,
    Qt,
    Signal,
    Slot,
)
from PySide6.QtGui import QCloseEvent, QColor, QKeyEvent, QPainter, QPen, QShowEvent
from PySide6.QtWidgets import (
    QApplication,
    QFrame,
    QListWidgetItem,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from app.language import worded
from app.windows.chooser import Chooser
from app.windows.start_lists import GROUP_ROLE
from app.windows.theme import shades, sized_font
from app.windows.worded import ENGLISH_ROLE, Label, LineEdit, List

_LINE = int(Qt.ItemDataRole.UserRole)
ROW, GROUP = 50, 34


@dataclass(frozen=True, slots=True)
class Choice:
    """One line of the list: a heading where `index` is None, else an entry of the box."""

    title: str
    detail: str = ""
    index: int | None = None


class _ChoicePainter(QStyledItemDelegate):
    """A procedure with what it is for beneath it; a heading on a hairline."""

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        """Headings are lower."""
        line = index.data(_LINE)
        return QSize(300, ROW if isinstance(line, Choice) and line.index is not None else GROUP)

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """Draw one line."""
        line = index.data(_LINE)
        if not isinstance(line, Choice):
            return
        colours, widget, box = shades(), option.widget, QRectF(option.rect)
        middle = int(Qt.AlignmentFlag.AlignVCenter)
        painter.save()
        if line.index is None:
            painter.setPen(QColor(colours.muted))
            painter.setFont(sized_font(widget, 15, bold=True))
            painter.drawText(box.adjusted(12, 8, -12, 0), middle, worded(line.title))
            painter.setPen(QPen(QColor(colours.rule), 2.0))
            painter.drawLine(box.topLeft() + QPoint(12, 2), box.topRight() + QPoint(-12, 2))
            painter.restore()
            return
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(QRectF(box.left(), box.top(), 7, box.height()), QColor(colours.accent))
            painter.fillRect(box.adjusted(7, 0, 0, 0), QColor(colours.ground))
        upper, lower = box.adjusted(24, 4, -12, -24), box.adjusted(24, 25, -12, -3)
        for words, place, size, colour in (
            (line.title, upper, 18, colours.ink),
            (line.detail, lower, 14, colours.muted),
        ):
            painter.setFont(sized_font(widget, size, bold=size == 18))
            painter.setPen(QColor(colour))
            shown = painter.fontMetrics().elidedText(
                worded(words), Qt.TextElideMode.ElideRight, int(place.width())
            )
            painter.drawText(place, middle, shown)
        painter.restore()


class ProcedureList(QFrame):
    """The list over the window: type to find, arrows to move, Enter to choose. `chosen` carries the index."""

    chosen = Signal(int)

    def __init__(self, box: Chooser) -> None:
        super().__init__(box.window())
        self._box = box
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setFrameShape(QFrame.Shape.Box)
        self.setAutoFillBackground(True)
        self.field = LineEdit(self)
        self.field.setAccessibleName(self.tr("Find a procedure"))
        self.field.setPlaceholderText(self.tr("type to find, such as relay or offset"))
        self.field.setMinimumHeight(44)
        self.field.textChanged.connect(self._find)
        self.list = List(self)
        self.list.setAccessibleName(box.accessibleName())
        self.list.setItemDelegate(_ChoicePainter(self.list))
        self.list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.list.setVerticalScrollMode(List.ScrollMode.ScrollPerPixel)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.itemClicked.connect(self._take)
        self._none = Label(self.tr("Nothing of that name. Esc closes the list."), self)
        self._none.setProperty("role", "quiet")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 8, 8, 8)
        for widget in (self.field, self.list, self._none):
            layout.addWidget(widget)
        self._find("")
        app = QApplication.instance()
        if app is not None:
            app.installEventFilter(self)

    def showEvent(self, event: QShowEvent) -> None:
        """What is chosen now is in sight."""
        super().showEvent(event)
        self._in_sight()

    def _in_sight(self) -> None:
        if self.list.currentItem() is not None:
            self.list.scrollToItem(self.list.currentItem(), List.ScrollHint.PositionAtCenter)

    @property
    def lines(self) -> list[Choice]:
        """What is offered now, with the headings."""
        return [self.list.item(n).data(_LINE) for n in range(self.list.count())]

    @property
    def current(self) -> Choice | None:
        """The line that Enter chooses."""
        row = self.list.currentRow()
        return self.lines[row] if row >= 0 else None

    @Slot(str)
    def _find(self, typed: str) -> None:
        """Offer what has every typed word in its title, its purpose or its group."""
        wanted = typed.casefold().split()
        self.list.clear()
        group = ""
        for index in range(self._box.count()):
            one = self._choice(index)
            where = str(self._box.itemData(index, GROUP_ROLE) or "")
            said = (one.title, one.detail, where)
            text = " ".join((*said, *map(worded, said)))
            if not all(word in text.casefold() for word in wanted):
                continue
            if where != group:
                self._add(Choice(where))
                group = where
            self._add(one)
            if self.list.currentRow() < 0 or (not wanted and index == self._box.currentIndex()):
                self.list.setCurrentRow(self.list.count() - 1)
        self.list.setVisible(self.list.count() > 0)
        self._none.setVisible(self.list.count() == 0)
        self._in_sight()

    def _choice(self, index: int) -> Choice:
        title = self._box.itemData(index, ENGLISH_ROLE) or self._box.itemText(index)
        return Choice(str(title), str(self._box.itemData(index, Qt.ItemDataRole.ToolTipRole) or ""), index)

    def _add(self, line: Choice) -> None:
        item = QListWidgetItem()
        item.setData(_LINE, line)
        item.setData(Qt.ItemDataRole.AccessibleTextRole, worded(f"{line.title}. {line.detail}".strip(". ")))
        if line.index is None:
            item.setFlags(Qt.ItemFlag.NoItemFlags)
        self.list.addItem(item)

    def closeEvent(self, event: QCloseEvent) -> None:
        """The box has the focus again."""
        app = QApplication.instance()
        if app is not None:
            app.removeEventFilter(self)
        if self._box.isVisible():
            self._box.setFocus(Qt.FocusReason.PopupFocusReason)
        super().closeEvent(event)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Arrows, Page keys, Enter and Esc in the field belong to the list; a press elsewhere closes it."""
        if (
            event.type() is QEvent.Type.MouseButtonPress
            and isinstance(watched, QWidget)
            and watched is not self
            and not self.isAncestorOf(watched)
        ):
            self.close()
            return False
        if watched is self.field and isinstance(event, QKeyEvent) and event.type() is QEvent.Type.KeyPress:
            steps = {
                Qt.Key.Key_Down: 1,
                Qt.Key.Key_Up: -1,
                Qt.Key.Key_PageDown: 5,
                Qt.Key.Key_PageUp: -5,
            }
            if event.key() in steps:
                self._move(steps[Qt.Key(event.key())])
                return True
            if event.key() in (Qt.Key.Key_Escape, Qt.Key.Key_Tab, Qt.Key.Key_Backtab):
                self.close()
                return True
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                self._take()
                return True
        return super().eventFilter(watched, event)

    def _move(self, by: int) -> None:
        rows = [n for n, line in enumerate(self.lines) if line.index is not None]
        if rows:
            here = rows.index(self.list.currentRow()) if self.list.currentRow() in rows else 0
            self.list.setCurrentRow(rows[max(0, min(len(rows) - 1, here + by))])

    @Slot()
    def _take(self) -> None:
        line = self.current
        if line is not None and line.index is not None:
            self.chosen.emit(line.index)
            self.close()


class ProcedureChooser(Chooser):
    """Shows which procedure is chosen; opens the list by a click, by Alt+Down, or by typing."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(name, parent)
        self.popup: ProcedureList | None = None

    def showPopup(self) -> None:
        """Open the list."""
        if self.popup is not None:
            return
        popup = self.popup = ProcedureList(self)
        popup.chosen.connect(self.setCurrentIndex)
        popup.destroyed.connect(self._closed)
        window = self.window()
        corner = self.mapTo(window, QPoint(0, self.height()))
        width = min(max(self.width(), 620), window.width() - 24)
        height = min(520, window.height() - 24)
        left = max(12, min(corner.x(), window.width() - width - 12))
        top = max(12, min(corner.y(), window.height() - height - 12))
        popup.setFixedSize(width, height)
        popup.move(left, top)
        popup.show()
        popup.raise_()
        popup.field.setFocus(Qt.FocusReason.PopupFocusReason)

    @Slot()
    def _closed(self) -> None:
        self.popup = None

    def hidePopup(self) -> None:
        """Close the list."""
        if self.popup is not None:
            self.popup.close()
        super().hidePopup()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """What is typed opens the list and is looked for."""
        text = event.text()
        free = not event.modifiers() & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier)
        if text.strip() and text.isprintable() and free:
            self.showPopup()
            if self.popup is not None:
                self.popup.field.setText(text)
            return
        super().keyPressEvent(event)
