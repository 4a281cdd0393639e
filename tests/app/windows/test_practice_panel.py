"""The hands on the simulated unit: all that the simulation has can be done and seen there."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fake_bench import FakeBench, FakePractice
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QPushButton
from pytestqt.qtbot import QtBot

from app.bench.opening import SimulatedChoice, open_simulated
from app.bench.practice_bench import PracticeBench
from app.records.session_folder import open_session
from app.settings import Settings
from app.windows.working_screen import WorkingScreen
from drivers.clock import SteppedClock
from procedures.events import Supply
from procedures.library import shipped_procedures
from procedures.records.practised import HandMoved

CTRL_SHIFT = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier


def named(screen: WorkingScreen, name: str) -> QPushButton:
    return next(b for b in screen.findChildren(QPushButton) if b.accessibleName() == name)


def test_every_feed_and_a_short_have_a_control(
    shown: Callable[[FakeBench], WorkingScreen], practice_bench: FakeBench, qtbot: QtBot
) -> None:
    """The switch by keys; the harm that a slip can do only by its own button."""
    screen = shown(practice_bench)
    hands = practice_bench.practice
    assert isinstance(hands, FakePractice)
    for key in (Qt.Key.Key_L, Qt.Key.Key_R, Qt.Key.Key_P, Qt.Key.Key_O):
        qtbot.keyClick(screen, key, CTRL_SHIFT)
    fed = [Supply.SERIES_LAMP, Supply.REDUCED, Supply.MAINS, Supply.OFF]
    assert hands.done == [("switch", one) for one in fed]
    qtbot.mouseClick(named(screen, "Slip and short a device: left bias"), Qt.MouseButton.LeftButton)
    assert hands.done[-1] == ("short", "left bias")


@pytest.fixture
def live(session_root: Path) -> Iterator[PracticeBench]:
    watch = shipped_procedures()["watch"]
    bench = open_simulated(SimulatedChoice(), watch, session_root, SteppedClock(), Settings())
    yield bench
    bench.leave()


def test_a_short_under_power_does_harm_and_is_kept(live: PracticeBench) -> None:
    """A channel falls to nothing, and the record says what hands did."""
    hands = live.practice
    assert hands is not None
    turns = live.turns()
    hands.switch(Supply.MAINS)
    live.supply(Supply.MAINS)
    turns.run(lambda: False, 20.0)
    assert all(state.value is not None and state.value > 0.005 for state in live.view.channels)
    hands.short("left bias")
    turns.run(lambda: False, 10.0)
    left = live.view.channels[0]
    assert left.value is not None
    assert abs(left.value) < 0.001
    kept = open_session(live.record.folder).journal.practised
    moves = [(one.deed, one.subject) for one in kept if isinstance(one, HandMoved)]
    assert ("short", "left bias") in moves


def test_the_probes_and_the_play_are_told(live: PracticeBench) -> None:
    """Where each meter's probes are, and how much of a turn back takes nothing along."""
    hands = live.practice
    assert hands is not None
    assert hands.hands().probes == ("left bias", "right bias")
    assert all(0.0 < trimmer.play < 0.1 for trimmer in hands.hands().trimmers)


def test_where_the_probes_are_is_on_the_screen(
    live: PracticeBench, shown: Callable[[FakeBench], WorkingScreen]
) -> None:
    """In words beside the hands."""
    screen = shown(live)  # type: ignore[arg-type]
    assert any("Probes on: left bias" in label.text() for label in screen.findChildren(QLabel))
