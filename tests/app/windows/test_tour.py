"""The tour of the simulated bench, done by keys as it asks, in stepped time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fake_workshop import FakeWorkshop
from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.bench.opening import open_tour
from app.bench.tour import LAST_WORDS, STEPS, TourBench
from app.settings import Settings, load_settings
from app.windows.main_window import MainWindow
from app.windows.working_screen import WorkingScreen
from app.workshop import LocalWorkshop
from drivers.clock import SteppedClock
from procedures.events import Supply

CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier


@pytest.fixture
def tour(session_root: Path) -> Iterator[TourBench]:
    bench = open_tour(session_root, SteppedClock(), Settings(), lambda: None)
    yield bench
    bench.leave()


class Newcomer:
    """Does what the sentence says, by keys."""

    def __init__(self, bench: TourBench, qtbot: QtBot) -> None:
        self.seconds = 0.0
        self.screen = WorkingScreen(bench, seconds=lambda: self.seconds)
        self._qtbot = qtbot
        self._turns = bench.turns()

    def key(self, key: Qt.Key, modifiers: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        self.seconds += 0.4
        self._qtbot.keyClick(QApplication.focusWidget() or self.screen, key, modifiers)

    def wait(self, bench_s: float) -> None:
        self._turns.run(lambda: False, bench_s)
        self.screen.refresh()

    def until(self, done: Callable[[], bool], bench_s: float, most: int) -> None:
        for _ in range(most):
            if done():
                return
            self.wait(bench_s)
        raise AssertionError(self.screen.instruction)

    def say_supply(self) -> None:
        """F6, then the first choice, which has the focus."""
        self.key(Qt.Key.Key_F6)
        self.key(Qt.Key.Key_Return)

    def turn_until(self, key: Qt.Key, done: Callable[[], bool]) -> None:
        for _ in range(90):
            if done():
                return
            self.key(key)
            self.wait(2.5)
        raise AssertionError(self.screen.instruction)


@pytest.fixture
def newcomer(tour: TourBench, qtbot: QtBot) -> Iterator[Newcomer]:
    person = Newcomer(tour, qtbot)
    yield person
    person.screen.close_down()
    person.screen.close()
    person.screen.deleteLater()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)


def test_the_tour_is_done_by_keys_in_a_few_minutes(tour: TourBench, newcomer: Newcomer, qtbot: QtBot) -> None:
    """Every step ends by doing what its sentence asks, and the last key leads back."""
    person = newcomer
    screen = person.screen
    screen.resize(1280, 800)
    with qtbot.waitExposed(screen):
        screen.show()
    person.wait(2.0)
    assert "Space" in screen.instruction
    person.key(Qt.Key.Key_Space)
    person.wait(1.0)
    assert "Ctrl+Shift+P" in screen.instruction
    person.key(Qt.Key.Key_P, CTRL | SHIFT)
    person.wait(1.0)
    assert "F6" in screen.instruction
    person.say_supply()
    person.wait(1.0)
    assert "bubble" in screen.instruction
    person.until(lambda: tour.place == 4, 20.0, 10)
    person.key(Qt.Key.Key_T, CTRL | SHIFT)
    person.turn_until(Qt.Key.Key_Up, lambda: tour.place == 5)
    assert "Settled" in screen.instruction
    person.until(lambda: tour.place == 6, 60.0, 45)
    left = tour.view.channels[0]
    assert left.settled, left.reason
    person.key(Qt.Key.Key_T, CTRL | SHIFT)
    person.turn_until(Qt.Key.Key_PageUp, lambda: tour.place == 7)
    assert screen.banner.isVisible()
    person.key(Qt.Key.Key_F8)
    person.wait(1.0)
    assert tour.place == 8
    person.key(Qt.Key.Key_O, CTRL | SHIFT)
    person.say_supply()
    person.wait(2.0)
    screen.refresh()
    assert tour.practice is not None
    assert (tour.practice.hands().supply, tour.view.supply) == (Supply.OFF, Supply.OFF)
    assert tour.place == len(STEPS)
    assert screen.instruction == LAST_WORDS
    with qtbot.waitSignal(screen.leave, timeout=1000):
        person.key(Qt.Key.Key_Space)


def test_the_first_start_shows_the_tour_and_escape_ends_it(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """Without a question: nothing of it is kept."""
    workshop.tour_is_wanted = True
    window.first_start()
    assert workshop.done == [("tour",)]
    assert window.working is not None
    qtbot.keyClick(window.working, Qt.Key.Key_Escape)
    assert window.working is None
    assert window.question is None
    assert window.start.isVisible()


def test_a_tour_that_was_seen_does_not_come_by_itself(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """It is still on the start screen."""
    window.first_start()
    assert workshop.done == []
    qtbot.keyClick(window.start.tour_button, Qt.Key.Key_Space)
    assert workshop.done == [("tour",)]


def test_escape_first_gives_up_what_was_begun(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """A note that was begun is not the end of the tour."""
    window.begin_tour()
    assert window.working is not None
    qtbot.keyClick(window.working, Qt.Key.Key_F3)
    qtbot.keyClick(window.working.answers.field, Qt.Key.Key_Escape)
    assert window.working is not None
    qtbot.keyClick(window.working, Qt.Key.Key_Escape)
    assert window.working is None


def test_that_it_was_seen_is_kept_and_nothing_else(session_root: Path, tmp_path: Path) -> None:
    """Its folder goes with it; no session is listed."""
    path = tmp_path / "settings.json"
    workshop = LocalWorkshop(Settings(), path, session_root)
    assert workshop.tour_wanted()
    bench = workshop.tour()
    folder = bench.record.folder
    bench.leave()
    assert not folder.parent.exists()
    assert workshop.shelf.sessions() == ()
    assert load_settings(path)[0].tour_seen
    assert not workshop.tour_wanted()
