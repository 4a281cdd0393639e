"""Opening a past session beside the window, and saying so when it takes longer than half a second."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from app.windows.errand import Errand
from app.windows.ports import SessionShelf

SLOW_MS = 500


class Reviewing(QObject):
    """Opens one session at a time. `opened` carries the bench; `said` a sentence, empty when all is well."""

    opened = Signal(object)
    said = Signal(str)

    def __init__(self, shelf: SessionShelf, parent: QObject) -> None:
        super().__init__(parent)
        self._shelf = shelf
        self._errand: Errand | None = None
        self._slow = QTimer(self)
        self._slow.setSingleShot(True)
        self._slow.setInterval(SLOW_MS)
        self._slow.timeout.connect(self._say_so)

    @Slot(str)
    def open(self, key: str) -> None:
        """Begin, unless a session is being opened."""
        if self._errand is None:
            self._errand = Errand(self)
            self._errand.done.connect(self._done)
            self._slow.start()
            self._errand.run(partial(self._shelf.open, key))

    @Slot()
    def _say_so(self) -> None:
        self.said.emit(self.tr("Opening the session: its readings are being read …"))

    @Slot(object)
    def _done(self, found: object) -> None:
        self._errand = None
        self._slow.stop()
        self.said.emit(str(found) if isinstance(found, Exception) else "")
        if not isinstance(found, Exception):
            self.opened.emit(found)
