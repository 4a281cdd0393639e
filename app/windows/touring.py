"""Beginning the tour and ending it with one key; the tour itself is `app.bench.tour`."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, Qt, Slot
from PySide6.QtGui import QShortcut

from app.windows.answer_bar import OWN
from app.windows.working_screen import WorkingScreen


class TourKey(QObject):
    """Escape on the working screen of a tour; what a person began by a key is given up before."""

    def __init__(self, screen: WorkingScreen, leave: Callable[[], None]) -> None:
        super().__init__(screen)
        self._screen = screen
        self._leave = leave
        key = QShortcut(Qt.Key.Key_Escape, screen)
        key.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        key.activated.connect(self._end)

    @Slot()
    def _end(self) -> None:
        asked = self._screen.answers.shown
        if asked is not None and asked.id.startswith(OWN):
            self._screen.answers.give_up()
        else:
            self._leave()
