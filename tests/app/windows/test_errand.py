"""What is done beside the window arrives in the window's thread, whatever comes of it."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator

import pytest
import shiboken6
from PySide6.QtCore import QObject
from pytestqt.qtbot import QtBot

from app.windows import errand as errand_module
from app.windows.errand import Errand


@pytest.fixture
def errand(qapp: QObject) -> Iterator[Errand]:
    made = Errand()
    yield made
    made.deleteLater()


def test_what_is_there_at_once_has_arrived_when_soon_returns(errand: Errand, qtbot: QtBot) -> None:
    came: list[object] = []
    errand.done.connect(came.append)
    errand.soon(lambda: 7)
    assert came == [7]


def test_what_takes_longer_arrives_once_and_later(
    errand: Errand, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(errand_module, "AT_ONCE_S", 0.01)
    came: list[object] = []
    errand.done.connect(came.append)
    go_on = threading.Event()

    def work() -> int:
        go_on.wait(20.0)
        return 7

    errand.soon(work)
    assert came == []
    go_on.set()
    qtbot.waitUntil(lambda: came == [7])


def test_a_defect_is_told_and_nobody_waits_for_ever(
    errand: Errand, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[type] = []
    monkeypatch.setattr(sys, "excepthook", lambda kind, *_: told.append(kind))
    came: list[object] = []
    errand.done.connect(came.append)
    errand.run(lambda: 1 // 0)
    qtbot.waitUntil(lambda: len(came) == 1)
    assert told == [ZeroDivisionError]
    assert "could not be done" in str(came[0])


def test_a_window_may_be_destroyed_while_its_errand_comes_back(qtbot: QtBot) -> None:
    """However the two meet: a signal of something half destroyed would end the program."""
    for _ in range(20):
        window = QObject()
        errand = Errand(window)
        go = threading.Event()
        errand.run(go.wait)
        go.set()
        shiboken6.delete(window)
