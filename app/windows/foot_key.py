"""The key that a foot switch sends: learned by pressing it, and known again."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QApplication

from app.language import pass_names
from app.windows.actions import DEEDS, FOOT_KEYS
from app.windows.key_names import key_name

_CODE = "code "  # before the number of a key that has no name
_MODIFIERS = (
    Qt.Key.Key_Shift,
    Qt.Key.Key_Control,
    Qt.Key.Key_Alt,
    Qt.Key.Key_AltGr,
    Qt.Key.Key_Meta,
    Qt.Key.Key_CapsLock,
    Qt.Key.Key_NumLock,
)
_MOVING = (
    *("Tab", "Shift+Tab", "Return", "Enter", "Esc", "Backspace", "Del", "Ins"),
    *("Left", "Right", "Up", "Down", "PgUp", "Home", "End"),
)
_DIGITS = "0123456789-.,"
_ELSEWHERE = ("F1", *(f"Ctrl+{n}" for n in range(1, 10)))


def key_of(event: QKeyEvent) -> str:
    """The key in the form in which it is kept; empty for a bare Shift, Ctrl or Alt."""
    if event.key() in _MODIFIERS:
        return ""
    held = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
    if event.key() in (0, Qt.Key.Key_unknown):
        return f"{_CODE}{event.nativeScanCode()}"
    sequence = QKeySequence(held.value | event.key())
    return sequence.toString(QKeySequence.SequenceFormat.PortableText) or f"{_CODE}{event.nativeScanCode()}"


def key_words(kept: str) -> str:
    """What the key is called, in English."""
    words = kept if kept.startswith(_CODE) else key_name(kept) or kept
    pass_names((words,))  # a pedal may send a key that no sentence names, such as one that plays music
    return words


def _tr(text: str) -> str:
    return QCoreApplication.translate("foot_key", text)


def in_use(kept: str) -> str:
    """Why the key cannot be learned, in a sentence that says what to do; empty where it is free."""
    words = key_words(kept)
    same = QKeySequence(kept)
    if any(QKeySequence(key) == same for key in FOOT_KEYS):
        return _tr("{key} works as the foot switch already: nothing has to be learned.").format(key=words)
    deed = next((d for d in DEEDS if QKeySequence(d.keys) == same), None)
    if deed is not None:
        title = QCoreApplication.translate("deeds", deed.title)
        return _tr("{key} is in use already: {deed}. Let the pedal send another key.").format(
            key=words, deed=title
        )
    moving = kept in _MOVING or kept in _ELSEWHERE or kept.startswith(("Alt+", "Ctrl+Shift+"))
    if moving or (len(kept) == 1 and kept in _DIGITS):
        told = _tr("{key} is in use already: it moves about, answers or types a value. ").format(key=words)
        return told + _tr("Let the pedal send another key.")
    return ""


class KeyLearner(QObject):
    """Takes the next key press of the whole program, whatever it would do otherwise; Escape gives up."""

    learned = Signal(str)  # the key; empty when given up

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self.waiting = False

    def begin(self) -> None:
        """Wait for a key."""
        app = QApplication.instance()
        if app is not None and not self.waiting:
            self.waiting = True
            app.installEventFilter(self)

    def end(self) -> None:
        """Wait no longer."""
        app = QApplication.instance()
        if app is not None:
            app.removeEventFilter(self)
        self.waiting = False

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Keep the key from everybody else."""
        if not isinstance(event, QKeyEvent) or not self.waiting:
            return False
        if event.type() == QEvent.Type.ShortcutOverride:
            event.accept()
            return True
        key = key_of(event) if event.type() == QEvent.Type.KeyPress else ""
        if key and not event.isAutoRepeat():
            self.end()
            self.learned.emit("" if key == "Esc" else key)
        return True
