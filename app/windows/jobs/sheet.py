"""The job sheet: all that is known of one visit, written down in place and kept as it is written.

The stations at the left lead to the parts. Nothing here asks for anything: every blank may stay empty, and
nothing at the bench waits for it.
"""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QHideEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from app.windows.flow import Flow
from app.windows.jobs.customer import CustomerBlanks
from app.windows.jobs.entries import EntryList, Now
from app.windows.jobs.kinds import LeftOutList, PartList, StateList, WorkList
from app.windows.jobs.pen import JobPen
from app.windows.jobs.pictures import Pictures
from app.windows.jobs.ports import JobPage, JobShelf
from app.windows.jobs.sections import Ending, Filling, Section, Tried
from app.windows.jobs.sessions import SessionsOfJob
from app.windows.jobs.stations import Stations
from app.windows.number_sign import signed
from app.windows.ports import SessionShelf
from app.windows.start_lists import JobAtBench
from app.windows.worded import Button, Label
from app.windows.writing import Writing
from procedures.job import Filled, SheetField, State
from procedures.records.job_sheet import JobSheet

BROAD, HIGH = 720, 420  # style pixels: from here on there is room for the stations
LOOK_MS = 3000  # between two looks whether others have written to the job
F = SheetField


class JobSheetPage(QWidget):
    """One job. `back` asks for the list; `filed` carries unit and job once the bench's session is in it."""

    back = Signal()
    filed = Signal(str, str)
    begin = Signal(object)  # a JobAtBench: the unit is wanted at the bench

    def __init__(
        self,
        shelf: JobShelf,
        sessions: SessionShelf,
        key: str,
        now: Now,
        *,
        bench_session: str = "",
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._shelf = shelf
        self._bench_session = bench_session
        self._filing = False
        self._here, self._stood = "", -1
        self._sheet = JobSheet()
        self._name = ""
        self.pen = JobPen(shelf, key, self)
        self._writing = Writing(self)
        self._writing.said.connect(self.say)
        self._make_header()
        self._make_parts(sessions, now)
        self._arrange()
        self._connect()
        self.setAcceptDrops(True)
        self._looking = QTimer(self)
        self._looking.setInterval(LOOK_MS)
        self._looking.timeout.connect(self.pen.look)
        self._show_sheet(JobPage(key, "", self._sheet))
        self.pen.look()

    # --- making ---------------------------------------------------------------------------------------

    def _make_header(self) -> None:
        self._title = Label(self)
        self._title.setStyleSheet("font-size: 26px; font-weight: 700;")
        self._title.setWordWrap(True)
        self._title.setTextFormat(Qt.TextFormat.PlainText)
        self._status = Label(self.tr("Everything is kept as you write it."), self)
        self._status.setWordWrap(True)
        self._status.setTextFormat(Qt.TextFormat.PlainText)
        self.report = Button(self.tr("Repor&t as PDF …"), self)
        self.begin_button = Button(self.tr("To the &bench with it …"), self)
        self.back_button = Button(self.tr("All &jobs"), self)
        self.bench_button = Button(self.tr("T&his session belongs to this job"), self)
        self.bench_button.hide()
        for button in (self.begin_button, self.report, self.back_button, self.bench_button):
            button.setMinimumHeight(44)

    def _make_parts(self, sessions: SessionShelf, now: Now) -> None:
        pen = self.pen
        self._now = now
        self.filling = Filling(pen, now, self)
        self.customer = CustomerBlanks(pen, self)
        self.tried = Tried(pen, now, self)
        self.states = {state: StateList(state, pen, now, self) for state in State}
        self.work = WorkList(pen, now, self)
        self.parts = PartList(pen, now, self)
        self.left_out = LeftOutList(pen, now, self)
        self.ending = Ending(pen, now, self)
        self.pictures = Pictures(self._shelf, pen, now, self)
        self.sessions = SessionsOfJob(self._shelf, sessions, pen, now, self)
        self._labour = Label(self)
        self._labour.setProperty("role", "quiet")

    def _sections(self) -> dict[str, tuple[str, list[QWidget]]]:
        """The parts of the sheet in the order of a visit: name, title with its Alt key, contents."""
        received, found, left = (self.states[state] for state in State)
        measured = Label(
            self.tr("What a session measured stands in its own record and in the report; here is the rest."),
            self,
        )
        measured.setProperty("role", "quiet")
        measured.setWordWrap(True)
        filling = self.filling
        return {
            "customer": (self.tr("&Who"), [self.customer]),
            "unit": (self.tr("&Unit"), filling.unit_lines()),
            "complaint": (self.tr("&Complaint"), [*filling.complaint_lines(), self.tried]),
            "received": (self.tr("As &received"), [measured, received]),
            "found": (self.tr("As &found"), [found]),
            "findings": (self.tr("Fi&ndings"), [filling.blanks[F.DIAGNOSIS]]),
            "work": (self.tr("Wor&k"), [self.work, self._labour]),
            "parts": (self.tr("&Parts"), [self.parts]),
            "left": (self.tr("As &left"), [left]),
            "left out": (self.tr("Not &done"), [self.left_out]),
            "outcome": (self.tr("&Outcome"), [self.ending, *filling.end_lines()]),
            "pictures": (self.tr("P&ictures"), [self.pictures]),
            "sessions": (self.tr("&Sessions"), [self.sessions]),
        }

    def _arrange(self) -> None:
        made = self._sections()
        self.stations = Stations({name: title for name, (title, _) in made.items()}, self)
        page = QWidget(self)
        column = QVBoxLayout(page)
        column.setContentsMargins(24, 4, 22, 24)
        column.setSpacing(0)
        self.sections: dict[str, Section] = {}
        for name, (title, contents) in made.items():
            self.sections[name] = Section(title.replace("&", ""), contents, page)
            column.addWidget(self.sections[name])
        column.addStretch(1)
        self.area = QScrollArea(self)
        self.area.setWidgetResizable(True)
        self.area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.area.setWidget(page)
        words = QVBoxLayout()
        words.setSpacing(0)
        words.addWidget(self._title)
        words.addWidget(self._status)
        head = self._head = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        head.setSpacing(10)
        head.addLayout(words, 1)
        keys = Flow()
        for button in (self.bench_button, self.begin_button, self.report, self.back_button):
            keys.addWidget(button)
        head.addLayout(keys)
        body = QHBoxLayout()
        body.setSpacing(0)
        body.addWidget(self.stations)
        body.addWidget(self.area, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(16, 12, 6, 8)
        layout.setSpacing(8)
        layout.addLayout(head)
        layout.addLayout(body, 1)

    def _connect(self) -> None:
        self.pen.page.connect(self._show_page)
        self.pen.trouble.connect(self._troubled)
        self.pen.refused.connect(self.say)
        self.filling.changed.connect(self._retitle)
        self.customer.erased.connect(self._erased)
        self.pictures.said.connect(self.say)
        self.sessions.said.connect(self.say)
        self.sessions.read.connect(self._show_bench)
        self.sessions.report_to.connect(self.write_report)
        self.stations.gone_to.connect(self.go_to)
        self.area.verticalScrollBar().valueChanged.connect(self._scrolled)
        self.area.verticalScrollBar().rangeChanged.connect(self._heights_changed)
        self.report.clicked.connect(self._report)
        self.back_button.clicked.connect(self.back)
        self.bench_button.clicked.connect(self._file_bench)
        self.begin_button.clicked.connect(self._begin)

    # --- showing --------------------------------------------------------------------------------------

    @property
    def title(self) -> str:
        """What the sheet is called."""
        return self._title.text()

    @property
    def status(self) -> str:
        """What was said last about keeping."""
        return self._status.text()

    @Slot(str)
    def say(self, sentence: str) -> None:
        """Say something in the line below the title."""
        self._status.setText(sentence[:1].upper() + sentence[1:])

    @Slot(str)
    def _troubled(self, words: str) -> None:
        role = "trouble" if words else ""
        self._status.setProperty("role", role)
        self._status.style().unpolish(self._status)
        self._status.style().polish(self._status)
        if words:
            told = self.tr("Not kept yet; it is tried again by itself. {reason}")
            self.say(told.format(reason=words[:1].upper() + words[1:]))
        else:
            self.say(self.tr("Kept."))

    @Slot(object)
    def _show_page(self, page: object) -> None:
        assert isinstance(page, JobPage)
        self._show_sheet(page)
        troubles = " ".join(page.troubles)
        self.say(troubles or self.tr("Kept."))

    def _show_sheet(self, page: JobPage) -> None:
        sheet = self._sheet = page.sheet
        self.filling.show_sheet(sheet)
        self.customer.reference = sheet.text(F.CUSTOMER_REFERENCE)
        self.customer.pictured = any(one.of_customer for one in sheet.photographs)
        self.customer.show_customer(page.customer)
        self.tried.show_sheet(sheet)
        self.ending.show_sheet(sheet)
        for state, entries in self.states.items():
            entries.show_facts(sheet.state(state))
        self.work.show_facts(sheet.work)
        self.parts.show_facts(sheet.parts)
        self.left_out.show_facts(sheet.left_out)
        self.pictures.list.show_facts(sheet.photographs)
        self.sessions.show_sessions(sheet.sessions)
        self._labour.setText(
            self.tr("{n} minutes are written down.").format(n=signed(f"{sheet.minutes:g}"))
            if sheet.minutes
            else ""
        )
        self._retitle()
        self._name = page.name
        self._show_bench()
        self._show_filled()

    @Slot()
    def _retitle(self) -> None:
        b = {line: blank.words for line, blank in self.filling.blanks.items()}
        number, serial = b[F.NUMBER], b[F.SERIAL]
        unit = " ".join(filter(None, (b[F.MAKER], b[F.MODEL])))
        if unit and serial:
            numbered = self.tr("Job {number} · {unit}, serial {serial}")
            title = numbered if number else self.tr("Job sheet · {unit}, serial {serial}")
        else:
            title = self.tr("Job {number}") if number else self.tr("Job sheet")
            about = self.tr("serial {serial}") if serial else "{unit}"
            title = f"{title} · {about}" if unit or serial else title
        self._title.setText(title.format(number=number, unit=unit, serial=serial))

    def _show_filled(self) -> None:
        """Which parts have words in them."""
        filling, sheet = self.filling, self._sheet
        in_complaint = (F.COMPLAINT, F.COMPLAINT_WHEN, F.CONNECTED)
        in_end = (F.CONSENT, F.ESTIMATE, F.CEILING, F.DEPOSIT, F.PRICE, F.COLLECTED)
        others = {*in_complaint, *in_end, F.DIAGNOSIS}
        filled = {
            "customer": self.customer.filled,
            "unit": filling.filled(*(line for line in F if line not in others)),
            "complaint": filling.filled(*in_complaint) or sheet.complaint_tried is not None,
            "received": self.states[State.AS_RECEIVED].filled,
            "found": self.states[State.AS_FOUND].filled,
            "findings": filling.filled(F.DIAGNOSIS),
            "work": self.work.filled,
            "parts": self.parts.filled,
            "left": self.states[State.AS_LEFT].filled,
            "left out": self.left_out.filled,
            "outcome": filling.filled(*in_end) or sheet.outcome is not None,
            "pictures": self.pictures.list.filled,
            "sessions": self.sessions.filled,
        }
        for name, there in filled.items():
            self.stations.show_filled(name, there)

    # --- going about ----------------------------------------------------------------------------------

    @Slot(str)
    def go_to(self, name: str) -> None:
        """Bring a part to the top, ready to be written in."""
        self._here = name
        section = self.sections[name]
        first = next(
            (
                widget
                for content in section.contents
                for widget in [content, *content.findChildren(QWidget)]
                if widget.focusPolicy() & Qt.FocusPolicy.TabFocus and widget.isVisibleTo(self)
            ),
            None,
        )
        if first is not None:
            first.setFocus(Qt.FocusReason.OtherFocusReason)  # scrolls to the field, not to its heading
        self._stay()
        QTimer.singleShot(0, self, self._stay)  # where the sheet has not got its heights yet
        self.stations.show_here(name)

    @Slot()
    def _scrolled(self) -> None:
        if self._here in self.sections and self.area.verticalScrollBar().value() == self._stood:
            self.stations.show_here(self._here)
            return
        top = self.area.verticalScrollBar().value() + 40
        for name, section in self.sections.items():
            if section.geometry().bottom() >= top:
                self.stations.show_here(name)
                return

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Small windows have no room for the stations; the part that is written in stays in sight."""
        super().resizeEvent(event)
        roomy = self.width() >= BROAD and self.height() >= HIGH
        self.stations.setVisible(roomy)
        self._head.setDirection(
            QBoxLayout.Direction.LeftToRight if self.width() >= BROAD else QBoxLayout.Direction.TopToBottom
        )
        self._title.setStyleSheet(f"font-size: {26 if roomy else 19}px; font-weight: 700;")
        self._heights_changed()

    @Slot()
    def _heights_changed(self) -> None:
        """Unless somebody has scrolled on, the heading stays at the top."""
        if self.area.verticalScrollBar().value() == self._stood:
            QTimer.singleShot(0, self, self._stay)

    @Slot()
    def _stay(self) -> None:
        """Bring the heading of the part that was gone to to the top: other widths have other heights."""
        section = self.sections.get(self._here)
        if section is not None:
            self.area.verticalScrollBar().setValue(section.y())
            self._stood = self.area.verticalScrollBar().value()
            self.stations.show_here(self._here)  # also where the end of the sheet keeps it from the top

    def showEvent(self, event: QShowEvent) -> None:
        """Look from time to time whether others write here too."""
        super().showEvent(event)
        self._looking.start()
        self._scrolled()

    def hideEvent(self, event: QHideEvent) -> None:
        """Nobody looks."""
        super().hideEvent(event)
        self._looking.stop()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Files may be dropped anywhere on the sheet."""
        if any(url.isLocalFile() for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """They are kept as pictures."""
        self.pictures.attach([url.toLocalFile() for url in event.mimeData().urls() if url.isLocalFile()])
        event.acceptProposedAction()

    # --- doing ----------------------------------------------------------------------------------------

    @Slot(bool)
    def _erased(self, reference_too: bool) -> None:
        if reference_too:
            self.pen.write(Filled(self._now(), F.CUSTOMER_REFERENCE, ""))

    @Slot()
    def _show_bench(self) -> None:
        """Whether the bench's session belongs here already."""
        belongs = self._bench_session in self.sessions.keys
        self.bench_button.setVisible(bool(self._bench_session) and not belongs)
        if belongs and self._filing:
            self._filing = False
            self.filed.emit(str(self._sheet.unit), self._name)

    @Slot()
    def _file_bench(self) -> None:
        self._filing = True
        self.sessions.file_session(self._bench_session)

    @Slot()
    def _begin(self) -> None:
        """Keep what is on the sheet, then hand its unit on."""
        if trouble := self.finish():
            self._troubled(trouble)
        elif not self.pen.key:
            self.say(self.tr("Write something down first, such as the unit: then there is a job."))
        else:
            unit = self._sheet.unit
            self.begin.emit(JobAtBench(self.pen.key, self._name, unit.maker, unit.model, unit.serial))

    @Slot()
    def _report(self) -> None:
        self.commit()
        self.sessions.ask_report("")

    @Slot(str, str)
    def write_report(self, key: str, path: str) -> None:
        """Keep what is on the sheet, then write the report beside the window."""
        self.commit()
        if trouble := self.pen.finish():
            self._troubled(trouble)
            return
        self._writing.write(
            self.tr("The report is being written"),
            self.tr("Not written: {reason}"),
            lambda: self._shelf.report(key, Path(path)),
        )

    def commit(self) -> bool:
        """Hand on all that is being written; whether it could be understood."""
        lists: list[EntryList] = [*self.states.values(), self.work, self.parts, self.left_out]
        understood = [part.commit() for part in (self.filling, self.customer, self.tried, self.ending)]
        understood += [part.commit() for part in (*lists, self.pictures.list)]
        return all(understood)

    def let_go(self) -> None:
        """The sheet is closed, with all of it kept: pictures that were taken back lose their files."""
        try:
            if self.pen.key:
                self._shelf.remove_dropped(self.pen.key)
        except (OSError, ValueError):
            return  # they go when the sheet is closed the next time

    def finish(self) -> str:
        """Keep everything now; what could not be kept and why, or nothing."""
        understood = self.commit()
        trouble = self.pen.finish()
        if trouble:
            return trouble
        return "" if understood else self.tr("Something on the sheet cannot be understood as it stands.")
