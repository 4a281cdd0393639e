"""The jobs of this computer: found by a few letters of anything, opened by Enter."""

from __future__ import annotations

from PySide6.QtCore import (
    QModelIndex,
    QPersistentModelIndex,
    QPointF,
    QRectF,
    QSize,
    Qt,
    Signal,
    Slot,
)
from PySide6.QtGui import QColor, QFontMetrics, QKeyEvent, QPainter, QPen
from PySide6.QtWidgets import (
    QHBoxLayout,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from app.language import worded
from app.windows.chooser import GoButton
from app.windows.errand import Errand
from app.windows.given_names import names_of_jobs
from app.windows.jobs.kinds import tr
from app.windows.jobs.ports import JobLine, JobsFound, JobShelf
from app.windows.theme import shades, sized_font
from app.windows.worded import Button, Label, LineEdit, List, list_item


class JobPainter(QStyledItemDelegate):
    """A job in two lines on a thread; its bead is filled once the job has ended."""

    HEIGHT = 70

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        """One height for all."""
        return QSize(300, self.HEIGHT)

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """Draw one job."""
        line = index.data(Qt.ItemDataRole.UserRole)
        if not isinstance(line, JobLine):
            return
        colours, box, widget = shades(), QRectF(option.rect), option.widget
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(box, QColor(colours.raised))
            painter.fillRect(QRectF(box.left(), box.top(), 8, box.height()), QColor(colours.accent))
        painter.setPen(QPen(QColor(colours.rule), 2.0))
        bead = QPointF(box.left() + 34, box.center().y())
        painter.drawLine(QPointF(bead.x(), box.top()), QPointF(bead.x(), box.bottom()))
        painter.setPen(QPen(QColor(colours.inside if line.outcome else colours.ink), 2.5))
        painter.setBrush(QColor(colours.inside if line.outcome else colours.ground))
        painter.drawEllipse(bead, 6.0, 9.0)
        room = box.width() - 80
        title = " · ".join(filter(None, (line.name, worded(line.unit or tr("unit not named")))))
        about = " · ".join(filter(None, (line.opened, line.reference, line.complaint)))
        end = worded(line.outcome or tr("under way"))
        wide = QFontMetrics(sized_font(widget, 16)).horizontalAdvance(end) + 24
        for text, ink, size, bold, top in (
            (title, colours.ink, 20, True, 7),
            (about, colours.muted, 16, False, 36),
        ):
            painter.setFont(sized_font(widget, size, bold=bold))
            painter.setPen(QColor(ink))
            width = room - (wide if top < 10 else 0)
            told = painter.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, int(width))
            painter.drawText(
                QRectF(box.left() + 60, box.top() + top, width, 28), int(Qt.AlignmentFlag.AlignVCenter), told
            )
        painter.setFont(sized_font(widget, 16))
        painter.setPen(QColor(colours.ink))
        place = QRectF(box.right() - wide - 20, box.top() + 7, wide, 28)
        painter.drawText(place, int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight), end)
        painter.restore()


