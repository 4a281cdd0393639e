"""Walks a screen as a person without a mouse does, and measures whether all its words have room."""

from __future__ import annotations

from dataclasses import dataclass, field

from PySide6.QtCore import QRect, QSize, Qt
from PySide6.QtGui import QAccessible, QFontMetrics
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QComboBox,
    QDialog,
    QHeaderView,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QScrollBar,
    QSlider,
    QWidget,
)

from app.windows.chooser import Chooser, GoButton
from app.windows.dialog_fit import fit_dialog
from app.windows.jobs.stations import Station
from app.windows.lettering import BigKey, Sentence, largest_fitting
from app.windows.main_window import MainWindow
from app.windows.practice_panel import TrimmerKnob
from app.windows.screenshots.visitor import PutsAway, Visitor
from app.windows.theme import THEME, Look

LEAST_LETTER = 11.0  # style pixels: what a painted sentence may shrink to
OFFSCREEN_DOTS = 100.0  # an inch of the offscreen screen at 100 %

INTERACTIVE = (
    QAbstractButton,
    QComboBox,
    QLineEdit,
    QPlainTextEdit,
    QSlider,
    QAbstractItemView,
    TrimmerKnob,
)


def interactive(screen: QWidget) -> list[QWidget]:
    """What can be worked on a screen, without the parts of which Qt makes such things."""
    found = []
    for widget in screen.findChildren(QWidget):
        parts = isinstance(widget.parent(), QComboBox) or isinstance(widget.window(), QComboBox)
        inner = widget.metaObject().className() in ("QTableCornerButton", "QComboBoxPrivateContainer")
        inner = inner or isinstance(widget, QHeaderView)
        popup = bool(widget.window() is not screen.window())
        worked = widget.isVisible() and widget.isEnabled() and isinstance(widget, INTERACTIVE)
        if worked and not (parts or inner or popup):
            found.append(widget)
    return found


def words_of(widget: QWidget) -> str:
    """How a failing test names a widget."""
    text = widget.text() if isinstance(widget, QLabel | QAbstractButton | QLineEdit) else ""
    return f"{type(widget).__name__} “{widget.accessibleName() or text}” {widget.width()}x{widget.height()}"


def nameless(screen: QWidget) -> list[str]:
    """What a screen reader cannot say the name of."""
    found = []
    for widget in interactive(screen):
        interface = QAccessible.queryAccessibleInterface(widget)
        if interface is None or not interface.text(QAccessible.Text.Name):
            found.append(f"no name: {words_of(widget)}")
    return found


def _has_own_key(widget: QWidget) -> bool:
    return isinstance(widget, QLineEdit) and "F4" in widget.placeholderText()


def out_of_reach(screen: QWidget) -> list[str]:
    """What Tab never comes to, and no key that is written on it either."""
    wanted = {id(w): w for w in interactive(screen)}
    wanted = {n: w for n, w in wanted.items() if not _has_own_key(w)}
    screen.activateWindow()
    QApplication.processEvents()
    screen.setFocus()
    for _ in range(3 * len(wanted) + 10):
        focused = QApplication.focusWidget()
        if focused is not None:
            wanted.pop(id(focused), None)
        if not wanted:
            return []
        QTest.keyClick(focused or screen, Qt.Key.Key_Tab)
    # Of keys that exclude one another Tab comes to the one that is chosen; arrows reach the others.
    grouped = [w for w in wanted.values() if not (isinstance(w, QAbstractButton) and w.group() is not None)]
    return [f"Tab does not reach: {words_of(w)}" for w in grouped]


def cut(screen: QWidget) -> list[str]:
    """Words without the room they need, and keys that lie on one another."""
    found = []
    for widget in screen.findChildren(QWidget):
        if not widget.isVisible() or isinstance(widget, QScrollBar):
            continue
        if widget.window() is not screen.window():
            continue
        if not _has_room(widget):
            found.append(f"cut: {words_of(widget)}, wants {widget.sizeHint().toTuple()}")
        parent = widget.parentWidget()
        inside = parent is not None and isinstance(parent.parentWidget(), QScrollArea)
        told = isinstance(widget, (QLabel, Sentence, *INTERACTIVE)) and widget.width() > 1
        if told and parent is not None and not inside and not parent.rect().contains(widget.geometry()):
            found.append(f"beyond the edge: {words_of(widget)} at {widget.geometry().getRect()}")
    worked = interactive(screen)
    return [*found, *_sideways(screen), *_overlapping(worked, screen), *_touching(worked, screen)]


def _sideways(screen: QWidget) -> list[str]:
    """What must be scrolled sideways to be read; a list of long addresses or a text may."""
    bars = [bar for bar in screen.findChildren(QScrollBar) if bar.orientation() is Qt.Orientation.Horizontal]
    found = []
    for bar in bars:
        area = bar.parent().parent() if bar.parent() is not None else None
        free = isinstance(area, QAbstractItemView | QPlainTextEdit)
        if bar.isVisible() and bar.maximum() > 0 and bar.window() is screen.window() and not free:
            found.append(f"scrolls sideways: {type(area).__name__} by {bar.maximum()}")
    return found


