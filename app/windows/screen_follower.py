"""Millimetres of the screen that the window is on: they change when it is moved, or when a screen says so."""

from __future__ import annotations

from typing import Any, Protocol

from PySide6.QtCore import QMetaObject, QObject, Signal, SignalInstance, Slot

from app.windows.theme import THEME


class MeasuredScreen(Protocol):
    """What is asked of a screen; Qt's `QScreen` has it."""

    physicalDotsPerInchChanged: SignalInstance  # noqa: N815
    geometryChanged: SignalInstance  # noqa: N815

    def physicalDotsPerInch(self) -> float:
        """Style pixels an inch of the screen."""
        ...


class ShownWindow(Protocol):
    """What is asked of a window; Qt's `QWindow` has it."""

    screenChanged: SignalInstance  # noqa: N815

    def screen(self) -> Any:
        """Where it is now."""
        ...


class ScreenFollower(QObject):
    """`changed`: a millimetre has another number of style pixels than before."""

    changed = Signal()

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._screen: MeasuredScreen | None = None
        self._heard: list[QMetaObject.Connection] = []

    def follow(self, window: ShownWindow) -> None:
        """Follow a window that has been shown, from screen to screen."""
        window.screenChanged.connect(self.take_screen)
        self.take_screen(window.screen())

    @Slot(object)
    def take_screen(self, screen: MeasuredScreen | None) -> None:
        """The window is on this screen now; None while a screen is being taken away."""
        for connection in self._heard:
            QObject.disconnect(connection)
        self._heard = []
        self._screen = THEME.screen = screen
        if self._screen is not None:
            signals = self._screen.physicalDotsPerInchChanged, self._screen.geometryChanged
            self._heard = [signal.connect(self._measure) for signal in signals]
            self._measure()

    @Slot()
    def _measure(self, *_what: object) -> None:
        before = THEME.millimetre
        if self._screen is not None:
            THEME.measure(self._screen.physicalDotsPerInch())
        if THEME.millimetre != before:
            self.changed.emit()

    def let_go(self) -> None:
        """The window is gone; the primary screen counts again."""
        self.take_screen(None)
