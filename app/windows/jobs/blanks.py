"""The blanks of a sheet: places on a line that are filled in, each keeping what is written by itself.

A blank says `written` with its words a moment after the last key, and when it is left. What cannot be
understood stays where it was typed, with one sentence below it, and is not handed on. Every blank may stay
empty.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, QSize, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QFontMetrics, QShowEvent
from PySide6.QtWidgets import QSizePolicy, QVBoxLayout, QWidget

from app.windows.chooser import Chooser
from app.windows.worded import CheckBox, Label, LineEdit, TextEdit

HEIGHT = 38  # style pixels of a line
GROWING = 7  # characters from which a blank takes more room than it needs
IDLE_MS = 2000  # after the last key, until what was written is kept
TROUBLED = 330  # style pixels that a blank takes while there is a sentence below it
LONGEST = 20_000  # characters; a pasted book is a mistake


def _nothing_wrong(_words: str) -> None:
    """Any words will do."""


class Blank(QWidget):
    """A place to write. `check` raises ValueError with a sentence about what cannot be understood."""

    written = Signal(str)

    def __init__(
        self,
        name: str,
        parent: QWidget | None = None,
        check: Callable[[str], object] = _nothing_wrong,
    ) -> None:
        super().__init__(parent)
        self.name = name
        self._check = check
        self._base = ""  # what is kept, as far as is known here
        self._idle = QTimer(self)
        self._idle.setSingleShot(True)
        self._idle.setInterval(IDLE_MS)
        self._idle.timeout.connect(self._settled)
        self._trouble = Label(self)
        self._trouble.setProperty("role", "trouble")
        self._trouble.setWordWrap(True)
        self._trouble.setTextFormat(Qt.TextFormat.PlainText)
        self._trouble.hide()
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._layout.setSpacing(2)

    def _take_in(self, editor: QWidget) -> None:
        editor.setAccessibleName(self.name)
        self.setFocusProxy(editor)
        self._layout.addWidget(editor)
        self._layout.addWidget(self._trouble)

    # --- for each kind --------------------------------------------------------------------------------

    def _typed(self) -> str:
        raise NotImplementedError

    def _put(self, words: str) -> None:
        raise NotImplementedError

    # --- for all --------------------------------------------------------------------------------------

    @property
    def words(self) -> str:
        """What stands there; a character that is none becomes a question mark."""
        return self._typed().strip().encode("utf-8", "replace").decode("utf-8")

    @property
    def understood(self) -> str:
        """What stands there, or, where that cannot be understood, what is kept."""
        try:
            self._check(self.words)
        except ValueError:
            return self._base
        return self.words

    @property
    def trouble(self) -> str:
        """The sentence below."""
        return self._trouble.text() if not self._trouble.isHidden() else ""

    @property
    def changed(self) -> bool:
        """Whether something stands there that is not kept."""
        return self.words != self._base

    def complain(self, sentence: str) -> None:
        """Say below what is wrong; nothing is wrong without a sentence."""
        self._trouble.setText(sentence[:1].upper() + sentence[1:])
        self._trouble.setVisible(bool(sentence))
        self.setMinimumWidth(TROUBLED if sentence else 0)

    def show_words(self, words: str) -> None:
        """Show what is kept. What is being written stays, and what another wrote there is told."""
        if words == self._base:
            return
        if self.changed:
            if words != self.words:
                told = self.tr("“{words}” was just written here elsewhere; what you write takes its place.")
                self.complain(told.format(words=words if len(words) < 60 else f"{words[:60]}…"))
            self._base = words
            return
        self._base = words
        self._put(words)
        self.complain("")

    @Slot()
    def _edited(self) -> None:
        """A key was pressed in here."""
        self.complain("")
        self._idle.start()

    @Slot()
    def _settled(self) -> None:
        """For a moment nothing was typed: keep it, if it can be understood already."""
        self._hand_on(self.words, quietly=True)

    @Slot()
    def commit(self) -> bool:
        """Hand on what was written; False, with a sentence, where it cannot be understood."""
        self._idle.stop()
        return self._hand_on(self.words, quietly=False)

    def _hand_on(self, words: str, *, quietly: bool) -> bool:
        if words == self._base:
            return True
        try:
            if len(words) > LONGEST:
                raise ValueError(
                    self.tr(
                        "{n} characters are too many here: keep the file as it is, and say where."
                    ).format(n=len(words))
                )
            self._check(words)
        except ValueError as refusal:
            if not quietly:
                self.complain(str(refusal))
            return False
        self._base = words
        self.complain("")
        self.written.emit(words)
        return True


class ShortBlank(Blank):
    """One line. `wide` is how many characters it is meant for."""

    def __init__(
        self,
        name: str,
        parent: QWidget | None = None,
        *,
        example: str = "",
        wide: int = 14,
        check: Callable[[str], object] = _nothing_wrong,
    ) -> None:
        super().__init__(name, parent, check)
        self.field = LineEdit(self)
        self.field.setProperty("role", "blank")
        self.field.setPlaceholderText(example)
        self.field.setMaxLength(2 * LONGEST)
        self._wide = wide
        self.field.setAcceptDrops(False)  # a picture that is dropped here is meant for the sheet
        self.field.setFixedHeight(HEIGHT)
        self._take_in(self.field)
        grows = QSizePolicy.Policy.Expanding if wide >= GROWING else QSizePolicy.Policy.Fixed
        self.setSizePolicy(grows, QSizePolicy.Policy.Fixed)
        self.field.textEdited.connect(self._edited)
        self.field.textChanged.connect(self._grow)
        self.field.editingFinished.connect(self.commit)
        self._grow()

    def _typed(self) -> str:
        return self.field.text()

    def _put(self, words: str) -> None:
        self.field.setText(words.replace("\n", " "))
        self.field.setCursorPosition(0)

    def _grow(self) -> None:
        """Room for what stands there, within reason."""
        shown = self.field.text() or self.field.placeholderText()
        wide = min(max(self._wide, len(shown) + 2), 52)
        width = QFontMetrics(self.font()).averageCharWidth() * wide + 26
        if width != self.field.minimumWidth():
            self.field.setMinimumWidth(width)
            self.updateGeometry()

    def showEvent(self, event: QShowEvent) -> None:
        """The letters are known now."""
        super().showEvent(event)
        self._grow()


class LongBlank(Blank):
    """Several lines; grows with what is written."""

    LEAST, MOST = 2, 12

    def __init__(self, name: str, parent: QWidget | None = None, *, example: str = "") -> None:
        super().__init__(name, parent)
        self.field = TextEdit(self)
        self.field.setProperty("role", "blank")
        self.field.setPlaceholderText(example)
        self.field.setTabChangesFocus(True)
        self.field.setAcceptDrops(False)
        self.field.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
        self._take_in(self.field)
        self.field.installEventFilter(self)
        self.field.textChanged.connect(self._changed)
        self._putting = False
        self._grow()

    def _typed(self) -> str:
        return self.field.toPlainText()

    def _put(self, words: str) -> None:
        self._putting = True
        self.field.setPlainText(words)
        self._putting = False

    @Slot()
    def _changed(self) -> None:
        self._grow()
        if not self._putting:
            self._edited()

    def _grow(self) -> None:
        """As many lines as there are; the layout of a plain text counts in lines."""
        lines = round(self.field.document().size().height())
        height = QFontMetrics(self.font()).lineSpacing() * min(max(lines, self.LEAST), self.MOST) + 28
        if height != self.field.height():
            self.field.setFixedHeight(height)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Keep what was written when the blank is left."""
        if event.type() == QEvent.Type.FocusOut:
            self.commit()
        elif event.type() in (QEvent.Type.Resize, QEvent.Type.Show):
            self._grow()
        return False


