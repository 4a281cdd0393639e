"""The sessions of a job: what was measured, its report, and how long its steps took."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QFileDialog, QSizePolicy, QVBoxLayout, QWidget

from app.windows.chooser import Chooser
from app.windows.errand import Errand
from app.windows.jobs.blanks import HEIGHT
from app.windows.jobs.entries import Now
from app.windows.jobs.flow import Line
from app.windows.jobs.pen import JobPen
from app.windows.jobs.ports import JobShelf, SessionOfJob, StepTaken
from app.windows.ports import SessionShelf
from app.windows.saving import ask_for_file
from app.windows.start_lists import SessionLine
from app.windows.worded import Button, Label
from app.windows.wording import clock
from procedures.job import SessionFiled, Worked

MOST_OFFERED = 50  # past sessions that can be filed from the list; older ones from Look back


def session_words(line: SessionLine) -> str:
    """A session in a few words."""
    lasted = "" if line.lasted_s is None else clock(line.lasted_s)
    return " · ".join(filter(None, (line.started, line.procedure, line.title, lasted)))


def _small(text: str, parent: QWidget) -> Button:
    button = Button(text, parent)
    button.setProperty("role", "small")
    button.setFixedHeight(HEIGHT)
    return button


class StepProposal(QWidget):
    """How long the steps of a session took, each to be written down as work by one press."""

    def __init__(
        self, steps: Sequence[StepTaken], pen: JobPen, now: Now, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._pen, self._now = pen, now
        layout = QVBoxLayout(self)
        layout.setContentsMargins(28, 0, 0, 4)
        layout.setSpacing(2)
        self.buttons: list[Button] = []
        for step in steps:
            button = _small(self.tr("write down"), self)
            button.setAccessibleName(self.tr("Write down {step}").format(step=step.title))
            button.clicked.connect(partial(self._write, button, step))
            self.buttons.append(button)
            minutes = f"{step.minutes:.0f}" if step.minutes >= 1.0 else "< 1"
            layout.addWidget(Line(button, f"{step.title}: {minutes} min", parent=self))
        if not steps:
            layout.addWidget(Label(self.tr("No step of it took any time."), self))

    def _write(self, button: Button, step: StepTaken, _checked: bool = False) -> None:
        minutes = float(max(1, round(step.minutes)))
        self._pen.write(Worked(self._now(), "", step=step.title, minutes=minutes, entry=secrets.token_hex(4)))
        button.setEnabled(False)


class SessionRow(QWidget):
    """One session of the job."""

    report = Signal(str)
    said = Signal(str)

    def __init__(
        self, session: SessionOfJob, shelf: JobShelf, pen: JobPen, now: Now, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.session = session
        self._shelf, self._pen, self._now = shelf, pen, now
        self.steps: StepProposal | None = None
        self._errand = Errand(self)
        self._errand.done.connect(self._timed)
        line = session.line
        words = session_words(line) if line else self.tr("session {id}: not on this computer")
        told = Label(words.format(id=session.session), self)
        told.setMinimumHeight(HEIGHT)
        told.setWordWrap(True)
        told.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Minimum)
        self.paper = _small(self.tr("report as PDF …"), self)
        self.paper.clicked.connect(self._report)
        self.times = _small(self.tr("what took how long?"), self)
        self.times.clicked.connect(self._time)
        self.out = _small(self.tr("take out"), self)
        self.out.clicked.connect(self._take_out)
        for button in (self.paper, self.times):
            button.setEnabled(line is not None)
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._layout.setSpacing(2)
        self._layout.addWidget(told)
        self._layout.addWidget(Line(self.paper, self.times, self.out, parent=self))

    @Slot()
    def _report(self) -> None:
        self.report.emit(self.session.session)

    @Slot()
    def _take_out(self) -> None:
        self._pen.write(SessionFiled(self._now(), self.session.session, belongs=False))

    @Slot()
    def _time(self) -> None:
        self.times.setEnabled(False)
        self._errand.run(partial(self._shelf.step_times, self.session.session))

    @Slot(object)
    def _timed(self, found: object) -> None:
        if isinstance(found, Exception):
            self.times.setEnabled(True)
            self.said.emit(str(found))
            return
        assert isinstance(found, tuple)
        self.steps = StepProposal(found, self._pen, self._now, self)
        self._layout.addWidget(self.steps)


class SessionsOfJob(QWidget):
    """The sessions, and how one comes in. `said` carries a sentence, `report_to` key and path."""

    said = Signal(str)
    report_to = Signal(str, str)
    read = Signal()

    def __init__(
        self,
        shelf: JobShelf,
        sessions: SessionShelf,
        pen: JobPen,
        now: Now,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._shelf, self._sessions, self._pen, self._now = shelf, sessions, pen, now
        self.rows: list[SessionRow] = []
        self._known: tuple[str, ...] = ()
        self._reading: Errand | None = None
        self._listing: Errand | None = None
        self._asked_for = ""
        self._saving: QFileDialog | None = None
        self.others = Chooser(self.tr("A past session"), self, letter=16.0)
        self.others.hide()
        self.file = _small(self.tr("add a session …"), self)
        self.file.clicked.connect(self._file)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        self._rows = QVBoxLayout()
        self._rows.setSpacing(10)
        layout.addLayout(self._rows)
        layout.addWidget(self.others, 0, Qt.AlignmentFlag.AlignLeft)
        layout.addWidget(self.file, 0, Qt.AlignmentFlag.AlignLeft)

    @property
    def filled(self) -> bool:
        """Whether any session belongs to the job."""
        return bool(self._known)

    @property
    def keys(self) -> frozenset[str]:
        """The sessions of the job, as the shelf of sessions calls them."""
        return frozenset(row.session.line.key for row in self.rows if row.session.line is not None)

    def show_sessions(self, sessions: tuple[str, ...]) -> None:
        """Show the sessions of these identifiers, once their headers are read beside the window."""
        if sessions == self._known:
            return
        self._known = sessions
        self._reading = Errand(self)
        self._reading.done.connect(self._read)
        self._reading.run(partial(self._shelf.sessions, self._pen.key))

    @Slot(object)
    def _read(self, found: object) -> None:
        if isinstance(found, Exception):
            self.said.emit(str(found))
            return
        assert isinstance(found, tuple)
        for row in self.rows:
            self._rows.removeWidget(row)
            row.hide()
            row.deleteLater()
        self.rows = []
        for session in found:
            row = SessionRow(session, self._shelf, self._pen, self._now, self)
            row.report.connect(self.ask_report)
            row.said.connect(self.said)
            self._rows.addWidget(row)
            self.rows.append(row)
            row.show()
        self.read.emit()

    # --- another one ----------------------------------------------------------------------------------

    @Slot()
    def _file(self) -> None:
        if self.others.isHidden():
            self.file.setEnabled(False)
            self._listing = Errand(self)
            self._listing.done.connect(self._listed)
            self._listing.run(self._sessions.sessions)
            return
        self.file_session(str(self.others.currentData()))
        self.others.hide()
        self.file.setText(self.tr("add a session …"))

    @Slot(object)
    def _listed(self, found: object) -> None:
        self.file.setEnabled(True)
        if isinstance(found, Exception):
            self.said.emit(str(found))
            return
        assert isinstance(found, tuple)
        offered = [line for line in found if not any(line.key.endswith(one) for one in self._known)][
            :MOST_OFFERED
        ]
        if not offered:
            self.said.emit(self.tr("There is no other session on this computer."))
            return
        self.others.clear()
        for line in offered:
            self.others.addItem(session_words(line), line.key)
        self.others.show()
        self.others.setFocus(Qt.FocusReason.OtherFocusReason)
        self.file.setText(self.tr("this session belongs to the job"))

    def file_session(self, session: str) -> None:
        """A session belongs to the job from now on."""
        self._pen.do(lambda shelf, key: shelf.file_session(key, session))

    # --- paper ----------------------------------------------------------------------------------------

    @Slot(str)
    def ask_report(self, session: str) -> None:
        """Ask where the report of a session, or with an empty one of the whole job, is to be written."""
        self._asked_for = session or self._pen.key
        if not self._asked_for:
            self.said.emit(self.tr("Nothing is written down yet that a report could say."))
            return
        self._saving = ask_for_file(self, self.tr("Write the service report"), "pdf", self.write_report)

    @Slot(str)
    def write_report(self, path: str) -> None:
        """Write what was asked for."""
        if Path(path).name:
            self.report_to.emit(self._asked_for, path)
