"""The Qt build that is installed does not harm this Python."""

from __future__ import annotations

import sys

from PySide6.QtCore import QObject


def test_qt_keeps_none_alive() -> None:
    """A call that returns None must not take a reference of None with it.

    PySide6 6.12.0 on Python 3.10 and 3.11 loses one a call and aborts the interpreter after some dozens of
    plot updates (measured); hence the exact pin.
    """
    thing = QObject()
    before = sys.getrefcount(None)

    for _ in range(1000):
        thing.setObjectName("x")

    assert sys.getrefcount(None) - before > -50
