"""Space and the foot switch as one big key, and digits that begin a typed value.

An event filter over the application that is at work only while its screen is shown and no text field has the
focus. Enter presses the button with the focus instead, since Space cannot.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QApplication,
    QComboBox,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QSlider,
    QWidget,
)

from app.windows.actions import FOOT_KEYS, ONCE_S
from app.windows.foot_key import key_of
from app.windows.practice_panel import TrimmerKnob

_WRITTEN_IN = (QLineEdit, QPlainTextEdit, QComboBox, QAbstractItemView)
_TURNED_BY_PAGE_KEYS = (TrimmerKnob, QSlider)
_DIGITS = "0123456789-.,"


class OneKey(QObject):
    """Takes the keys of one screen. `takes_digits` says whether a value may be typed now.

    `learned` is one more key of the foot switch, as `foot_key.key_of` writes it.
    """

    pressed = Signal()
    digit = Signal(str)

    def __init__(self, screen: QWidget, seconds: Callable[[], float]) -> None:
        super().__init__(screen)
        self._screen = screen
        self._seconds = seconds
        self._pressed_s: float | None = None
        self.takes_digits = False
        self.learned = ""

    def begin(self) -> None:
        """Take the keys from now on."""
        app = QApplication.instance()
        if app is not None:
            app.installEventFilter(self)

    def end(self) -> None:
        """Give the keys back."""
        app = QApplication.instance()
        if app is not None:
            app.removeEventFilter(self)

    def press(self) -> None:
        """The big key was pressed; a second press within 0.3 s counts once."""
        now = self._seconds()
        if self._pressed_s is None or now - self._pressed_s >= ONCE_S:
            self._pressed_s = now
            self.pressed.emit()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Take a key press that belongs to the screen."""
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent) and self._concerned(watched):
            return self._take(event)
        return False

    def _concerned(self, watched: QObject) -> bool:
        screen = self._screen
        if not isinstance(watched, QWidget) or watched.window() is not screen.window():
            return False
        return screen.isVisible() and not isinstance(QApplication.focusWidget(), _WRITTEN_IN)

    def _take(self, event: QKeyEvent) -> bool:
        """Whether the key was taken."""
        if self.learned and key_of(event) == self.learned:
            if not event.isAutoRepeat():
                self.press()
            return True
        plain = event.modifiers() in (Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.KeypadModifier)
        focused = QApplication.focusWidget()
        turns = event.key() == Qt.Key.Key_PageDown and isinstance(focused, _TURNED_BY_PAGE_KEYS)
        if not plain or turns:
            return False
        if event.key() in FOOT_KEYS:
            if not event.isAutoRepeat():
                self.press()
            return True
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and isinstance(focused, QPushButton):
            if not event.isAutoRepeat():
                focused.click()
            return True
        if self.takes_digits and event.text() and event.text() in _DIGITS:
            self.digit.emit(event.text())
            return True
        return False
