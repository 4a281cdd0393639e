"""The one window: which screen is shown, the draw timer, and what concerns the desktop.

Screens say what a person wants by signals; here a bench is opened, shown and let go again. A refusal is one
sentence on the screen where it was asked for.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, cast

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QCloseEvent
from PySide6.QtWidgets import QApplication, QFileDialog, QMainWindow, QStackedWidget, QWidget

from app.windows.number_sign import signed
from app.windows.run_question import RunQuestion
from app.windows.saving import ask_for_csv
from app.windows.scrolling import scrolling
from app.windows.start_screen import StartScreen
from app.windows.worded import Worded
from app.windows.writing import Writing

if TYPE_CHECKING:  # what the start screen does without is imported once the window is up
    from app.windows.meter_dialogs import MetersDialog
    from app.windows.naming import NamingDialog
    from app.windows.ports import BenchPort, Unfinished, Workshop
    from app.windows.recovery import RecoveryDialog
    from app.windows.sessions_screen import SessionsScreen
    from app.windows.start_lists import StartLists
    from app.windows.target_form import TargetForm
    from app.windows.working_screen import WorkingScreen

FRAME_MS = 45


def _nothing_to_lose(_close: Callable[[], object]) -> bool:
    """Nothing can be edited before there is a workshop."""
    return False


class MainWindow(Worded, QMainWindow):
    """Shows one screen at a time. Until there is a workshop it shows the start screen with its `lists`."""

    closing = Signal()

    def __init__(
        self,
        workshop: Workshop | None = None,
        parent: QWidget | None = None,
        seconds: Callable[[], float] = time.perf_counter,
        lists: StartLists | None = None,
    ) -> None:
        super().__init__(parent)
        self._workshop: Workshop
        self._seconds = seconds
        self._bench: BenchPort | None = None
        self._working: WorkingScreen | None = None
        self._sessions: SessionsScreen | None = None
        self._question: RunQuestion | None = None
        self._naming: NamingDialog | None = None
        self.meters: MetersDialog | None = None
        self._saving: QFileDialog | None = None
        self._writing = Writing(self)
        self._writing.said.connect(self.complain)
        self._holds: Callable[[Callable[[], object]], bool] = _nothing_to_lose
        self._closing = False
        self._alarmed: frozenset[str] = frozenset()
        self._stack = QStackedWidget(self)
        self.setCentralWidget(self._stack)
        self._start = StartScreen(cast("StartLists", lists or workshop), self)
        self._start_page = scrolling(self._start, self)
        self._stack.addWidget(self._start_page)
        self._start.watch.connect(self._watch)
        self._start.watch_address.connect(self._watch_address)
        self._start.watch_typed.connect(self._watch_typed)
        self._start.find_meters.connect(self._find_meters)
        self._start.guided.connect(self._guided)
        self._start.tour.connect(self.begin_tour)
        self._start.sessions.connect(self.show_sessions)
        self.setWindowTitle("Warmtrim")
        self.setMinimumSize(400, 230)
        self.resize(1280, 800)
        self._frames = QTimer(self)
        self._frames.setInterval(FRAME_MS)
        self._frames.setTimerType(Qt.TimerType.PreciseTimer)
        self._frames.timeout.connect(self.draw)
        self._frames.start()
        if workshop is not None:
            self.take_workshop(workshop)

    def take_workshop(self, workshop: Workshop) -> None:
        """From now on things can be begun."""
        from app.windows.audio_dialog import AudioKeys
        from app.windows.jobs.keys import JobKeys
        from app.windows.look_key import LookKey
        from app.windows.meter_dialogs import InputGate
        from app.windows.paper_screens import PaperScreens
        from app.windows.recollecting import Recollecting
        from app.windows.recovery import Recovering
        from app.windows.sound_dialog import SoundKeys

        self._workshop = workshop
        self._recovering = Recovering(workshop, self)
        self._recovering.opened.connect(self.show_bench)
        self._recovering.closed.connect(self._start.refresh)
        self.recollecting = Recollecting(workshop, self._open, self)
        self._start.simulated.connect(self.recollecting.simulated)
        self.gate = InputGate(workshop, self)
        self.gate.told.connect(self.complain)
        self.gate.earthed.connect(self._is_earthed)
        self.sound_keys = SoundKeys(workshop.sound, self)
        self.audio_keys = AudioKeys(workshop.audio, self)
        self.look_key = LookKey(workshop, self)
        self.job_keys = JobKeys(workshop, self)
        self._start.settings.connect(self.look_key.settings.open)
        self.papers = PaperScreens(workshop, self._start, self._stack)
        self.papers.left.connect(self._papers_left)
        self._holds = self.papers.holds
        self._start.be_ready(workshop)

    # --- facts for others -----------------------------------------------------------------------------

    @property
    def start(self) -> StartScreen:
        """The start screen."""
        return self._start

    @property
    def working(self) -> WorkingScreen | None:
        """The working screen, while there is a bench."""
        return self._working

    @property
    def sessions(self) -> SessionsScreen | None:
        """The past sessions, while they are shown."""
        return self._sessions

    @property
    def form(self) -> TargetForm | None:
        """The target form, while it is shown."""
        return self.papers.targets

    @property
    def question(self) -> RunQuestion | None:
        """The question that waits for an answer."""
        return self._question

    @property
    def recovery(self) -> RecoveryDialog | None:
        """The dialog about a session that was left open."""
        return self._recovering.dialog

    # --- frames ---------------------------------------------------------------------------------------

    @Slot()
    def draw(self) -> None:
        """Draw a frame if something has changed; tell the desktop of a new alarm."""
        if self._working is None or not self._working.refresh():
            return
        unseen = self._working.unseen
        alarmed = frozenset(a.alarm.id + a.alarm.tier for a in unseen)
        if alarmed != self._alarmed:
            self.setWindowTitle(f"!! {signed(unseen[0].alarm.text)}" if unseen else "Warmtrim")
        if alarmed - self._alarmed:
            QApplication.alert(self)
        self._alarmed = alarmed

    @Slot()
    def measure_anew(self) -> None:
        """The window is on a screen whose millimetres are others."""
        if self._working is not None:
            self._working.measure_anew()

    # --- beginning ------------------------------------------------------------------------------------

    @Slot(str)
    def _watch(self, meter: str) -> None:
        self.gate.first([meter], lambda: self._open(self._workshop.watch, meter))

    @Slot(str)
    def _watch_address(self, address: str) -> None:
        self.gate.first([address], lambda: self._open(self._workshop.watch_address, address))

    @Slot(float)
    def _watch_typed(self, volts: float) -> None:
        if self._open(self._workshop.watch_typed, volts):
            self.gate.first(["typed"], bool)  # the value comes before the question

    @Slot(str)
    def _is_earthed(self, address: str) -> None:
        if address == "typed" and self._bench is not None and self._working is not None:
            words = self.tr("Take the leads off: an earthed meter must not touch live test points.")
            self._bench.note(words)
            self._working.say(words)

    @Slot(str, str, str)
    def _guided(self, amplifier: str, procedure: str, serial: str) -> None:
        begin = partial(self.recollecting.guided, amplifier, procedure, serial, self._start.for_job.key)
        self.gate.first(self._workshop.job_meters(amplifier), begin)

    @Slot(str)
    def _find_meters(self, address: str) -> None:
        from app.windows.meter_dialogs import MetersDialog

        self.meters = MetersDialog(self._workshop, address, self)
        self.meters.watch.connect(self._watch_address)
        self.meters.open()

    def first_start(self) -> None:
        """Begin the tour by itself if it was never shown; what was left open comes before."""
        if self.recovery is None and self._at_start() and self._workshop.tour_wanted():
            self.begin_tour()

    def _at_start(self) -> bool:
        return self._stack.currentWidget() is self._start_page

    @Slot()
    def begin_tour(self) -> None:
        """Show the tour."""
        from app.windows.touring import TourKey

        if self._open(self._workshop.tour) and self._working is not None:
            TourKey(self._working, self.leave_bench)

    def _open(self, opening: Callable[..., BenchPort], *choice: object) -> bool:
        """Open a bench and show it; a refusal is said on the start screen. What comes too late opens none."""
        if not self._at_start():
            self.complain(self.tr("Something else was begun meanwhile: ask for it again from the start."))
            return False
        QApplication.setOverrideCursor(Qt.CursorShape.BusyCursor)
        try:
            bench = opening(*choice)
        except (OSError, ValueError) as refusal:
            self.complain(str(refusal))
            return False
        finally:
            QApplication.restoreOverrideCursor()
        self.show_bench(bench)
        return True

    @Slot(str)
    def complain(self, sentence: str) -> None:
        """Say on the screen that is shown why something could not be done, or that it was."""
        if self._working is not None:
            self._working.say(sentence)
        elif self._sessions is not None and self._stack.currentWidget() is self._sessions:
            self._sessions.say(sentence)
        else:
            self._start.complain(sentence)

    def show_bench(self, bench: BenchPort) -> None:
        """Show a bench that has been opened."""
        from app.windows.working_screen import WorkingScreen

        self._start.complain("")
        self._bench = bench
        self._working = WorkingScreen(bench, self, self._seconds)
        self._working.ask_stop.connect(self.ask_stop)
        self._working.leave.connect(self.leave_bench)
        self._working.export.connect(self._export)
        self._working.name.connect(self._name)
        self._working.full.connect(self._full)
        self.sound_keys.attach(self._working)
        self.audio_keys.attach(self._working)
        self.look_key.attach(self._working)
        self.job_keys.attach(self._working)
        self._stack.setCurrentIndex(self._stack.addWidget(self._working))

    # --- other screens --------------------------------------------------------------------------------

    @Slot()
    def show_sessions(self) -> None:
        """Show the past sessions."""
        from app.windows.reviewing import Reviewing
        from app.windows.sessions_screen import SessionsScreen

        self._sessions = SessionsScreen(self._workshop.shelf, self, self._workshop.papers)
        reviewing = Reviewing(self._workshop.shelf, self._sessions)
        reviewing.opened.connect(self._reviewed)
        reviewing.said.connect(self._sessions.say)
        self._sessions.open_session.connect(reviewing.open)
        self._sessions.job.connect(self.job_keys.of_session)
        self._sessions.back.connect(self.show_start)
        self._stack.setCurrentIndex(self._stack.addWidget(self._sessions))

    @Slot(object)
    def _reviewed(self, bench: object) -> None:
        if self._bench is None and self._stack.currentWidget() is self._sessions:
            self.show_bench(cast("BenchPort", bench))

    @Slot(str)
    def _papers_left(self, amplifier: str) -> None:
        self.show_start()
        self._start.choose_amplifier(amplifier)

    @Slot()
    def show_start(self) -> None:
        """Back to the start screen; what was shown is let go."""
        self._drop(self._sessions)
        self._sessions = None
        self._start.refresh()
        self._stack.setCurrentWidget(self._start_page)
        self._recovering.ask()

    def _drop(self, screen: QWidget | None) -> None:
        if screen is not None:
            self._stack.removeWidget(screen)
            screen.hide()
            screen.deleteLater()

    # --- ending ---------------------------------------------------------------------------------------

    def _running(self) -> bool:
        picture = self._bench.picture() if self._bench is not None else None
        return picture is not None and picture.view.ended is None and not (picture.review or picture.tour)

    def _asked(self) -> RunQuestion | None:
        """The question that was just answered."""
        question, self._question = self._question, None
        return question

    def _said_yes(self) -> bool:
        return (question := self._asked()) is not None and question.ended

    @Slot()
    def ask_stop(self) -> None:
        """Ask before a run is ended."""
        if self._running() and self._question is None:
            words = self.tr("End this run?"), self.tr("End the run")
            self._question = RunQuestion(self, *words, then=self._stop_answered)

    @Slot(int)
    def _stop_answered(self, _code: int) -> None:
        if self._said_yes() and self._bench is not None:
            self._bench.stop(self.tr("Stopped by a person."))

    @Slot()
    def leave_bench(self) -> None:
        """Back to the start; while a run is on, ask first."""
        if self._running():
            if self._question is None:
                text = self.tr("A run is on. End it and go back to the start?")
                self._question = RunQuestion(self, text, self.tr("End it"), then=self._leave_answered)
            return
        self._let_go()
        if self._sessions is not None:
            self._stack.setCurrentWidget(self._sessions)
        else:
            self.show_start()

    @Slot(int)
    def _leave_answered(self, _code: int) -> None:
        if self._said_yes():
            self._let_go()
            self.show_start()

    def _let_go(self) -> None:
        working, bench, self._working, self._bench = self._working, self._bench, None, None
        self._alarmed = frozenset()
        self.setWindowTitle("Warmtrim")
        if working is not None:
            working.close_down()
            self._drop(working)
        if bench is not None:
            bench.leave()

    def closeEvent(self, event: QCloseEvent) -> None:
        """While a run is on, ask; the record goes on until the answer is yes."""
        if not self._closing and self._holds(self.close):
            event.ignore()
            return
        if self._running() and not self._closing:
            event.ignore()
            if self._question is None:
                text, end = self.tr("A run is on. End it and close the window?"), self.tr("End and close")
                outlives = self._bench is not None and self._bench.practice is None
                later = self.tr("Close, and leave it open for the next start") if outlives else ""
                answered = self._close_answered
                self._question = RunQuestion(self, text, end, leave_open=later, then=answered)
            return
        self._frames.stop()
        self._let_go()
        self.closing.emit()
        event.accept()

    @Slot(int)
    def _close_answered(self, _code: int) -> None:
        question = self._asked()
        if question is None or not (question.ended or question.left_open):
            return
        if question.left_open and self._bench is not None:
            self._bench.leave_open()
        self.close_at_once()

    def close_at_once(self) -> None:
        """Close without asking: the person pressed Ctrl+C, or the desktop ends."""
        self._closing = True
        self.close()

    # --- what concerns the desktop --------------------------------------------------------------------

    @Slot()
    def _export(self) -> None:
        if self._bench is None:
            return
        self._saving = ask_for_csv(self, self.tr("Export the readings as CSV"), self.export_to)

    @Slot(str)
    def export_to(self, path: str) -> None:
        """Write the readings so far."""
        bench = self._bench
        if bench is not None:
            words = self.tr("The readings are being written"), self.tr("Not exported: {reason}")
            self._writing.write(*words, lambda: bench.export_csv(Path(path)))

    @Slot()
    def _name(self) -> None:
        from app.windows.naming import NamingDialog

        if self._bench is not None:
            self._naming = NamingDialog(self)
            self._naming.named.connect(self._named)
            self._naming.open()

    @Slot(str, str)
    def _named(self, unit: str, job: str) -> None:
        if self._bench is None:
            return
        try:
            self._bench.name(unit, job)
            self.complain(self.tr("Named. Every reading is kept."))
        except (OSError, ValueError) as refusal:
            self.complain(self.tr("Not named: {reason}").format(reason=refusal))

    @Slot()
    def _full(self) -> None:
        (self.showNormal if self.isFullScreen() else self.showFullScreen)()

    def ask_about(self, left: tuple[Unfinished, ...]) -> None:
        """Ask about the newest session that was left open; while a bench is shown, when that is left."""
        self._recovering.keep(left)
        if self._working is None:
            self._recovering.ask()
