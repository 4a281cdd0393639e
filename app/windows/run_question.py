"""The question before a run is ended, asked without holding anything up: the record goes on behind it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QPushButton, QWidget

from app.windows.worded import MessageBox


class RunQuestion(MessageBox):
    """End it, go on (the default), or, where `leave_open` has words, leave it open for the next start."""

    def __init__(
        self, parent: QWidget, text: str, end: str, *, leave_open: str = "", then: Callable[[int], None]
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Warmtrim")
        self.setText(text)
        self.setInformativeText(
            QCoreApplication.translate(
                "RunQuestion",
                "The readings are kept. The program cannot switch the amplifier off: do that yourself.",
            )
        )
        self._end = self.add_button(end, MessageBox.ButtonRole.AcceptRole)
        self._open: QPushButton | None = None
        if leave_open:
            self._open = self.add_button(leave_open, MessageBox.ButtonRole.ActionRole)
        self.ask(QCoreApplication.translate("RunQuestion", "Go on"), then)

    @property
    def ended(self) -> bool:
        """Whether the run is to be ended."""
        return self.clickedButton() is self._end

    @property
    def left_open(self) -> bool:
        """Whether the record is to be left open, so that the next start asks about it."""
        return self._open is not None and self.clickedButton() is self._open
