"""After a crash or a power cut: what was left open, and how to go on with it."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QDialog, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from app.windows.ports import Unfinished
from app.windows.theme import shades
from app.windows.wording import supply_words


class RecoveryDialog(QDialog):
    """Asks about one unfinished session. `off_minutes` is None when the amplifier was never off.

    `resume` and `close_session` carry the session's key and the minutes.
    """

    resume = Signal(str, object)
    close_session = Signal(str, object)

    def __init__(self, left: Unfinished, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._left = left
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("A session was left open"))
        warning = QLabel(self._warning(), self)
        warning.setStyleSheet(f"font-size: 26px; font-weight: 700; color: {shades().outside};")
        warning.setWordWrap(True)
        facts = QLabel(self._facts(), self)
        facts.setWordWrap(True)
        self.minutes = QLineEdit(self)
        self.minutes.setPlaceholderText(self.tr("empty: it was never off"))
        question = QLabel(self.tr("For how many &minutes was the amplifier off since then?"), self)
        question.setBuddy(self.minutes)
        question.setVisible(not left.practice)
        self.minutes.setVisible(not left.practice)
        self.minutes.setAccessibleName(self.tr("Minutes for which the amplifier was off"))
        self._trouble = QLabel(left.reason, self)
        self._trouble.setProperty("role", "trouble")
        self._trouble.setWordWrap(True)
        self.resume_button = QPushButton(self.tr("Go on in a new &segment"), self)
        self.resume_button.setEnabled(left.resumable)
        self.resume_button.clicked.connect(self._resume)
        self.close_button = QPushButton(self.tr("&Close the session as it stands"), self)
        self.close_button.clicked.connect(self._close)
        later = QPushButton(self.tr("Ask me &later"), self)
        later.clicked.connect(self.reject)
        row = QHBoxLayout()
        for button in (self.resume_button, self.close_button, later):
            button.setMinimumHeight(48)
            row.addWidget(button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 20)
        layout.setSpacing(12)
        for widget in (warning, facts, question, self.minutes, self._trouble):
            layout.addWidget(widget)
        layout.addLayout(row)
        self.setMinimumWidth(820)

    def _warning(self) -> str:
        if self._left.practice:
            return self.tr("On a real bench, the amplifier may now be on and unwatched.")
        return self.tr("The amplifier may be on and unwatched.")

    def _facts(self) -> str:
        if self._left.practice:
            return self.tr("{title}: this was practice; the simulated unit ended with the program.").format(
                title=self._left.title
            )
        return self.tr(
            "{title}: the last reading was kept at {when}; then it was {feed}. Look at the unit first."
        ).format(
            title=self._left.title,
            when=self._left.last_seen,
            feed=supply_words(self._left.supply, None, 0.0),
        )

    @property
    def trouble(self) -> str:
        """Why it cannot go on, or what was wrong with the entry."""
        return self._trouble.text()

    def _off_minutes(self) -> float | None:
        text = self.minutes.text().strip().replace(",", ".")
        if not text:
            return None
        try:
            minutes = float(text)
        except ValueError:
            minutes = -1.0
        if not 0.0 <= minutes < 1e6:
            raise ValueError(
                self.tr(
                    "“{text}” is not a number of minutes: type one, such as 15, or leave it empty"
                ).format(text=self.minutes.text().strip())
            )
        return minutes

    @Slot()
    def _resume(self) -> None:
        self._answer(self.resume)

    @Slot()
    def _close(self) -> None:
        self._answer(self.close_session)

    def _answer(self, signal: object) -> None:
        try:
            minutes = self._off_minutes()
        except ValueError as refusal:
            self._trouble.setText(str(refusal))
            self.minutes.selectAll()
            return
        signal.emit(self._left.key, minutes)  # type: ignore[attr-defined]
        self.accept()
