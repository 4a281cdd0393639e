"""After a crash or a power cut: what was left open, and how to go on with it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, Qt, Signal, Slot
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.windows.errand import Errand
from app.windows.flow import Flow
from app.windows.passing_bead import PassingBead
from app.windows.ports import Unfinished, Workshop
from app.windows.theme import shades
from app.windows.worded import Button, Dialog, Label, LineEdit
from app.windows.wording import number_from, supply_words


class RecoveryDialog(Dialog):
    """Asks about one unfinished session. `off_minutes` is None when the amplifier was never off.

    `resume` and `close_session` carry the session's key and the minutes. Whoever carries them out says
    `work`, which takes seconds, and then accepts the dialog or says `refuse`.
    """

    resume = Signal(str, object)
    close_session = Signal(str, object)

    def __init__(self, left: Unfinished, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._left = left
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("A session was left open"))
        warning = Label(self._warning(), self)
        warning.setStyleSheet(f"font-size: 26px; font-weight: 700; color: {shades().outside};")
        warning.setWordWrap(True)
        facts = Label(self._facts(), self)
        facts.setWordWrap(True)
        self.minutes = LineEdit(self)
        self.minutes.setPlaceholderText(self.tr("empty: it was never off"))
        question = Label(self.tr("For how many &minutes was the amplifier off since then?"), self)
        question.setBuddy(self.minutes)
        question.setWordWrap(True)
        question.setVisible(not left.practice)
        self.minutes.setVisible(not left.practice)
        self.minutes.setAccessibleName(self.tr("Minutes for which the amplifier was off"))
        self._trouble = Label(left.reason, self)
        self._trouble.setProperty("role", "trouble")
        self._trouble.setWordWrap(True)
        self.resume_button = Button(self.tr("Go on with the &session"), self)
        self.resume_button.setEnabled(left.resumable)
        self.resume_button.clicked.connect(self._resume)
        self.close_button = Button(self.tr("&Close the session as it stands"), self)
        self.close_button.clicked.connect(self._close)
        self.later_button = Button(self.tr("Ask me &later"), self)
        self.later_button.clicked.connect(self.reject)
        self._doing = Label(self)
        self._doing.hide()
        self._bead = PassingBead(self)
        self._bead.hide()
        row = Flow()
        for button in (self.resume_button, self.close_button, self.later_button):
            button.setMinimumHeight(48)
            row.addWidget(button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 20)
        layout.setSpacing(12)
        for widget in (warning, facts, question, self.minutes, self._trouble, self._doing, self._bead):
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

    @property
    def working(self) -> str:
        """What is being done about the session just now; empty when nothing is."""
        return "" if self.later_button.isEnabled() else self._doing.text()

    def work(self, words: str) -> None:
        """Show that something is being done about the session, and what."""
        self._doing.setText(words)
        self._trouble.clear()
        self._show_work(True)

    def refuse(self, sentence: str) -> None:
        """Say why it could not be done; there may be another way."""
        self._trouble.setText(sentence)
        self._show_work(False)

    def _show_work(self, working: bool) -> None:
        for widget in (self._doing, self._bead):
            widget.setVisible(working)
        self.minutes.setEnabled(not working)
        self.resume_button.setEnabled(not working and self._left.resumable)
        for button in (self.close_button, self.later_button):
            button.setEnabled(not working)

    def reject(self) -> None:
        """Ask later; not while something is being done."""
        if not self.working:
            super().reject()

    def _off_minutes(self) -> float | None:
        text = self.minutes.text().strip()
        if not text:
            return None
        try:
            minutes = number_from(text, "15")
        except ValueError as refusal:
            raise ValueError(self.tr("Minutes: {why}; or leave it empty").format(why=refusal)) from None
        if not 0.0 <= minutes < 1e6:
            raise ValueError(
                self.tr(
                    "“{text}” is not a number of minutes: type one, such as 15, or leave it empty"
                ).format(text=text)
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


class Recovering(QObject):
    """Asks about the newest session that was left open, and carries out what is chosen beside the window."""

    opened = Signal(object)
    closed = Signal()

    def __init__(self, workshop: Workshop, window: QWidget) -> None:
        super().__init__(window)
        self._workshop = workshop
        self._window = window
        self._errand = Errand()
        self._errand.done.connect(self._came)
        self._left: tuple[Unfinished, ...] = ()
        self.dialog: RecoveryDialog | None = None

    def keep(self, left: tuple[Unfinished, ...]) -> None:
        """Take what was found, newest first; `ask` asks about it when nothing else is on."""
        self._left = left

    def ask(self) -> None:
        """Ask once, if there is anything to ask about."""
        left, self._left = self._left, ()
        if left:
            self.dialog = RecoveryDialog(left[0], self._window)
            self.dialog.resume.connect(self._resume)
            self.dialog.close_session.connect(self._close)
            self.dialog.open()

    @Slot(str, object)
    def _resume(self, key: str, minutes: object) -> None:
        off_minutes = minutes if isinstance(minutes, float) else None
        words = self.tr("Its readings are gone through once more, then it goes on …")
        self._begin(words, lambda: self._workshop.resume(key, off_minutes))

    @Slot(str, object)
    def _close(self, key: str, minutes: object) -> None:
        off_minutes = minutes if isinstance(minutes, float) else None
        words = self.tr("Its readings are gone through once more, then it is closed …")
        self._begin(words, lambda: self._workshop.close_unfinished(key, off_minutes))

    def _begin(self, words: str, work: Callable[[], object]) -> None:
        if self.dialog is not None:
            self.dialog.work(words)
        self._errand.run(work)

    @Slot(object)
    def _came(self, came: object) -> None:
        """A refusal, a bench to show, or nothing more to do."""
        if isinstance(came, Exception):
            if self.dialog is not None:
                self.dialog.refuse(str(came))
            return
        if self.dialog is not None:
            self.dialog.accept()
            self.dialog = None
        if came is None:
            self.closed.emit()
        else:
            self.opened.emit(came)