class Finder(LineEdit):
    """The field that finds; the arrows and Enter go to the list below it."""

    passed_on = Signal(int)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Pass on what moves in the list."""
        keys = (Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if event.key() in keys:
            self.passed_on.emit(event.key())
        else:
            super().keyPressEvent(event)


class JobList(QWidget):
    """Lists jobs. `opened` carries a key; an empty one asks for a new job."""

    opened = Signal(str)

    def __init__(self, shelf: JobShelf, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shelf = shelf
        self._lines: tuple[JobLine, ...] = ()
        self._shown: list[JobLine] = []
        self._errand: Errand | None = None
        title = Label(self.tr("Jobs"), self)
        title.setStyleSheet("font-size: 26px; font-weight: 700;")
        self.finder = Finder(self)
        self.finder.setProperty("role", "blank")
        self.finder.setPlaceholderText(self.tr("find: number, serial, reference, complaint, outcome"))
        self.finder.setAccessibleName(self.tr("Find a job"))
        self.finder.setMinimumHeight(42)
        self.finder.textChanged.connect(self._show)
        self.finder.passed_on.connect(self._passed_on)
        self.new = GoButton(self.tr("A &new job"), self)
        self.new.clicked.connect(self._new)
        self.table = List(self)
        self.table.setAccessibleName(self.tr("Jobs, newest first"))
        self.table.setItemDelegate(JobPainter(self.table))
        self.table.setStyleSheet("QListWidget { background: transparent; border: 0; }")
        self.table.setVerticalScrollMode(List.ScrollMode.ScrollPerPixel)
        self.table.itemActivated.connect(self._open)
        self.open_button = Button(self.tr("&Open"), self)
        self.open_button.setMinimumHeight(48)
        self.open_button.clicked.connect(self._open)
        self._said = Label(self)
        self._said.setWordWrap(True)
        self._said.setProperty("role", "quiet")
        self._said.setTextFormat(Qt.TextFormat.PlainText)
        self._arrange(title)

    def _arrange(self, title: Label) -> None:
        head = QHBoxLayout()
        head.setSpacing(18)
        head.addWidget(title)
        head.addWidget(self.finder, 1)
        head.addWidget(self.new)
        foot = QHBoxLayout()
        foot.addWidget(self._said, 1)
        foot.addWidget(self.open_button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 16, 24, 14)
        layout.setSpacing(12)
        layout.addLayout(head)
        layout.addWidget(self.table, 1)
        layout.addLayout(foot)

    @property
    def said(self) -> str:
        """What was said last."""
        return self._said.text()

    def refresh(self) -> None:
        """Read the jobs again, beside the window."""
        if self._errand is None:
            self._errand = Errand(self)
            self._errand.done.connect(self._found)
            self._errand.run(self._shelf.jobs)

    @Slot(object)
    def _found(self, found: object) -> None:
        self._errand = None
        if isinstance(found, Exception):
            self._said.setText(str(found))
            return
        assert isinstance(found, JobsFound)
        self._lines = found.lines
        names_of_jobs(self._lines)
        words = "\n".join(found.troubles[:3])
        if not self._lines and not words:
            words = self.tr("There is no job on this computer yet.")
        self._said.setText(words)
        self._show()

    @Slot()
    def _show(self) -> None:
        wanted = self.finder.text().casefold().split()
        row = self.table.currentRow()
        chosen = self._shown[row].key if 0 <= row < len(self._shown) else ""
        self._shown = [line for line in self._lines if _fits(line, wanted)]
        self.table.clear()
        for line in self._shown:
            words = (line.name, line.unit, line.opened, line.complaint, line.outcome or tr("under way"))
            item = list_item("  ·  ".join(filter(None, words)))
            item.setData(Qt.ItemDataRole.UserRole, line)
            self.table.addItem(item)
        keys = [line.key for line in self._shown]
        if keys:
            self.table.setCurrentRow(keys.index(chosen) if chosen in keys else 0)
        self.open_button.setEnabled(bool(keys))
        if wanted and not keys:
            self._said.setText(self.tr("No job has all of that in it; history finds sessions too."))

    @Slot(int)
    def _passed_on(self, key: int) -> None:
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._open()
            return
        step = 1 if key == Qt.Key.Key_Down else -1
        row = min(max(self.table.currentRow() + step, 0), self.table.count() - 1)
        self.table.setCurrentRow(row)

    @Slot()
    def _open(self) -> None:
        row = self.table.currentRow()
        if 0 <= row < len(self._shown):
            self.opened.emit(self._shown[row].key)

    @Slot()
    def _new(self) -> None:
        self.opened.emit("")


def _fits(line: JobLine, wanted: list[str]) -> bool:
    words = (
        line.name,
        line.unit,
        line.opened,
        line.complaint,
        line.reference,
        line.outcome or tr("under way"),
    )
    told = " ".join(words).casefold()
    return all(word in told for word in wanted)
