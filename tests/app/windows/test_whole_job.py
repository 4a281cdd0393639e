"""A whole guided trim at the window, by keys alone, on the simulated bench in stepped time.

The person reads only what is on the screen and does only what hands can do.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import QApplication, QCheckBox
from pytestqt.qtbot import QtBot

from app.bench.live_bench import LiveBench
from app.bench.opening import SimulatedChoice, open_simulated
from app.settings import Settings
from app.windows.assessment_sheet import AssessmentSheet
from app.windows.working_screen import WorkingScreen
from drivers.clock import SteppedClock
from procedures.defects import DEFECT_WORDS
from procedures.events import Outcome, Supply
from procedures.library import shipped_procedures

CTRL_SHIFT = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
SHOWS = re.compile(r"until it shows ([\d.]+) mV")


class Person:
    """Works the screen. A nudge is always upwards; after it the screen says with it, or against it."""

    def __init__(self, screen: WorkingScreen, qtbot: QtBot) -> None:
        self._screen = screen
        self._qtbot = qtbot
        self.keys = 0

    def press(self, key: Qt.Key, modifiers: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        """A key of the keyboard, wherever the focus is; there is no mouse."""
        self.keys += 1
        self._qtbot.keyClick(QApplication.focusWidget() or self._screen, key, modifiers)

    def say_how_it_went(self, sheet: AssessmentSheet, tick: str) -> None:
        """Tab to one of the things that may be the matter, tick it, and have the rest told."""
        for _ in range(40):
            box = sheet.focusWidget()
            if isinstance(box, QCheckBox) and box.text() == tick:
                self._qtbot.keyClick(box, Qt.Key.Key_Space)
                self._qtbot.keyClick(box, Qt.Key.Key_Return)
                return
            self._qtbot.keyClick(box or sheet, Qt.Key.Key_Tab)
        raise AssertionError("the box cannot be reached by Tab")

    def act(self) -> None:
        """Do what the screen asks for."""
        screen = self._screen
        label, told = screen.key.text(), screen.instruction
        if screen.cautions.isVisible():
            self.press(Qt.Key.Key_Return)
        elif "trimmer is set" in label:
            self._trim(told)
        elif label:
            self._hands(label)
            self.press(Qt.Key.Key_Space)

    def _hands(self, label: str) -> None:
        """What must be done at the unit before the key may be pressed."""
        panel = self._screen.practice_panel
        assert panel is not None
        if "switched on" in label and not panel.feed_button(Supply.MAINS).isChecked():
            self.press(Qt.Key.Key_P, CTRL_SHIFT)
        elif "switched off" in label and not panel.feed_button(Supply.OFF).isChecked():
            self.press(Qt.Key.Key_O, CTRL_SHIFT)
        elif "lid is on" in label and not panel.lid_button.isChecked():
            self.press(Qt.Key.Key_D, CTRL_SHIFT)

    def _trim(self, told: str) -> None:
        screen = self._screen
        if told.startswith("Let go") or "is set:" in told:
            self.press(Qt.Key.Key_Space)
        if not told.startswith(("Nudge", "Keep turning", "Turn back", "Past it")):
            return
        panel = screen.practice_panel
        assert panel is not None
        side = 0 if "left" in screen.key.text() else 1
        while not panel.knobs[side].hasFocus():
            self.press(Qt.Key.Key_T, CTRL_SHIFT)
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


def test_a_whole_trim_by_keys_alone(live: LiveBench, qtbot: QtBot) -> None:
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
    person.say_how_it_went(sheet, DEFECT_WORDS["runs away"])
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
