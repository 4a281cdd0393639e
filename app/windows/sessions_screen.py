"""Past sessions: a list made from their headers, and what can be done with one of them."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import (
    QCoreApplication,
    QModelIndex,
    QPersistentModelIndex,
    QPointF,
    QRectF,
    QSize,
    Qt,
    Signal,
    Slot,
)
from PySide6.QtGui import QColor, QDragEnterEvent, QDropEvent, QFontMetricsF, QPainter, QPen, QResizeEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QFrame,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from app.language import worded
from app.records.history_facts import Wanted
from app.windows.archive_deeds import ArchiveDeeds, found_words
from app.windows.flow import Flow
from app.windows.given_names import names_of_sessions
from app.windows.history_search import HistorySearch
from app.windows.naming import NamingDialog
from app.windows.paper_ports import Papers
from app.windows.ports import SessionShelf
from app.windows.saving import ask_for_csv, ask_for_file
from app.windows.scrolling import scrolling
from app.windows.start_lists import SessionLine
from app.windows.theme import shades, sized_font
from app.windows.worded import Button, Label, List, as_it_stands, list_item
from app.windows.wording import clock
from app.windows.writing import Writing

LEAST_LETTER = 12.0
LEAST_SEARCHED = 430  # style pixels: in a lower window the list needs the room
MOST_KEYS = 0.45  # of the height, then the keys scroll


class SessionPainter(QStyledItemDelegate):
    """A session as a thread: when it began, how long it lasted, and a bead for how it ended."""

    HEIGHT = 74
    TALL = 128  # with the thread below the words
    BROAD = 900  # style pixels: room for the thread beside the words

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        """One height for all."""
        return QSize(240, self.HEIGHT if option.rect.width() >= self.BROAD else self.TALL)

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """Draw one session."""
        line = index.data(Qt.ItemDataRole.UserRole)
        if not isinstance(line, SessionLine):
            return
        colours = shades()
        box = QRectF(option.rect)
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        widget = option.widget
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if chosen:
            painter.fillRect(box, QColor(colours.raised))
            painter.fillRect(QRectF(box.left(), box.top(), 8, box.height()), QColor(colours.accent))
        painter.setPen(QColor(colours.ink))
        broad = box.width() >= self.BROAD
        left = QRectF(box.left() + 24, box.top() + 8, 560 if broad else box.width() - 36, 30)
        _write(painter, left, worded(line.title), 20.0, widget)
        painter.setPen(QColor(colours.muted))
        practice = QCoreApplication.translate("SessionPainter", "practice")
        elsewhere = QCoreApplication.translate("SessionPainter", "at another bench")
        marks = [*([practice] if line.practice else []), *([] if line.here else [elsewhere])]
        words = " · ".join([line.started, line.procedure, *marks])
        _write(painter, left.translated(0, 28), worded(words), 16.0, widget, bold=False)
        place = QRectF(box.left() + 600, box.top(), box.width() - 620, box.height())
        if not broad:
            place = QRectF(box.left() + 36, box.top() + 54, box.width() - 48, box.height() - 54)
        self._thread(painter, line, place, widget)
        painter.restore()

    def _thread(self, painter: QPainter, line: SessionLine, box: QRectF, widget: QWidget) -> None:
        """Half an hour takes half of the place; longer sessions are squeezed."""
        colours = shades()
        seconds = line.lasted_s or 0.0
        length = (box.width() - min(190.0, box.width() * 0.35)) * (seconds / (seconds + 1800.0))
        y = box.top() + 26.0
        painter.setPen(QPen(QColor(colours.ink), 3.0))
        painter.drawLine(QPointF(box.left(), y), QPointF(box.left() + length, y))
        end = QPointF(box.left() + length, y)
        painter.setBrush(QColor(colours.inside if line.finished else colours.ground))
        painter.drawEllipse(end, 9.0, 6.0)
        if not line.finished:
            painter.drawLine(end + QPointF(-9, 7), end + QPointF(9, -7))
        painter.setPen(QColor(colours.ink))
        lasted = "" if line.lasted_s is None else clock(line.lasted_s)
        painter.setFont(sized_font(widget, 17, bold=True))
        painter.drawText(QRectF(end.x() + 18, y - 15, 160, 30), int(Qt.AlignmentFlag.AlignVCenter), lasted)
        painter.setPen(QColor(colours.muted))
        below = QRectF(box.left(), y + 14, box.width(), 26)
        _write(painter, below, worded(line.outcome), 15.0, widget, bold=False)


def _write(
    painter: QPainter, box: QRectF, text: str, letter: float, widget: QWidget, *, bold: bool = True
) -> None:
    """Write on one line, in smaller letters where there is no room; what is still too long ends in dots."""
    size = letter
    while size > LEAST_LETTER:
        if QFontMetricsF(sized_font(widget, size, bold)).horizontalAdvance(text) <= box.width():
            break
        size -= 1.0
    painter.setFont(sized_font(widget, size, bold))
    words = painter.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, int(box.width()))
    painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter), words)


class SessionsScreen(QWidget):
    """Lists sessions; `open_session` carries the key of the one to be reviewed.

    Until something is looked for these are this computer's own, read from their headers; then the archive's.
    """

    open_session = Signal(str)
    job = Signal(str)
    back = Signal()

    def __init__(
        self, shelf: SessionShelf, parent: QWidget | None = None, papers: Papers | None = None
    ) -> None:
        super().__init__(parent)
        self._shelf = shelf
        self._papers = papers
        self._lines: tuple[SessionLine, ...] = ()
        self._asked_of: str | None = None  # the list may be another one before a dialog is answered
        self._naming: NamingDialog | None = None
        self._saving: QFileDialog | None = None
        self._writing = Writing(self)
        self._writing.said.connect(self.say)
        self._table = List(self)
        self._table.setAccessibleName(self.tr("Past sessions, newest first"))
        self._table.setItemDelegate(SessionPainter(self._table))
        self._table.setStyleSheet("List { background: transparent; border: 0; }")
        self._table.setVerticalScrollMode(List.ScrollMode.ScrollPerPixel)
        self._table.setResizeMode(List.ResizeMode.Adjust)
        self._table.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._table.setSelectionMode(List.SelectionMode.ExtendedSelection)
        self._table.itemActivated.connect(self._open)
        self._table.itemSelectionChanged.connect(self._selected)
        self._said = Label(self)
        self._said.setWordWrap(True)
        self._said.setStyleSheet("font-weight: 600;")
        self._open_button = self._button(self.tr("&Open and replay"), self._open)
        self._export_button = self._button(self.tr("&Export CSV …"), self._export)
        self._report_button = self._button(self.tr("&Report as PDF …"), self._report)
        self._name_button = self._button(self.tr("&Name unit and job …"), self._name)
        self._job_button = self._button(self.tr("&Job sheet …"), self._ask_job)
        self._of_one = (
            self._open_button,
            self._export_button,
            self._report_button,
            self._job_button,
            self._name_button,
        )
        self._back = self._button(self.tr("&Back"), self._go_back)
        self.search: HistorySearch | None = None
        self.deeds: ArchiveDeeds | None = None
        if papers is not None:
            self._look_through(papers)
        self._arrange()
        self.refresh()

    def _look_through(self, papers: Papers) -> None:
        """Search, and what the archive can tell of what is chosen."""
        self.search = HistorySearch(self)
        self.deeds = ArchiveDeeds(papers, self)
        self.deeds.said.connect(self.say)
        self.deeds.listed.connect(self._list_found)
        self.deeds.unit_found.connect(self.search.show_unit)
        self.deeds.taken_in.connect(self.refresh)
        self.search.asked.connect(self._asked)
        self.search.refused.connect(self.say)
        self.setAcceptDrops(True)

    def _arrange(self) -> None:
        keys = self._keys = Flow()
        for button in (*self._of_one, *(self.deeds.buttons if self.deeds is not None else ()), self._back):
            keys.addWidget(button)
        box = QWidget(self)
        box.setLayout(keys)
        keys.setContentsMargins(0, 0, 0, 0)
        self._key_page = scrolling(box, self)
        self._key_page.setFrameShape(QFrame.Shape.NoFrame)
        self._key_page.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._title = title = Label(self.tr("Look back"), self)
        title.setStyleSheet("font-size: 32px; font-weight: 700;")
        self._margins = layout = QVBoxLayout(self)
        layout.setContentsMargins(36, 20, 36, 20)
        layout.setSpacing(12)
        layout.addWidget(title)
        if self.search is not None:
            layout.addWidget(self.search)
        layout.addWidget(self._table, 1)
        layout.addWidget(self._said)
        layout.addWidget(self._key_page)

    def minimumSizeHint(self) -> QSize:
        """A session and its keys, however small the window."""
        return QSize(300, 200)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Small windows have small margins, and a session on three lines."""
        super().resizeEvent(event)
        side = 36 if self.width() >= 700 else 12
        top = 20 if self.height() >= 400 else 4
        self._margins.setContentsMargins(side, top, side, top)
        self._margins.setSpacing(12 if self.height() >= 400 else 4)
        self._title.setVisible(self.height() >= 300)
        if self.search is not None:
            self.search.setVisible(self.height() >= LEAST_SEARCHED)
        wanted = self._keys.heightForWidth(self.width() - 2 * side)
        most = round(MOST_KEYS * self.height())
        bar = self._key_page.verticalScrollBar().sizeHint().width()
        self._keys.setContentsMargins(0, 0, bar if wanted > most else 0, 0)
        self._key_page.setFixedHeight(min(wanted, most))

    @Slot()
    def _go_back(self) -> None:
        """Back to all sessions where no room is left for the search that hides some, else to the start."""
        if self.search is not None and self.search.isHidden() and self.search.looking:
            self.search.clear()
        else:
            self.back.emit()

    def _button(self, text: str, does: object) -> Button:
        button = Button(text, self)
        button.setMinimumHeight(44)
        button.clicked.connect(does)
        return button

    @property
    def table(self) -> List:
        """The list."""
        return self._table

    @property
    def job_button(self) -> Button:
        """Opens the job sheet of the chosen session."""
        return self._job_button

    @property
    def said(self) -> str:
        """What was answered last, in English."""
        return self._said.english()

    def say(self, sentence: str) -> None:
        """Answer in words."""
        self._said.setText(sentence)

    @Slot()
    def refresh(self) -> None:
        """Read the headers again, or ask the archive again what is looked for."""
        if self.search is not None and self.search.looking:
            self.search.ask()
            return
        if self.deeds is not None:
            self.deeds.forget()
        self._list(self._shelf.sessions())
        if not self._lines:
            self.say(self.tr("There are no sessions on this computer yet."))

    @Slot(object)
    def _asked(self, wanted: object) -> None:
        if isinstance(wanted, Wanted) and self.deeds is not None:
            self.deeds.find(wanted)
        else:
            self.refresh()
            self.say("")

    @Slot(object)
    def _list_found(self, lines: object) -> None:
        if isinstance(lines, tuple) and self.search is not None and self.search.looking:
            self._list(lines)
            self.say(found_words(lines))

    def _list(self, lines: tuple[SessionLine, ...]) -> None:
        chosen = self._chosen()
        self._lines = lines
        names_of_sessions(lines)
        self._table.clear()
        for line in self._lines:
            item = list_item(f"{line.title}, {line.started}, {line.procedure}, {line.outcome}")
            item.setData(Qt.ItemDataRole.UserRole, line)
            item.setToolTip(as_it_stands(item.text()))  # what is drawn may end in dots
            self._table.addItem(item)
        keys = [line.key for line in self._lines]
        if keys:
            self._table.setCurrentRow(keys.index(chosen) if chosen in keys else 0)
        self._selected()

    def _chosen_lines(self) -> tuple[SessionLine, ...]:
        """What is chosen, in the order of the list."""
        rows = sorted(index.row() for index in self._table.selectedIndexes())
        return tuple(self._lines[row] for row in rows if row < len(self._lines))

    def _chosen(self) -> str | None:
        """The one session that is chosen, where it is on this computer."""
        lines = self._chosen_lines()
        return lines[0].key if len(lines) == 1 and lines[0].here else None

    @Slot()
    def _selected(self) -> None:
        for button in self._of_one:
            button.setEnabled(self._chosen() is not None)
        if self.deeds is not None:
            self.deeds.choose(self._chosen_lines())

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take files."""
        if self.deeds is not None and event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Import the bundles that were dropped."""
        if self.deeds is not None:
            self.deeds.take_in(*(url.toLocalFile() for url in event.mimeData().urls() if url.isLocalFile()))

    @Slot()
    def _open(self) -> None:
        key = self._chosen()
        if key is not None:
            self.open_session.emit(key)
        elif any(not line.here for line in self._chosen_lines()):
            self.say(
                self.tr("It was recorded at another bench: ask there for its bundle, and import it here.")
            )

    @Slot()
    def _ask_job(self) -> None:
        key = self._chosen()
        if key is not None:
            self.job.emit(key)

    @Slot()
    def _export(self) -> None:
        self._asked_of = self._chosen()
        if self._asked_of is not None:
            self._saving = ask_for_csv(self, self.tr("Export the readings as CSV"), self.export_to)

    @Slot()
    def _report(self) -> None:
        self._asked_of = self._chosen()
        if self._asked_of is not None:
            self._saving = ask_for_file(self, self.tr("Write the service report"), "pdf", self.report_to)

    @Slot(str)
    def report_to(self, path: str) -> None:
        """Write the service report of the session that it was asked for."""
        key = self._asked_of or self._chosen()
        if key is not None:
            self._writing.write(
                self.tr("The report is being written"),
                self.tr("Not written: {reason}"),
                lambda: self._shelf.report(key, Path(path)),
            )

    @Slot(str)
    def export_to(self, path: str) -> None:
        """Write the readings of the session that it was asked for to a file."""
        key = self._asked_of or self._chosen()
        if key is not None:
            self._writing.write(
                self.tr("The readings are being written"),
                self.tr("Not exported: {reason}"),
                lambda: self._shelf.export_csv(key, Path(path)),
            )

    @Slot()
    def _name(self) -> None:
        self.ask_name()

    def ask_name(self) -> NamingDialog | None:
        """Ask which unit and job the chosen session belongs to."""
        self._asked_of = self._chosen()
        if self._asked_of is None:
            return None
        self._naming = NamingDialog(self)
        self._naming.named.connect(self.name_as)
        self._naming.open()
        return self._naming

    @Slot(str, str)
    def name_as(self, unit: str, job: str) -> None:
        """File the session that it was asked for under a unit and a job."""
        key = self._asked_of or self._chosen()
        if key is None:
            return
        try:
            self._shelf.name(key, unit, job)
        except (OSError, ValueError) as refusal:
            self.say(self.tr("Not named: {reason}").format(reason=refusal))
            return
        self.refresh()
        self.say(self.tr("Named. Every reading is kept."))
