"""Whoever looks at the screens of the pictures: a camera, or somebody who walks and examines them."""

from __future__ import annotations

from typing import Protocol

from PySide6.QtCore import QEvent
from PySide6.QtWidgets import QApplication, QDialog, QWidget

from app.windows.theme import Look

LOOKS = (Look.LIGHT, Look.DARK, Look.CONTRAST)


class Visitor(Protocol):
    """Whoever looks at the screens: takes pictures of them, or examines them."""

    def wear(self, look: Look) -> None:
        """Take up a look, before a screen is made."""
        ...

    def room(self) -> tuple[int, int]:
        """How large a window is, before what is shown in it is made."""
        ...

    def take(self, name: str, screen: QWidget) -> object:
        """Look at a screen."""
        ...

    def take_dialog(self, name: str, dialog: QDialog | None) -> object:
        """Look at a dialog that is open, and close it."""
        ...

    def put_away(self, screen: QWidget) -> None:
        """Done with a screen."""
        ...


class PutsAway:
    """How every visitor is done with a screen."""

    __slots__ = ()

    def put_away(self, screen: QWidget) -> None:
        """Close a screen and let Qt delete it."""
        screen.close()
        screen.deleteLater()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
