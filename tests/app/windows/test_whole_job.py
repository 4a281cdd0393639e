"""A whole guided trim at the window, by keys and clicks, on the simulated bench in stepped time.

The person reads only what is on the screen and does only what hands can do.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import QApplication, QPushButton
from pytestqt.qtbot import QtBot

from app.bench.live_bench import LiveBench
from app.bench.opening import SimulatedChoice, open_simulated
from app.settings import Settings
from app.windows.working_screen import WorkingScreen
from drivers.clock import SteppedClock
from procedures.events import Outcome, Supply
from procedures.library import shipped_procedures

SHOWS = re.compile(r"until it shows ([\d.]+) mV")


class Person:
    """Works the screen. A nudge is always upwards; after it the screen says with it, or against it."""

    def __init__(self, screen: WorkingScreen, qtbot: QtBot) -> None:
        self._screen = screen
        self._qtbot = qtbot
        self.keys = 0

    def press(self, key: Qt.Key) -> None:
        self.keys += 1
        self._qtbot.keyClick(QApplication.focusWidget() or self._screen, key)

    def act(self) -> None:
        """Do what the screen asks for."""
        screen = self._screen
        label, told = screen.key.text(), screen.instruction
        if screen.cautions.isVisible():
            self._qtbot.mouseClick(screen.cautions.key, Qt.MouseButton.LeftButton)
        elif "trimmer is set" in label:
            self._trim(told)
        elif label:
            self._hands(label)
            screen.setFocus()
            self.press(Qt.Key.Key_Space)

    def _hands(self, label: str) -> None:
        """What must be done at the unit before the key may be pressed."""
        panel = self._screen.practice_panel
        assert panel is not None
        wanted: QPushButton | None = None
        if "switched on" in label:
            wanted = panel.feed_button(Supply.MAINS)
        elif "switched off" in label:
            wanted = panel.feed_button(Supply.OFF)
        elif "lid is on" in label:
            wanted = panel.lid_button
        if wanted is not None and not wanted.isChecked():
            self._qtbot.mouseClick(wanted, Qt.MouseButton.LeftButton)

    def _trim(self, told: str) -> None:
        screen = self._screen
        if told.startswith("Let go") or "is set:" in told:
            screen.setFocus()
            self.press(Qt.Key.Key_Space)
        if not told.startswith(("Nudge", "Keep turning", "Turn back", "Past it")):
            return
        panel = screen.practice_panel
        assert panel is not None
        side = 0 if "left" in screen.key.text() else 1
        panel.knobs[side].setFocus()
        row = list(screen.rows.values())[side]
        way = Qt.Key.Key_Down if "against your nudge" in told else Qt.Key.Key_Up
        shows = SHOWS.search(told)
        away = abs(float(shows[1]) - float(row.figures.text)) if shows else 0.3
        for _ in range(8 if not shows else max(1, min(6, round(away / 0.25)))):
            self.press(way)


@pytest.fixture
def live(session_root: Path) -> Iterator[LiveBench]:
    procedure = shipped_procedures()["two-channel-bias-trim"]
    bench = open_simulated(SimulatedChoice(), procedure, session_root, SteppedClock(), Settings())
    yield bench
    bench.leave()


def test_a_whole_trim_by_keys_and_clicks(live: LiveBench, qtbot: QtBot) -> None:
    """From the cautions to the last word; both channels end inside their windows."""
    host = [0.0]
    screen = WorkingScreen(live, seconds=lambda: host[0])
    screen.resize(1280, 800)
    with qtbot.waitExposed(screen):
        screen.show()
    person = Person(screen, qtbot)
    turns = live.turns()
    for _ in range(1200):
        view = live.snapshot().view
        if view.ended is not None:
            break
        busy = screen.key.isEnabled() or screen.cautions.isVisible()
        turns.run(lambda: False, 4.0 if busy else 15.0)
        host[0] += 1.0
        screen.refresh()
        person.act()

    screen.refresh()
    sheet = screen.after_practice.sheet
    assert sheet is not None
    sheet.tick("runs away")
    qtbot.mouseClick(sheet.key, Qt.MouseButton.LeftButton)
    went = sheet.text
    assert "as it was left it rests at" in went
    assert "this unit has none of that" in went
    sheet.close()
    view = live.snapshot().view
    instruction = screen.instruction
    screen.close_down()
    screen.close()
    screen.deleteLater()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)

    assert view.ended is not None, instruction
    assert view.ended.finished
    last = {v.channel: v.outcome for v in view.verdicts if v.channel is not None}
    assert last == {"left bias": Outcome.PASSED, "right bias": Outcome.PASSED}
