"""Getting the rest of the program ready beside the window, in the order in which it is needed."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, cast

from PySide6.QtCore import QObject, QTimer, Slot

from app.windows.errand import Errand

if TYPE_CHECKING:
    from app.windows.main_window import MainWindow
    from app.windows.ports import Workshop

FIRST_FRAME_MS = 30  # the window is drawn before anything else is got ready


def first_needed(make: Callable[[], Workshop]) -> Workshop:
    """Make the workshop, and import what the first key shows."""
    import app.windows.working_screen  # noqa: F401

    return make()


def needed_later() -> None:
    """Import what later keys show, so that none of them waits."""
    import app.windows.amplifier_form
    import app.windows.assessment_sheet
    import app.windows.file_check_screen
    import app.windows.naming
    import app.windows.reviewing
    import app.windows.sessions_screen
    import app.windows.target_form
    import app.windows.touring  # noqa: F401


class Readiness(QObject):
    """Gets the workshop ready beside the window, and lets the window begin when it is there."""

    def __init__(
        self,
        window: MainWindow,
        make: Callable[[], Workshop],
        begin: Callable[[MainWindow], None] | None,
        afterwards: Callable[[], None],
    ) -> None:
        super().__init__(window)
        self._window = window
        self._make = make
        self._begin = begin
        self._afterwards = afterwards
        self._workshop = Errand(self)
        self._workshop.done.connect(self._came)
        self._left = Errand(self)
        self._left.done.connect(self._found)
        self._later = Errand(self)
        self._shown = QTimer(self)
        self._shown.setSingleShot(True)
        self._shown.timeout.connect(self._set_out)
        self._shown.start(FIRST_FRAME_MS)

    @Slot()
    def _set_out(self) -> None:
        self._workshop.run(lambda: first_needed(self._make))

    @Slot(object)
    def _came(self, came: object) -> None:
        if isinstance(came, Exception):
            self._window.start.be_unready(str(came))
            return
        workshop = cast("Workshop", came)
        self._window.take_workshop(workshop)
        self._left.run(workshop.unfinished)  # goes through every session's ends

    @Slot(object)
    def _found(self, left: object) -> None:
        if isinstance(left, tuple):
            self._window.ask_about(left)
        if self._begin is not None:
            self._begin(self._window)
        self._later.run(self._rest)

    def _rest(self) -> None:
        needed_later()
        self._afterwards()
