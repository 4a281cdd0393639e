"""The window of the job sheets, beside the bench: its own window, so that no key of the bench is caught.

It opens on the list, on a new sheet, or on the job of a session. An alarm at the bench shows here too.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QCloseEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget

from app.windows.jobs.listing import JobList
from app.windows.jobs.ports import JobShelf
from app.windows.jobs.sheet import JobSheetPage
from app.windows.ports import SessionShelf
from app.windows.theme import shades
from app.windows.worded import Label, MessageBox, WordedWidget
from procedures.events import Tier

ALARMED = "!!"  # how the main window's title begins while an alarm waits


def _now() -> datetime:
    return datetime.now(UTC)


class NotKept(MessageBox):
    """Asked when a sheet is left with something on it that could not be kept."""

    def __init__(self, reason: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Warmtrim")
        self.setText(self.tr("Not everything on this sheet is kept. Leave it all the same?"))
        self.setInformativeText(reason[:1].upper() + reason[1:])
        self.leave = self.add_button(self.tr("Leave without it"), MessageBox.ButtonRole.DestructiveRole)
        self.add_harmless(self.tr("Stay"))


class JobsWindow(WordedWidget):
    """The list and one sheet. `filed` carries unit and job once the bench's session is in a job."""

    filed = Signal(str, str)
    begin = Signal(object)  # a JobAtBench

    def __init__(
        self,
        shelf: JobShelf,
        sessions: SessionShelf,
        parent: QWidget | None = None,
        now: Callable[[], datetime] = _now,
    ) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self._shelf, self._sessions, self._now = shelf, sessions, now
        self._bench_session = ""
        self.page: JobSheetPage | None = None
        self.question: NotKept | None = None
        self._then: Callable[[], object] = self.close
        self._forgo = False
        self._alarm = Label(self)
        self._alarm.setWordWrap(True)
        self._alarm.setMargin(10)
        self._alarm.hide()
        self._stack = QStackedWidget(self)
        self.list = JobList(shelf, self)
        self.list.opened.connect(self.open_job)
        self._stack.addWidget(self.list)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self._alarm)
        layout.addWidget(self._stack, 1)
        for keys in ("Esc", "Ctrl+W"):
            shortcut = QShortcut(QKeySequence(keys), self)
            shortcut.activated.connect(self.close)
        self.setWindowTitle(self.tr("Job sheets"))
        self.setMinimumSize(400, 230)
        self.resize(1120, 760)

    @property
    def alarm(self) -> str:
        """What the bench is alarmed about, as shown."""
        return self._alarm.text() if not self._alarm.isHidden() else ""

    @Slot(str)
    def show_alarm(self, title: str) -> None:
        """Show an alarm of the bench, as the main window's title tells it."""
        alarmed = title.startswith(ALARMED)
        ground, ink = shades().banner[Tier.ACT]
        self._alarm.setStyleSheet(f"background: {ground}; color: {ink}; font-size: 20px; font-weight: 700;")
        self._alarm.setText(title.removeprefix(ALARMED).strip() if alarmed else "")
        self._alarm.setVisible(alarmed)

    # --- what is shown --------------------------------------------------------------------------------

    def show_list(self) -> None:
        """Show the jobs; what was on a sheet is kept first."""
        if self._leave(self.show_list):
            self._stack.setCurrentWidget(self.list)
            self.list.refresh()
            self.list.finder.setFocus(Qt.FocusReason.OtherFocusReason)
            self.come_forward()

    def open_job(self, key: str, bench_session: str | None = None) -> None:
        """Show a job, or with an empty key a new one."""
        if bench_session is not None:
            self._bench_session = bench_session
        if not self._leave(partial(self.open_job, key, bench_session)):
            return
        page = JobSheetPage(
            self._shelf, self._sessions, key, self._now, bench_session=self._bench_session, parent=self
        )
        page.back.connect(self.show_list)
        page.filed.connect(self.filed)
        page.begin.connect(self.begin)
        self.page = page
        self._stack.addWidget(page)
        self._stack.setCurrentWidget(page)
        self.come_forward()
        page.go_to("customer" if key else "unit")

    def take_session(self, session: str) -> None:
        """Which session is at the bench; it is offered on every sheet."""
        self._bench_session = session

    @property
    def session(self) -> str:
        """The session that is offered on every sheet."""
        return self._bench_session

    def come_forward(self) -> None:
        """Show the window before the others."""
        self.show()
        self.raise_()
        self.activateWindow()

    def keep(self, then: Callable[[], object]) -> bool:
        """Keep what is on the sheet; False while that cannot be, which is asked about before `then`."""
        if self.page is None or self._forgo:
            return True
        trouble = self.page.finish()
        if not trouble:
            return True
        self._then = then
        if self.question is None:
            self.question = NotKept(trouble, self)
            self.question.buttonClicked.connect(self._answered)
            self.question.open()
        return False

    def _leave(self, then: Callable[[], object]) -> bool:
        """Let go of the sheet; False while something on it is not kept, which is asked about."""
        page = self.page
        if page is None:
            return True
        if not self.keep(then):
            return False
        if not self._forgo:
            page.let_go()
        self._forgo = False
        self.page = None
        self._stack.removeWidget(page)
        page.hide()
        page.deleteLater()
        return True

    @Slot(object)
    def _answered(self, button: object) -> None:
        question, self.question = self.question, None
        if question is not None and button is question.leave:
            self._forgo = True
            self._then()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Keep what is on the sheet."""
        if self._leave(self.close):
            event.accept()
        else:
            event.ignore()

    def close_at_once(self) -> None:
        """The program ends: keep what can be kept, and go."""
        if self.page is not None:
            self.page.finish()
            self._forgo = True
        self.close()
