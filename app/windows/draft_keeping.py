"""Keeps what stands in the amplifier form as a draft while it is written, and takes it up again."""

from __future__ import annotations

from datetime import datetime

from PySide6.QtCore import QObject, QTimer, Slot

from app.windows.amplifier_form import AmplifierForm
from app.windows.amplifier_ports import AmplifierFiles
from app.windows.worded import Button, MessageBox

SOON_MS = 800  # after the last change; a crash costs no more than that


class DraftKeeping(QObject):
    """The draft of one form. A draft is no amplifier: only saving makes one."""

    def __init__(self, form: AmplifierForm, papers: AmplifierFiles, now: datetime | None = None) -> None:
        super().__init__(form)
        self._form, self._papers = form, papers
        self._source = form.draft.source
        self._now = now
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(SOON_MS)
        self._timer.timeout.connect(self.keep)
        self.again = Button(self.tr("throw the &draft away"), form)
        self.again.setMinimumHeight(44)
        self.again.hide()
        self.again.clicked.connect(self.ask)
        self.question: MessageBox | None = None
        form.add_key(self.again)
        self._take_up()
        form.edited.connect(self._timer.start)

    def _take_up(self) -> None:
        kept = self._papers.draft_of(self._source)
        if kept is None:
            return
        written = str(kept.get("written", ""))[:16].replace("T", " ")
        self._form.take_up(
            kept,
            self.tr("This is the draft of {when}: no amplifier until it is saved.").format(when=written),
        )
        self.again.show()

    @Slot()
    def keep(self) -> bool:
        """Write the draft now, if there is anything to keep; whether that could be done."""
        self._timer.stop()
        if not self._form.changed:
            self.drop()
            return True
        when = self._now or datetime.now()
        contents = {"written": when.isoformat(timespec="minutes"), **self._form.draft.contents()}
        try:
            self._papers.keep_draft(self._source, contents)
        except (OSError, ValueError) as refusal:
            self._form.say(self.tr("The draft is not kept: {reason}").format(reason=refusal))
            return False
        return True

    def drop(self) -> None:
        """It was saved, or is not wanted."""
        self._timer.stop()
        self.again.hide()
        try:
            self._papers.drop_draft(self._source)
        except OSError:
            return  # it is offered once more

    @Slot()
    def ask(self) -> None:
        """Ask whether the draft is to be thrown away: nothing brings it back."""
        box = self.question = MessageBox(self._form)
        box.setWindowTitle("Warmtrim")
        box.setText(self.tr("Throw the draft away?"))
        box.setInformativeText(self.tr("What was written since the last saving is gone then."))
        self._yes = box.add_button(self.tr("Throw it away"), MessageBox.ButtonRole.DestructiveRole)
        box.ask(self.tr("Keep the draft"), self._answered)

    @Slot(int)
    def _answered(self, _code: int) -> None:
        box, self.question = self.question, None
        if box is not None and box.clickedButton() is self._yes:
            self.throw_away()

    def throw_away(self) -> None:
        """Begin again from the file."""
        self._form.start_again()
        self.drop()
