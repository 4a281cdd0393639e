"""What to do now: one sentence, the caution that belongs to it, and the one big key."""

from __future__ import annotations

from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from app.windows.lettering import BigKey, Sentence
from app.windows.number_sign import signed
from app.windows.ports import BenchPicture
from app.windows.theme import GLOVE_MM, legible_letter, millimetres, shades, sized_font, wear
from app.windows.worded import Label
from procedures.analysis.alarm_words import SWITCH_OFF
from procedures.events import AnswerKind, Supply
from procedures.steps.before_work import BEFORE_WORK_ID


class InstructionBand(QWidget):
    """The part of the screen that is looked at first."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.sentence = Sentence(46.0, parent=self)
        self.caution = Label(self)
        self.caution.setWordWrap(True)
        self.key = BigKey(self.tr("Space"), self)
        self._words_area = words = QVBoxLayout()
        words.setSpacing(0)
        words.addWidget(self.sentence, 1)
        words.addWidget(self.caution)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(16, 2, 12, 2)
        layout.setSpacing(14)
        layout.addLayout(words, 1)
        layout.addWidget(self.key)

    def fit(self, width: float, height: float, *, narrow: bool = False, loud: bool = False) -> None:
        """Follow the window's size; while an alarm is `loud` it says the same, and this takes less room."""
        scale = min(width / 1280.0, height / 800.0)
        glove = millimetres(GLOVE_MM)
        if narrow:
            key = round(max(132.0, width * 0.36))
            letter = max(18.0, min(46.0 * scale, legible_letter()))
            need = self.sentence.height_for(round(width) - key - 42, letter) + 8
            most = height * (0.20 if loud else 0.30)
            self.setFixedHeight(round(min(max(need, glove + 4.0, 60.0), max(most, glove + 4.0))))
            self.sentence.set_largest(letter)
        else:
            key = round(max(260.0, 330.0 * scale))
            self.setFixedHeight(round(max(92.0, glove + 12.0, (92.0 if loud else 122.0) * scale)))
            self.sentence.set_largest(46.0 * scale)
        self.key.setFixedWidth(key)
        self.caution.setFont(sized_font(self, 14.0 if narrow else max(16.0, 18.0 * scale), bold=True))

    def give_caution(self, page: QVBoxLayout) -> None:
        """Let the caution stand first on a page that scrolls."""
        self.caution.setContentsMargins(16, 0, 12, 0)
        page.insertWidget(0, self.caution)

    def take_caution(self) -> None:
        """Have the caution under the sentence again."""
        self.caution.setContentsMargins(0, 0, 0, 0)
        self._words_area.addWidget(self.caution)

    def show_picture(self, picture: BenchPicture, key_label: str) -> None:
        """Say what is wanted now, and what the big key does."""
        sentence, caution = (signed(words) for words in self._words(picture))
        self.sentence.show_text(sentence)
        self.caution.setText(f"⚠ {caution}" if caution else "")
        self.caution.setVisible(bool(caution))
        wear(self.caution, f"color: {shades().outside};")
        self.key.show_label(key_label, *self._instead(picture))

    def _instead(self, picture: BenchPicture) -> tuple[str, str]:
        """What the key without a deed says instead: never “nothing” where hands are wanted; and a key."""
        view = picture.view
        if view.ended is not None or picture.review:
            return "", ""
        asked = view.question
        if asked is not None and asked.step == BEFORE_WORK_ID:
            return self.tr("when you have read them"), self.tr("Enter")
        # Switching off is not on this key: a foot that presses by habit must not say so.
        off = view.instruction is not None and view.instruction.text == SWITCH_OFF
        if off or any(not active.acknowledged for active in view.alarms):
            return (self.tr("when it is off"), "F6") if off else (self.tr("the alarm first"), "F8")
        return self._wanted(picture) if not view.by_itself else ("", "")

    def _wanted(self, picture: BenchPicture) -> tuple[str, str]:
        """What hands are to do in a step that does not go on by itself."""
        asked = picture.view.question
        if asked is not None and asked.kind is AnswerKind.VALUE:
            return self.tr("when the value is typed"), self.tr("Enter")
        if asked is not None and asked.kind is AnswerKind.TEXT:
            return self.tr("answer below"), ""
        if picture.view.focus is not None or picture.tour:
            return self.tr("follow the sentence"), ""
        if asked is None:
            return "", ""
        single = asked.kind is AnswerKind.CHOICE and len(asked.choices) == 1
        return self.tr("answer below"), "Ctrl+1" if single else ""

    def _words(self, picture: BenchPicture) -> tuple[str, str]:
        """The sentence and the caution line."""
        view = picture.view
        if view.ended is not None:
            on = view.supply is not Supply.OFF and not picture.review
            return view.ended.reason, self.tr(
                "The readings are kept. The amplifier is still on."
            ) if on else ""
        sentence, caution = self.tr("Watching. Every reading is kept."), ""
        if view.instruction is not None:
            sentence, caution = view.instruction.text, view.instruction.caution
        if view.away:
            caution = self.tr("Away: nobody is at the bench. Switch the amplifier off before you leave it.")
        elif view.paused:
            caution = self.tr("The steps are paused. Readings and alarms go on.")
        elif view.driven:
            caution = self.tr("A signal is applied: bias alarms are suspended.")
        return sentence, caution
