"""Asking the archive beside the window, the newest question only."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QCoreApplication, QObject, Signal, Slot

from app.windows.errand import Errand


class Finding(QObject):
    """One question at a time; of those that wait the newest is asked next, and only its answer is given.

    `found` carries the answer, `refused` a sentence.
    """

    found = Signal(object)
    refused = Signal(str)

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._errand: Errand | None = None
        self._next: Callable[[], object] | None = None
        self._void = False

    def ask(self, question: Callable[[], object]) -> None:
        """Ask now, or as soon as the question before has been answered."""
        if self._errand is not None:
            self._next, self._void = question, True
            return
        self._void = False
        # The application's own: a screen that is left meanwhile must not delete it under the thread's hands.
        self._errand = Errand(QCoreApplication.instance())
        self._errand.done.connect(self._answered)
        self._errand.done.connect(self._errand.deleteLater)
        self._errand.run(question)

    @property
    def idle(self) -> bool:
        """Whether no question is under way."""
        return self._errand is None

    def forget(self) -> None:
        """Nobody wants to know any more."""
        self._next, self._void = None, True

    @Slot(object)
    def _answered(self, answer: object) -> None:
        self._errand = None
        void, question = self._void, self._next
        self._next = None
        if question is not None:
            self.ask(question)
        elif not void and isinstance(answer, Exception):
            self.refused.emit(str(answer))
        elif not void:
            self.found.emit(answer)
