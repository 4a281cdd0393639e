"""Writing a file beside the window, and saying how long it has been going on."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from app.windows.errand import Errand

SLOW_MS = 500
AGAIN_MS = 2000


class Writing(QObject):
    """Writes one file at a time. `said` carries what was written, why not, or that it goes on."""

    said = Signal(str)

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._errand: Errand | None = None
        self._words = self._refused = ""
        self._passed_ms = 0
        self._slow = QTimer(self)
        self._slow.timeout.connect(self._say_so)

    @property
    def busy(self) -> bool:
        """Whether a file is being written."""
        return self._errand is not None

    def write(self, words: str, refused: str, work: Callable[[], str]) -> None:
        """Begin.

        Args:
            words: What is said after half a second and then again and again, such as "The report is written".
            refused: What a refusal begins with; the reason follows in place of `{reason}`.
            work: Writes the file, and answers with the sentence that says so.
        """
        if self._errand is not None:
            self.said.emit(self.tr("A file is being written; ask again when that is done."))
            return
        self._words, self._refused = words, refused
        self._passed_ms = 0
        self._errand = Errand(self)
        self._errand.done.connect(self._done)
        self._slow.start(SLOW_MS)
        self._errand.run(work)

    @Slot()
    def _say_so(self) -> None:
        self._passed_ms += self._slow.interval()
        self._slow.setInterval(AGAIN_MS)
        passed = "" if self._passed_ms < AGAIN_MS else self.tr("{n} s").format(n=self._passed_ms // 1000)
        self.said.emit(f"{self._words} … {passed}".rstrip())

    @Slot(object)
    def _done(self, came: object) -> None:
        self._errand = None
        self._slow.stop()
        refused = isinstance(came, Exception)
        self.said.emit(self._refused.format(reason=came) if refused else str(came))