class Choice(Blank):
    """One of several, by the words of the record; `shown` are the words of the screen."""

    def __init__(self, name: str, choices: dict[str, str], parent: QWidget | None = None) -> None:
        super().__init__(name, parent)
        self.field = Chooser(name, self, letter=16.0)
        for kept, shown in choices.items():
            self.field.addItem(shown, kept)
        self._base = next(iter(choices))
        self._first = self._base
        self.field.setFixedHeight(HEIGHT)
        self._take_in(self.field)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.field.activated.connect(self.commit)

    def _typed(self) -> str:
        return str(self.field.currentData())

    def _put(self, words: str) -> None:
        self.field.setCurrentIndex(max(0, self.field.findData(words)))

    def show_words(self, words: str) -> None:
        """Nothing said is the first choice."""
        super().show_words(words or self._first)


class Tick(Blank):
    """Yes, or not: "yes" or empty words."""

    def __init__(self, name: str, shown: str, parent: QWidget | None = None) -> None:
        super().__init__(name, parent)
        self.field = CheckBox(shown, self)
        self.field.setFixedHeight(HEIGHT)
        self._take_in(self.field)
        self.field.setAccessibleName(shown)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.field.clicked.connect(self.commit)

    def _typed(self) -> str:
        return "yes" if self.field.isChecked() else ""

    def _put(self, words: str) -> None:
        self.field.setChecked(bool(words))

    def sizeHint(self) -> QSize:
        """As the words need."""
        return self.field.sizeHint()
