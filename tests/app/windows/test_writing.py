"""A file is written beside the window; that it goes on is said, and only one is written at a time."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest
from PySide6.QtCore import QObject
from pytestqt.qtbot import QtBot

from app.windows import writing
from app.windows.writing import Writing


@pytest.fixture
def owner(qapp: QObject) -> Iterator[QObject]:
    owner = QObject()
    yield owner
    owner.deleteLater()


def test_what_takes_long_is_said_again_and_again(
    owner: QObject, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the seconds, so that nobody thinks that it hangs; then what came of it."""
    monkeypatch.setattr(writing, "SLOW_MS", 10)
    monkeypatch.setattr(writing, "AGAIN_MS", 1000)
    said: list[str] = []
    go_on = threading.Event()
    work = Writing(owner)
    work.said.connect(said.append)

    def write() -> str:
        go_on.wait(20.0)
        return "5 readings were written."

    work.write("Being written", "Not written: {reason}", write)
    qtbot.waitUntil(lambda: len(said) >= 2, timeout=10_000)
    assert said[:2] == ["Being written …", "Being written … 1 s"]
    assert work.busy

    work.write("Another one", "Not written: {reason}", lambda: "never")
    assert said[-1].startswith("A file is being written")

    go_on.set()
    qtbot.waitUntil(lambda: said[-1] == "5 readings were written.")
    assert not work.busy


def test_a_reason_with_braces_is_said_as_it_is(owner: QObject, qtbot: QtBot) -> None:
    """A path may have them."""
    said: list[str] = []
    work = Writing(owner)
    work.said.connect(said.append)

    def refuse() -> str:
        raise OSError("/a/{b}: no room")

    work.write("Being written", "Not written: {reason}", refuse)
    qtbot.waitUntil(lambda: said == ["Not written: /a/{b}: no room"])
