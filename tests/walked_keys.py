"""Walks a screen and looks at its keys: letters with Alt, key sequences, and the keys that its words name."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, field

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction, QKeySequence, QShortcut
from PySide6.QtWidgets import QAbstractButton, QApplication, QDialog, QLabel, QWidget

from app import language
from app.windows.screenshots.visitor import PutsAway

# A key with others held, or one of the row above the letters: what a sentence names so is always a shortcut.
_NAMED = re.compile(
    r"(?:\b(?:Ctrl|Strg|Shift|Umschalt|Alt)\+)+(?:F\d{1,2}|(?:Bild|Page) \w+|[A-ZÄÖÜ]\w+|[A-Z0-9,])"
    r"|\bF\d{1,2}\b"
)
# What the settings say of a foot switch.
_BY_WIDGETS = {"F13", "F24"}
_OTHERWISE = {"Ctrl+Page Down": "Ctrl+PgDown"}


def portable(named: str) -> str:
    """A key as a sentence in the language in force names it, as Qt does in no language."""
    names: dict[str, str] = {}
    code = language.chosen()
    if code != language.ENGLISH:
        names |= {there: here for here, there in language.plain_text(code).keys.items()}
    return "+".join(names.get(part, part) for part in named.split("+"))


def visible(widget: QWidget, screen: QWidget) -> bool:
    """Whether a widget is there for a person."""
    return widget.isVisible() and widget.isEnabled() and widget.window() is screen.window()


def letters(screen: QWidget) -> dict[str, list[str]]:
    """What each letter works together with Alt."""
    found: dict[str, list[str]] = defaultdict(list)
    for widget in screen.findChildren(QWidget):
        if not isinstance(widget, QAbstractButton | QLabel) or not visible(widget, screen):
            continue
        # A name in front of a field has the letter of its field.
        if isinstance(widget, QAbstractButton) or (widget.buddy() is not None and widget.buddy().isVisible()):
            key = QKeySequence.mnemonic(widget.text()).toString()
            if key:
                found[key].append(widget.text())
    return found


def sequences(screen: QWidget) -> dict[str, list[str]]:
    """What each key sequence works, without the letters with Alt."""
    found: dict[str, list[str]] = defaultdict(list)
    for action in screen.window().findChildren(QAction):
        there = any(isinstance(o, QWidget) and visible(o, screen) for o in action.associatedObjects())
        if action.isEnabled() and action.isVisible() and there:
            for key in action.shortcuts():
                found[key.toString()].append(f"action {action.text()}")
    for shortcut in screen.window().findChildren(QShortcut):
        owner: QObject | None = shortcut.parent()
        if shortcut.isEnabled() and isinstance(owner, QWidget) and visible(owner, screen):
            bound: list[QKeySequence] = shortcut.keys()
            for key in bound:
                found[key.toString()].append(f"shortcut of {type(owner).__name__}")
    for button in screen.window().findChildren(QAbstractButton):
        key = button.shortcut()
        if visible(button, screen) and not key.isEmpty() and not key.toString().startswith("Alt+"):
            found[key.toString()].append(f"button {button.text()}")
    return found


def named(screen: QWidget) -> dict[str, str]:
    """The keys that words on a screen name, with the words."""
    found: dict[str, str] = {}
    for widget in screen.findChildren(QWidget):
        if visible(widget, screen):
            words = widget.text() if isinstance(widget, QLabel | QAbstractButton) else ""
            for key in _NAMED.findall(f"{words} {widget.toolTip()}"):
                found[portable(key)] = words or widget.toolTip()
    return found


def _of_window_below(screen: QWidget) -> set[str]:
    """What the window under a dialog has for keys, working just now or not: a sheet lists them all."""
    below = screen.parentWidget() if screen.isWindow() else None
    actions = below.window().findChildren(QAction) if below is not None else []
    return {key.toString() for action in actions for key in action.shortcuts()}


@dataclass
class KeyWalker(PutsAway):
    """Looks at the keys of every screen in place of a camera."""

    app: QApplication
    problems: list[str] = field(default_factory=list)
    seen: list[str] = field(default_factory=list)

    def wear(self, look: object) -> None:
        """Keys are the same in every look."""

    def room(self) -> tuple[int, int]:
        """How large a screen is."""
        return 1280, 800

    def take(self, name: str, screen: QWidget) -> None:
        """Look at a screen."""
        screen.resize(1280, 800)
        screen.show()
        for _ in range(3):
            self.app.processEvents()
        self.seen.append(name)
        twice = {key: ways for key, ways in letters(screen).items() if len(ways) > 1}
        twice |= {key: ways for key, ways in sequences(screen).items() if len(ways) > 1}
        self.problems += [f"{name}: {key} is two things: {', '.join(ways)}" for key, ways in twice.items()]
        there = {QKeySequence(key).toString() for key in sequences(screen)} | _of_window_below(screen)
        for key, words in named(screen).items():
            if QKeySequence(_OTHERWISE.get(key, key)).toString() not in there | _BY_WIDGETS:
                self.problems.append(f"{name}: {key} does nothing, named by “{words}”")

    def take_dialog(self, name: str, dialog: QDialog | None) -> None:
        """Look at a dialog, and close it."""
        assert dialog is not None
        self.take(name, dialog)
        dialog.close()
