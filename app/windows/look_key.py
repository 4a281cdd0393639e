"""The key that chooses the shades: the system's, light, dark, high contrast, in turn; and the settings."""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt, Slot
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QApplication, QWidget

from app.windows.ports import Workshop
from app.windows.settings_sheet import SettingsKey
from app.windows.theme import THEME, Look
from app.windows.working_screen import WorkingScreen

LOOK_KEY = "Ctrl+L"


class LookKey(QObject):
    """Works on every screen of the window; on the working screen it is among the keys that F1 lists."""

    def __init__(self, workshop: Workshop, window: QWidget) -> None:
        super().__init__(window)
        self._workshop = workshop
        self._window = window
        self._working: WorkingScreen | None = None
        self.settings = SettingsKey(workshop.choices, window)
        for_others = QShortcut(QKeySequence(LOOK_KEY), window)
        for_others.setContext(Qt.ShortcutContext.WindowShortcut)
        for_others.activated.connect(self.next)
        self._shortcut = for_others

    def attach(self, working: WorkingScreen) -> None:
        """Let the working screen's own key do it while that screen is shown."""
        self._working = working
        self.settings.attach(working)
        self._shortcut.setEnabled(False)
        working.look.connect(self.next)
        working.destroyed.connect(self._detach)

    @Slot()
    def _detach(self) -> None:
        self._working = None
        self._shortcut.setEnabled(True)

    @Slot()
    def next(self) -> None:
        """Take up the next look, say which, and remember it."""
        looks = list(Look)
        THEME.look = looks[(looks.index(THEME.look) + 1) % len(looks)]
        app = QApplication.instance()
        if isinstance(app, QApplication):
            THEME.apply(app)
        self._workshop.keep_look(THEME.look.value)
        words = self.tr("Shades: {look}.").format(look=THEME.look.value)
        if self._working is not None:
            self._working.say(words)
