"""Says how far the archive has come where older sessions are being filed anew, until that is over."""

from __future__ import annotations

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from app.windows.finding import Finding
from app.windows.paper_ports import Papers

FIRST_MS, AGAIN_MS = 500, 2000
PATIENCE = 5  # looks without any change: nobody is at it, or what is left cannot be read


class RenewalNotice(QObject):
    """Looks again and again how many are left. `said` carries a sentence, empty when it is over."""

    said = Signal(str)

    def __init__(self, papers: Papers, parent: QObject) -> None:
        super().__init__(parent)
        self._papers = papers
        self._left = 0
        self._unchanged = 0
        self._looking = Finding(self)
        self._looking.found.connect(self._found)
        self._again = QTimer(self)
        self._again.setSingleShot(True)
        self._again.timeout.connect(self.look)

    def begin(self) -> None:
        """Look in half a second: what is over by then is not worth a word."""
        self._left, self._unchanged = 0, 0
        self._again.start(FIRST_MS)

    @property
    def idle(self) -> bool:
        """Whether no look is under way."""
        return self._looking.idle

    @Slot()
    def look(self) -> None:
        """Look now."""
        self._looking.ask(self._papers.outdated)

    @Slot(object)
    def _found(self, left: object) -> None:
        before, self._left = self._left, left if isinstance(left, int) else 0
        self._unchanged = self._unchanged + 1 if self._left == before else 0
        if self._left and self._unchanged < PATIENCE:
            words = self.tr("The archive is being renewed in the background: {n} older sessions are left.")
            self.said.emit(words.format(n=self._left))
            self._again.start(AGAIN_MS)
        elif before:
            self.said.emit("")
