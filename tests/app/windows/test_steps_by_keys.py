"""Step kinds at the window, by keys alone: what hands and eyes find is typed and pressed, never called.

The practised hands decide, as in a terminal; everything they say to the program goes through the keyboard.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.bench.live_bench import LiveBench
from app.bench.opening import SimulatedChoice, open_simulated
from app.bench.practice_unit import SimulatedHands
from app.bench.practised_hands import PractisedHands
from app.settings import Settings
from app.windows.working_screen import WorkingScreen
from drivers.clock import SteppedClock
from procedures.events import AnswerKind, Supply
from procedures.library import shipped_procedures
from procedures.setup import RunSetup
from procedures.view import RunView

CTRL = Qt.KeyboardModifier.ControlModifier


class Keyboard:
    """See `HandedBench`: the same sentences, said with keys at a working screen."""

    def __init__(self, live: LiveBench, qtbot: QtBot) -> None:
        self._live = live
        self._qtbot = qtbot
        self._host_s = 0.0
        self._screen = screen = WorkingScreen(live, seconds=lambda: self._host_s)
        screen.resize(1280, 800)
        with qtbot.waitExposed(screen):
            screen.show()

    def put_away(self) -> None:
        """Close the screen, with nothing of it left."""
        self._screen.close_down()
        self._screen.close()
        self._screen.deleteLater()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)

    @property
    def setup(self) -> RunSetup:
        return self._live.setup

    @property
    def view(self) -> RunView:
        return self._live.view

    def session_s(self) -> float:
        return self._live.session_s()

    def supply(self, supply: Supply) -> None:
        """The switch of the panel has told it already."""

    def look(self) -> None:
        """A second passes at the screen, so that a key is not taken for the second half of another."""
        self._host_s += 1.0
        self._screen.refresh()

    def press_next(self) -> None:
        """The one key."""
        self.look()
        if self._screen.cautions.isVisible():
            self._press(Qt.Key.Key_Return)
        else:
            self._press(Qt.Key.Key_Space)

    def answer(self, question: str, choice: str, text: str = "") -> None:
        """A choice by its number, or by the one key where that is what it does; words are typed."""
        self.look()
        asked = self.view.question
        if self._screen.cautions.isVisible():
            self._press(Qt.Key.Key_Return)
            return
        assert asked is not None
        assert asked.id == question
        keys = [one.key for one in asked.choices]
        if choice in keys:
            number = keys.index(choice)
            one = asked.choices[number]
            if one.default and one.text == self._screen.key.text():
                self._press(Qt.Key.Key_Space)
            else:
                self._press(Qt.Key(Qt.Key.Key_1 + number), CTRL)
            return
        assert asked.kind is not AnswerKind.CHOICE
        field = self._screen.answers.field
        while QApplication.focusWidget() is not field:
            self._press(Qt.Key.Key_Tab)
        self._qtbot.keyClicks(field, text)
        self._press(Qt.Key.Key_Return)
        assert self._screen.answers.trouble == ""

    def _press(self, key: Qt.Key, modifiers: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        self._qtbot.keyClick(QApplication.focusWidget() or self._screen, key, modifiers)


def _worked(
    procedure: str, unit: str, root: Path, qtbot: QtBot, answers: dict[str, str] | None = None
) -> RunView:
    live = open_simulated(
        SimulatedChoice(unit), shipped_procedures()[procedure], root, SteppedClock(), Settings()
    )
    try:
        keyboard = Keyboard(live, qtbot)
        assert isinstance(live.practice, SimulatedHands)
        hands = PractisedHands(keyboard, live.practice, 1, answers)
        live.turns(hands).run(lambda: live.conductor.ended is not None, 7200.0)
        view = live.view
        keyboard.put_away()
        return view
    finally:
        live.leave()


@pytest.mark.parametrize(
    ("procedure", "unit", "verdict"),
    [
        ("incoming-inspection", "untidy", "failed: a wrong fuse is fitted (6.3 A where 2.5 A is printed)"),
        ("relay-contact", "worn_relay", "failed: 240 mV, 95.0 mV, 310 mV: 215 mV apart"),
        ("complaint", "worn_relay", "failed: It was seen"),
        ("transformer-hum", "humming_transformer", "failed: DC on the mains: 850 mV"),
        ("emitter-resistors", "scratchy_trimmer", "failed: the right trimmer drops out"),
        ("hand-back", "untidy", "failed: Listened to: Not clean"),
        ("electrical-safety", "right_as_found", "passed: 5 judged and in order"),
        ("trimmer-check", "swapped_test_points", "failed: are test points or leads swapped?"),
        ("multi-pair-spread", "pair_not_conducting", "failed: do not raise the bias to compensate"),
    ],
)
def test_a_procedure_is_worked_by_keys(
    procedure: str, unit: str, verdict: str, session_root: Path, qtbot: QtBot
) -> None:
    """Checklists, typed values, choices, comparisons, nudges and rounds end as they do in the terminal."""
    view = _worked(procedure, unit, session_root, qtbot)

    assert view.ended is not None
    assert view.ended.finished
    whole = [v for v in view.verdicts if v.channel is None and not v.subject]
    outcome, _, words = verdict.partition(": ")
    assert whole[-1].outcome.value == outcome
    assert words in whole[-1].reason
