"""Opening the job sheets from every screen of the main window."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, Qt, Slot

from app.windows.errand import Errand
from app.windows.ports import Workshop
from app.windows.start_lists import JobAtBench

if TYPE_CHECKING:  # the sheets are imported when one is asked for
    from app.windows.jobs.window import JobsWindow
    from app.windows.main_window import MainWindow
    from app.windows.working_screen import WorkingScreen


class JobKeys(QObject):
    """Opens the list, a new sheet, or the job of a session, in a window beside the main one."""

    def __init__(self, workshop: Workshop, main: MainWindow) -> None:
        super().__init__(main)
        self._workshop = workshop
        self._main = main
        self._working: WorkingScreen | None = None
        self._asking: Errand | None = None
        self.window: JobsWindow | None = None
        main.start.jobs.connect(self.show_list)
        main.start.take_in.connect(self.new_job)
        main.windowTitleChanged.connect(self._titled)
        main.closing.connect(self._close)
        main.installEventFilter(self)

    @Slot(str)
    def _titled(self, title: str) -> None:
        """An alarm stands in the main window's title."""
        if self.window is not None:
            self.window.show_alarm(title)

    def attach(self, working: WorkingScreen) -> None:
        """Let the working screen's key open the job of its session."""
        self._working = working
        working.job.connect(self._of_bench)
        working.destroyed.connect(self._detach)

    @Slot()
    def _detach(self) -> None:
        self._working = None

    def _opened(self) -> JobsWindow | None:
        """The window; None, with a sentence, where there can be no jobs."""
        from app.windows.jobs.window import JobsWindow

        shelf = self._workshop.jobs
        if shelf is None:
            self._main.complain(self.tr("There is no place for job sheets here."))
            return None
        if self.window is None:
            self.window = JobsWindow(shelf, self._workshop.shelf, self._main)
            self.window.filed.connect(self._filed)
            self.window.begin.connect(self._begin)
            self.window.show_alarm(self._main.windowTitle())
        return self.window

    @Slot()
    def show_list(self) -> None:
        """Show the jobs."""
        if window := self._opened():
            window.take_session(self._bench_session())
            window.show_list()

    @Slot()
    def new_job(self) -> None:
        """Show an empty sheet."""
        if window := self._opened():
            window.open_job("", self._bench_session())

    def _bench_session(self) -> str:
        """The session that is at the bench now, by the name of its folder; nothing of a tour is kept."""
        picture = self._working.bench.picture() if self._working is not None else None
        return picture.folder.name if picture is not None and picture.folder and not picture.tour else ""

    @Slot()
    def _of_bench(self) -> None:
        self.of_session(self._bench_session())

    @Slot(str)
    def of_session(self, session: str) -> None:
        """Show the job of a session; where it has none, the list, to choose one or begin one."""
        window = self._opened()
        if window is None or self._asking is not None:
            return
        if window.isVisible() and window.page is not None and session == window.session:
            window.come_forward()
            return
        window.take_session(session)
        if not session:
            window.show_list()
            return
        self._asking = Errand(self)
        self._asking.done.connect(self._answered)
        self._asking.run(partial(self._job_of, session))

    def _job_of(self, session: str) -> str:
        shelf = self._workshop.jobs
        return shelf.job_of(session) if shelf is not None else ""

    @Slot(object)
    def _answered(self, found: object) -> None:
        self._asking = None
        if self.window is None:
            return
        if isinstance(found, str) and found:
            self.window.open_job(found)
        else:
            self.window.show_list()

    @Slot(object)
    def _begin(self, job: object) -> None:
        """Fill the start screen in for a job; a bench that is shown is left first."""
        assert isinstance(job, JobAtBench)
        main, page = self._main, self.window.page if self.window is not None else None
        if main.working is not None or main.papers.shown:
            if page is not None:
                page.say(self.tr("The main window shows something else: leave that first, then come back."))
            return
        main.show_start()
        main.start.for_job.take(job)
        main.start.job_button.setFocus(Qt.FocusReason.OtherFocusReason)
        main.show()
        main.raise_()
        main.activateWindow()

    @Slot(str, str)
    def _filed(self, unit: str, job: str) -> None:
        """A session that is still being recorded takes its names from the bench."""
        if self._working is None or self._working.bench.picture().review:
            return
        bench = self._working.bench
        try:
            bench.name(unit or bench.picture().unit_name, job)
        except (OSError, ValueError) as refusal:
            self._working.say(self.tr("Not named: {reason}").format(reason=refusal))
            return
        self._working.say(self.tr("This session belongs to job {job}.").format(job=job))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Before the main window closes, what stands on a sheet is kept, or it is asked what to do."""
        closing = event.type() == QEvent.Type.Close and watched is self._main
        if not closing or self.window is None or self.window.question is not None:
            return False
        if self.window.keep(self._main.close):
            return False
        event.ignore()
        return True

    @Slot()
    def _close(self) -> None:
        if self.window is not None:
            self.window.close_at_once()
