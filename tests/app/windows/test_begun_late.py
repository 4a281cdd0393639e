"""What is asked for at the start screen and comes late never takes another screen's place."""

from __future__ import annotations

import threading

import pytest
from fake_workshop import FakeWorkshop
from pytestqt.qtbot import QtBot

from app.windows import errand
from app.windows.main_window import MainWindow

ADDRESS = "TCPIP0::192.0.2.7::INSTR"


@pytest.fixture
def slow(workshop: FakeWorkshop, monkeypatch: pytest.MonkeyPatch) -> threading.Event:
    """A meter that says who it is when this is set."""
    monkeypatch.setattr(errand, "AT_ONCE_S", 0.01)
    answers = threading.Event()

    def question(address: str) -> str:
        answers.wait(20.0)
        return ""

    monkeypatch.setattr(workshop, "input_question", question)
    return answers


def test_a_bench_that_is_shown_is_not_covered_by_one_that_was_asked_for_before(
    window: MainWindow, workshop: FakeWorkshop, slow: threading.Event, qtbot: QtBot
) -> None:
    """Its run would go on with nobody to see it and nobody to end it."""
    window.start.watch_address.emit(ADDRESS)
    window.begin_tour()
    shown = window.working
    assert shown is not None

    slow.set()
    qtbot.waitUntil(lambda: "begun meanwhile" in shown.said)
    assert window.working is shown
    assert ("address", ADDRESS) not in workshop.done


def test_a_screen_that_was_gone_to_stays(
    window: MainWindow, workshop: FakeWorkshop, slow: threading.Event, qtbot: QtBot
) -> None:
    """Who looks at past sessions meanwhile is told, and goes on looking."""
    window.start.watch_address.emit(ADDRESS)
    window.show_sessions()
    sessions = window.sessions
    assert sessions is not None

    slow.set()
    qtbot.waitUntil(lambda: "begun meanwhile" in sessions.said)
    assert window.working is None
    assert sessions.isVisible()