def _touching(widgets: list[QWidget], screen: QWidget) -> list[str]:
    """Keys and fields without a gap between them, which look like one."""
    apart = QAbstractButton | QLineEdit | QComboBox
    told = [w for w in widgets if isinstance(w, apart) and not isinstance(w, Station)]
    places = [(w, QRect(w.mapTo(screen, w.rect().topLeft()), w.size())) for w in told]
    found = []
    for number, (one, place) in enumerate(places):
        for other, there in places[number + 1 :]:
            beside = one.parentWidget() is other.parentWidget() and place.intersects(
                there.adjusted(-2, 0, 2, 0)
            )
            if beside and not place.intersects(there):
                found.append(f"touching: {words_of(one)} and {words_of(other)}")
    return found


def _has_room(widget: QWidget) -> bool:
    wanted = True
    if isinstance(widget, QLabel) and widget.text():
        needed = widget.heightForWidth(widget.width()) if widget.wordWrap() else 0
        wide = widget.wordWrap() or widget.sizeHint().width() <= widget.width() + 1
        wanted = wide and needed <= widget.height() + 1
    elif isinstance(widget, Chooser):
        box = QRect(0, 0, widget.width() - 46, widget.height() - 4)
        size = largest_fitting(widget, widget.currentText(), box, 19.0)
        wanted = size >= LEAST_LETTER
    elif isinstance(widget, GoButton):
        wanted = widget.sizeHint().width() <= widget.width() + 1
    elif isinstance(widget, BigKey):
        wanted = widget.width() >= 100
    elif isinstance(widget, Station):
        wanted = widget.height() >= widget.minimumSizeHint().height()
    elif isinstance(widget, QPushButton) and widget.text():
        wanted = widget.sizeHint().width() <= widget.width() + 1
        wanted = wanted and widget.sizeHint().height() <= widget.height() + 1
    elif isinstance(widget, Sentence) and widget.text:
        letter = LEAST_LETTER
        wanted = widget.height_for(widget.width(), letter) <= widget.height() + 2
        longest = max(widget.text.split(), key=len)
        font = widget.font()
        font.setPixelSize(round(letter))
        wanted = wanted and QFontMetrics(font).horizontalAdvance(longest) <= widget.width()
    return wanted


def _overlapping(widgets: list[QWidget], screen: QWidget) -> list[str]:
    found = []
    places = [(w, QRect(w.mapTo(screen, w.rect().topLeft()), w.size())) for w in widgets]
    for number, (one, place) in enumerate(places):
        for other, there in places[number + 1 :]:
            nested = one.isAncestorOf(other) or other.isAncestorOf(one)
            common = place.adjusted(2, 2, -2, -2).intersected(there)
            pinned = _page_of(one) is not _page_of(other)  # what scrolls may be under what does not
            if not nested and not pinned and not common.isEmpty():
                found.append(f"on one another: {words_of(one)} and {words_of(other)}")
    return found


def _page_of(widget: QWidget) -> QWidget | None:
    parent = widget.parentWidget()
    while parent is not None and not isinstance(parent, QScrollArea):
        parent = parent.parentWidget()
    return parent


@dataclass
class Walker(PutsAway):
    """Looks at every screen in place of a camera, in sizes of its own: `sizes` at a scale."""

    app: QApplication
    scale: float
    sizes: tuple[tuple[int, int], ...]
    problems: list[str] = field(default_factory=list)
    seen: list[str] = field(default_factory=list)

    def wear(self, look: Look) -> None:
        """Measure as on a screen that is enlarged."""
        THEME.look = look
        THEME.apply(self.app)
        THEME.measure(OFFSCREEN_DOTS / self.scale)

    def room(self) -> tuple[int, int]:
        """Dialogs are walked in the first of the sizes."""
        return self.sizes[0]

    def take(self, name: str, screen: QWidget) -> None:
        """Walk a screen in every size."""
        for size in self.sizes:
            screen.resize(*size)
            screen.show()
            self._look(name, screen, size)
        self.problems += [f"{name}: {p}" for p in (*nameless(screen), *out_of_reach(screen))]

    def take_dialog(self, name: str, dialog: QDialog | None) -> None:
        """Walk a dialog."""
        assert dialog is not None
        fit_dialog(dialog, QSize(*self.sizes[0]))
        self._look(name, dialog, self.sizes[0])
        self.problems += [f"{name}: {p}" for p in (*nameless(dialog), *out_of_reach(dialog))]
        dialog.close()

    def _look(self, name: str, screen: QWidget, size: tuple[int, int]) -> None:
        for _ in range(5):
            self.app.processEvents()
        self.seen.append(name)
        if screen.width() > size[0] or screen.height() > size[1]:
            self.problems.append(f"{name} at {size}: larger than its place, {screen.size().toTuple()}")
        self.problems += [f"{name} at {size[0]}x{size[1]}: {p}" for p in cut(screen)]


def visit_main_window(visitor: Visitor, window: MainWindow) -> None:
    """Start, settings, past sessions and a target, one after the other; then the window is closed."""
    visitor.take("start", window)
    window.look_key.settings.open()
    visitor.take_dialog("settings", window.look_key.settings.sheet)
    window.show_sessions()
    visitor.take("past sessions", window)
    window.show_start()
    window.papers.show_targets("")
    visitor.take("target", window)
    window.close_at_once()
    visitor.put_away(window)
