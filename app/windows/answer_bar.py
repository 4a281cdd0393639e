"""The line under the instruction where a person says something: an answer, a note, a value, a choice.

What the run asks stands there by itself. What a person begins by a key (a note, a typed value, the lead,
the mains) takes its place until it is done or given up with Escape.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QObject, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QBoxLayout, QButtonGroup, QHBoxLayout, QWidget

from app.windows.checklist_pictures import ChecklistPictures
from app.windows.flow import Flow
from app.windows.number_sign import signed
from app.windows.ports import BenchPicture
from app.windows.theme import glove_sheet
from app.windows.worded import Label, LineEdit, NameButton, WordedWidget
from procedures.events import AnswerKind, Choice, Question

KEYS = 9  # choices that have a key of their own; the others are reached by Tab
VALUE_WIDTH, LONGEST = 300, 900  # style pixels of the field, for a value and for words
OWN = "own:"  # what a person began; never the id of a run's question


def _says(sentence: str, asked: str) -> bool:
    """Whether the instruction that stands above asks the same in the same words."""
    return bool(sentence) and sentence.casefold().startswith(asked.rstrip(".:").casefold())


class AnswerBar(WordedWidget):
    """Shows one question at a time and says what was answered: question, choice, text.

    `turned`: something is asked now, or nothing more.
    """

    answered = Signal(str, str, str)
    given_up = Signal()
    turned = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._screen = parent
        if parent is not None:
            parent.installEventFilter(self)
        self._asked: Question | None = None
        self._own: Question | None = None
        self._shown: Question | None = None
        self._sentence = self._key_label = ""
        self._begun = ("", "")  # question of the run, and what was typed for it before an own one came
        self._letter = 18
        self._prompt = Label(self)
        self._prompt.setStyleSheet("font-size: 19px; font-weight: 600;")
        self._prompt.setWordWrap(True)
        self._field = LineEdit(self)
        self._field.setMinimumHeight(42)
        self._field.setStyleSheet("font-size: 22px;")
        self._field.installEventFilter(self)
        self._field.returnPressed.connect(self._entered)
        self._trouble = Label(self)
        self._trouble.setProperty("role", "trouble")
        self._trouble.setWordWrap(True)
        self._group = QButtonGroup(self)
        self._group.idClicked.connect(self.choose)
        self._buttons = Flow()
        self._choices: tuple[Choice, ...] = ()
        self._row = layout = QHBoxLayout(self)
        layout.setContentsMargins(16, 2, 12, 2)
        layout.setSpacing(12)
        layout.addWidget(self._prompt, 1)
        layout.addWidget(self._field, 1)
        layout.addLayout(self._buttons)
        layout.addWidget(self._trouble, 1)
        self.pictures = ChecklistPictures(self)
        self._looks_back = False  # at pictures of the past, where nothing is asked
        layout.addWidget(self.pictures)
        layout.addStretch(0)
        self._show(None)

    def set_narrow(self, narrow: bool) -> None:
        """What is asked above, and below it what can be said."""
        way = QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        self._row.setDirection(way)
        self._row.setSpacing(4 if narrow else 12)
        self._letter = 15 if narrow else 18
        for button in self._group.buttons():
            button.setStyleSheet(self._key_sheet())

    def _key_sheet(self) -> str:
        return f"font-size: {self._letter}px; {glove_sheet()}"

    # --- facts for others -----------------------------------------------------------------------------

    @property
    def shown(self) -> Question | None:
        """What is asked now."""
        return self._shown

    @property
    def field(self) -> LineEdit:
        """Where words and values are typed."""
        return self._field

    @property
    def trouble(self) -> str:
        """What was wrong with the last entry."""
        return self._trouble.text()

    # --- asking ---------------------------------------------------------------------------------------

    def ask_run(self, question: Question | None, sentence: str = "", key_label: str = "") -> None:
        """Show what the run asks; a question that a person began stays in front.

        `sentence` is the instruction that stands above (not repeated here); `key_label` is what the big key
        does already (no button of its own).
        """
        if question != self._asked or key_label != self._key_label:
            same = self._asked is not None and question is not None and question.id == self._asked.id
            text = self._field.text() if same and self._own is None else ""
            self._asked, self._sentence, self._key_label = question, sentence, key_label
            if self._own is None:
                self._show(question)
                self._field.setText(text)

    def show_pictures(self, picture: BenchPicture) -> None:
        """Show the pictures of a checklist: beside its question, or of the past by themselves."""
        self.pictures.show_bench(picture)
        looks_back = picture.review and bool(self.pictures.thumbnails)
        if looks_back is not self._looks_back:
            self._looks_back = looks_back
            self._show(self._shown)

    def ask_own(self, question: Question, text: str = "") -> None:
        """Ask what a person began by a key. `text` is what was typed already."""
        if self._own is None and self._shown is not None:
            self._begun = (self._shown.id, self._field.text())
        self._own = question
        self._show(question)
        if question.kind is not AnswerKind.CHOICE:
            self._field.setText(text)
            # Not a reason that selects all: what was typed already must stay.
            self._field.setFocus(Qt.FocusReason.OtherFocusReason)
        elif self._group.buttons():
            self._group.buttons()[0].setFocus(Qt.FocusReason.ShortcutFocusReason)

    @Slot()
    def give_up(self) -> None:
        """Drop what a person began; the run's question comes back."""
        if self._own is not None:
            self.done()
            self.given_up.emit()

    def complain(self, sentence: str) -> None:
        """Say what was wrong with the entry and let it be corrected."""
        self._trouble.setText(sentence)
        self._trouble.setVisible(bool(sentence))
        self._field.selectAll()

    def done(self) -> None:
        """The entry was taken; what was typed for the run before stands there again."""
        (question, text), self._begun = self._begun, ("", "")
        self._own = None
        self._show(self._asked)
        if self._asked is not None and self._asked.id == question:
            self._field.setText(text)

    def _show(self, question: Question | None) -> None:
        held = self._give_focus_back(question)
        self._shown = question
        before = self.isHidden()
        self.setVisible(question is not None or self._looks_back)
        self._fill(question)
        for button in self._group.buttons():
            if held and button.accessibleName() == held:
                button.setFocus(Qt.FocusReason.OtherFocusReason)
        if before != self.isHidden():
            self.turned.emit()  # not before, because the room that it takes is asked then

    def _give_focus_back(self, question: Question | None) -> str:
        """Before the field or an answer with the focus goes away: else Qt gives it to whatever key is next.

        Returns the name of the answer that had it, where the same question stays.
        """
        held = self.window().focusWidget()
        typing = question is not None and question.kind is not AnswerKind.CHOICE
        goes = held in self._group.buttons() or (held is self._field and not typing)
        if held is None or not goes or self._screen is None:
            return ""
        self._screen.setFocus(Qt.FocusReason.OtherFocusReason)
        same = question is not None and self._shown is not None and question.id == self._shown.id
        return held.accessibleName() if same else ""

    def _fill(self, question: Question | None) -> None:
        self._trouble.clear()
        self._trouble.hide()
        for button in self._group.buttons():
            self._group.removeButton(button)
            self._buttons.removeWidget(button)
            button.hide()  # and with it its keys
            button.deleteLater()
        self._choices = question.choices if question is not None else ()
        typing = question is not None and question.kind is not AnswerKind.CHOICE
        self._field.setVisible(typing)
        self._prompt.setVisible(question is not None)
        if question is None:
            self._field.clear()
            return
        own = self._own is not None
        text = signed(question.text)
        said = _says(self._sentence, text) and not own
        self._prompt.setText("" if said else text)
        self._prompt.setVisible(not said)
        wide = question.kind is AnswerKind.TEXT
        self._field.setMaximumWidth(LONGEST if wide else VALUE_WIDTH)
        hint = self.tr("type it here, then Enter") if wide else self.tr("a value, then Enter")
        self._field.setPlaceholderText(hint if said else "")
        self._field.clear()
        self._field.setAccessibleName(question.text)
        self._make_buttons(self._choices, own)

    def _make_buttons(self, choices: Sequence[Choice], own: bool) -> None:
        for number, choice in enumerate(choices):
            if choice.default and not own and choice.text == self._key_label:
                continue  # the big key does that
            key = f"Ctrl+{number + 1}" if number < KEYS else ""
            button = NameButton(f"{signed(choice.text)}   {key}".rstrip(), self)
            button.setStyleSheet(self._key_sheet())
            if key:
                # Not the button's own: that clicks a tenth of a second later; a key until then is lost.
                keys = QShortcut(QKeySequence(key), button)
                keys.setAutoRepeat(False)  # a key held too long must not answer the next question too
                keys.activated.connect(button.click)
            button.setAccessibleName(choice.text)
            self._group.addButton(button, number)
            self._buttons.addWidget(button)
            button.show()  # at once, so that the very next key finds it

    def fit_glove(self) -> None:
        """Take up what a millimetre of the screen is now."""
        for button in self._group.buttons():
            button.setStyleSheet(self._key_sheet())

    # --- answers --------------------------------------------------------------------------------------

    @Slot(int)
    def choose(self, number: int) -> None:
        """Take the choice at this place."""
        if self._shown is not None and 0 <= number < len(self._choices):
            question, choice = self._shown.id, self._choices[number].key
            if self._own is not None:
                self.done()
            self.answered.emit(question, choice, "")

    @Slot()
    def _entered(self) -> None:
        if self._shown is not None:
            self.answered.emit(self._shown.id, "", self._field.text())

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Escape in the field gives up, and wherever else nobody takes it."""
        if (
            watched in (self._field, self._screen)
            and event.type() == QEvent.Type.KeyPress
            and isinstance(event, QKeyEvent)
            and event.key() == Qt.Key.Key_Escape
            and self._own is not None
        ):
            self.give_up()
            return True
        return super().eventFilter(watched, event)
