"""Running the window: one application, its looks, Ctrl+C, and what happens when something breaks."""

from __future__ import annotations

import signal
import sys
import traceback
from collections.abc import Callable
from types import FrameType, TracebackType
from typing import TYPE_CHECKING

from PySide6.QtCore import QByteArray, QObject, Qt, QTimer, Signal, Slot
from PySide6.QtWidgets import QApplication, QWidget

from app.language import SYSTEM
from app.windows.dialog_fit import DialogFit
from app.windows.main_window import MainWindow
from app.windows.readiness import Readiness
from app.windows.screen_follower import ScreenFollower
from app.windows.theme import THEME, Look
from app.windows.worded import MessageBox, speak

if TYPE_CHECKING:
    from app.windows.ports import Workshop
    from app.windows.start_lists import StartLists

AWAKE_MS = 200
TITLE_BAR = 40  # pixels that a window manager may add above the window


def _to_stderr(details: str) -> None:
    """Where details of an error go when there is no log."""
    sys.stderr.write(details)


def _keep_nothing(_geometry: str) -> None:
    """Remember no geometry."""


def _do_nothing() -> None:
    """Nothing waits for its turn."""


class Guard(QObject):
    """Turns an unexpected error into one sentence, and Ctrl+C into a clean end.

    An exception in a slot does not stop Qt: the person is told once, the record goes on.
    """

    broken = Signal(str)

    def __init__(self, window: MainWindow, report: Callable[[str], None]) -> None:
        super().__init__(window)
        self._window = window
        self._report = report
        self._told = False
        self._box: MessageBox | None = None
        # Python sees a signal only while it runs: this timer gives it the chance.
        self._awake = QTimer(self)
        self._awake.setInterval(AWAKE_MS)
        self._awake.timeout.connect(self._nothing)
        self._awake.start()
        self.broken.connect(self._tell, Qt.ConnectionType.QueuedConnection)

    @property
    def box(self) -> MessageBox | None:
        """The dialog that tells of the error."""
        return self._box

    def caught(self, kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        """`sys.excepthook`: keep the details, show a sentence."""
        if issubclass(kind, KeyboardInterrupt):
            self._window.close_at_once()
            return
        self._report("".join(traceback.format_exception(kind, error, trace)))
        self.broken.emit(f"{kind.__name__}: {error}")

    def interrupted(self, _number: int, _frame: FrameType | None) -> None:
        """Ctrl+C: close the window and the record with it."""
        self._window.close_at_once()

    @Slot()
    def _nothing(self) -> None:
        """Let Python look for signals."""

    @Slot(str)
    def _tell(self, what: str) -> None:
        if self._told:
            return
        self._told = True
        box = MessageBox(self._window)
        box.setWindowTitle("Warmtrim")
        box.setText(
            self.tr(
                "Something in this window went wrong ({what}). Recording and alarms go on; "
                "if the screen stays behind, close the window and open the session again."
            ).format(what=what)
        )
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._box = box
        box.open()


def make_application(argv: list[str]) -> QApplication:
    """The application, or the one that there is. Names are set before settings could be read."""
    app = QApplication.instance()
    if not isinstance(app, QApplication):
        app = QApplication(argv)
    app.setApplicationName("Warmtrim")
    app.setOrganizationName("Warmtrim")
    app.setApplicationDisplayName("Warmtrim")
    if app.findChild(DialogFit) is None:
        DialogFit(app)
    return app


class Follower(QObject):
    """Takes up the desktop's changes (light, dark, high contrast) while the look is the system's."""

    def __init__(self, app: QApplication) -> None:
        super().__init__(app)
        self._app = app
        hints = app.styleHints()
        hints.colorSchemeChanged.connect(self._changed)
        self._contrast = hints.accessibility()
        self._contrast.contrastPreferenceChanged.connect(self._changed)

    @Slot()
    def _changed(self) -> None:
        if THEME.look is Look.SYSTEM:
            THEME.apply(self._app)


def show_whole(window: QWidget) -> None:
    """Show a window so that all of it, its title bar included, is on the screen."""
    room = window.screen().availableGeometry()
    if window.width() > room.width() or window.height() + TITLE_BAR > room.height():
        window.showMaximized()
    else:
        window.show()


def geometry_text(window: QWidget) -> str:
    """Size and place of the window, to be kept."""
    return bytes(window.saveGeometry().toBase64().data()).decode("ascii")


def take_geometry(window: QWidget, text: str) -> None:
    """Take up size and place as they were kept; nonsense changes nothing."""
    if text:
        window.restoreGeometry(QByteArray.fromBase64(text.encode("ascii", "ignore")))


def run_window(
    lists: StartLists,
    make: Callable[[], Workshop],
    *,
    look: Look = Look.SYSTEM,
    spoken: str = SYSTEM,
    geometry: str = "",
    keep_geometry: Callable[[str], None] = _keep_nothing,
    report: Callable[[str], None] = _to_stderr,
    begin: Callable[[MainWindow], None] | None = None,
    afterwards: Callable[[], None] = _do_nothing,
    argv: list[str] | None = None,
) -> int:
    """Show the window until it is closed; the exit code.

    Args:
        lists: What the start screen offers until there is a workshop.
        make: Makes the workshop, that is what can be begun; called beside the window once that is shown.
        spoken: The setting of the language: a code, or the desktop's.
        look: Which shades; SYSTEM follows the desktop.
        geometry: The window's size and place as `keep_geometry` was given it.
        keep_geometry: Called once at the end.
        report: Takes the details of an unexpected error, for a log file.
        begin: Called once things can be begun, such as to open a bench at once.
        afterwards: Called beside the window when nobody waits for anything any more.
        argv: Arguments for Qt.
    """
    app = make_application(argv if argv is not None else sys.argv[:1])
    speak(spoken)
    THEME.look = look
    THEME.apply(app)
    follower = Follower(app)
    window = MainWindow(lists=lists)
    take_geometry(window, geometry)
    guard = Guard(window, report)
    # Queued, so that a window that is closed before the loop turns ends the loop as well.
    window.closing.connect(app.quit, Qt.ConnectionType.QueuedConnection)
    hook, handler = sys.excepthook, signal.getsignal(signal.SIGINT)
    sys.excepthook = guard.caught
    signal.signal(signal.SIGINT, guard.interrupted)
    screens = ScreenFollower(window)
    screens.changed.connect(window.measure_anew)
    try:
        show_whole(window)
        screens.follow(window.windowHandle())
        Readiness(window, make, begin, afterwards)
        code = app.exec()
        keep_geometry(geometry_text(window))
    finally:
        sys.excepthook = hook
        signal.signal(signal.SIGINT, handler)
        follower.deleteLater()
        screens.let_go()
        window.close_at_once()
        window.deleteLater()
        del window, guard, screens
    return code
