"""Stopping, leaving, closing, breaking."""

from __future__ import annotations

import gc
import weakref
from pathlib import Path

import pytest
from fake_bench import LEFT, RIGHT, FakeBench
from fake_workshop import FakeWorkshop
from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import QApplication, QMessageBox
from pytestqt.qtbot import QtBot

from app.windows.application import Guard, geometry_text, take_geometry
from app.windows.main_window import MainWindow
from procedures.events import Alarm, RunEnded, Tier
from procedures.view import ActiveAlarm


@pytest.fixture
def running(window: MainWindow, workshop: FakeWorkshop) -> FakeBench:
    """The window with a run on."""
    window.show_bench(workshop.bench)
    return workshop.bench


def press(window: MainWindow, qtbot: QtBot, role: QMessageBox.ButtonRole) -> None:
    box = window.question
    assert box is not None
    button = next(b for b in box.buttons() if box.buttonRole(b) is role)
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


YES, NO = QMessageBox.ButtonRole.AcceptRole, QMessageBox.ButtonRole.RejectRole


def test_stop_asks_and_no_goes_on(window: MainWindow, running: FakeBench, qtbot: QtBot) -> None:
    """The likelier answer is the harmless one."""
    assert window.working is not None
    qtbot.keyClick(window.working, Qt.Key.Key_F12)
    assert running.done == []
    assert window.question is not None
    assert "cannot switch the amplifier off" in window.question.informativeText()
    press(window, qtbot, NO)
    assert running.done == []


def test_stop_after_yes(window: MainWindow, running: FakeBench, qtbot: QtBot) -> None:
    """Then the run is ended."""
    window.ask_stop()
    press(window, qtbot, YES)
    assert running.done == [("stop", "Stopped by a person.")]


def test_closing_during_a_run_asks_without_stopping_the_record(
    window: MainWindow, running: FakeBench, qtbot: QtBot
) -> None:
    """While the question stands nothing has been stopped."""
    window.close()
    assert window.isVisible()
    assert not running.left
    assert running.done == []
    press(window, qtbot, NO)
    assert not running.left

    window.close()
    press(window, qtbot, YES)
    qtbot.waitUntil(lambda: running.left)
    assert not window.isVisible()


def test_a_run_can_be_left_open_for_the_next_start(
    window: MainWindow, running: FakeBench, qtbot: QtBot
) -> None:
    """The window closes; the run is not ended."""
    window.close()
    press(window, qtbot, QMessageBox.ButtonRole.ActionRole)
    qtbot.waitUntil(lambda: running.left)
    assert running.done == [("left open",)]
    assert not window.isVisible()


def test_practice_is_not_offered_to_be_left_open(
    window: MainWindow, practice_bench: FakeBench, qtbot: QtBot
) -> None:
    """A simulated unit does not outlive the program: the next start could only close its session."""
    window.show_bench(practice_bench)
    window.close()
    assert window.question is not None
    roles = [window.question.buttonRole(button) for button in window.question.buttons()]
    assert QMessageBox.ButtonRole.ActionRole not in roles
    press(window, qtbot, NO)


def test_closing_without_a_run_does_not_ask(window: MainWindow, running: FakeBench) -> None:
    """Nothing is to be lost."""
    running.show_view(ended=RunEnded(1.0, True, "Every step was carried out."))
    window.close()
    assert not window.isVisible()
    assert running.left


def test_leaving_a_bench_lets_go_of_it(window: MainWindow, running: FakeBench, qtbot: QtBot) -> None:
    """Back at the start, the bench is told."""
    window.leave_bench()
    press(window, qtbot, YES)
    assert running.left
    assert window.start.isVisible()


def test_an_alarm_is_in_the_title_bar(window: MainWindow, running: FakeBench) -> None:
    """For those who have another window in front."""
    alarm = Alarm(1.0, "level", Tier.ACT, LEFT, "left bias 34 mV: turn down now, or stop")
    running.show_view(alarms=(ActiveAlarm(alarm),))
    window.draw()
    assert "turn down now" in window.windowTitle()
    running.show_view(alarms=())
    window.draw()
    assert window.windowTitle() == "Warmtrim"


def test_the_title_bar_has_the_most_urgent_alarm_that_nobody_has_seen(
    window: MainWindow, running: FakeBench
) -> None:
    """Not one that was acknowledged, nor the first of the list; it changes when that one is seen."""
    seen = Alarm(1.0, "silent", Tier.ACT, RIGHT, "right bias has not come for 10 s")
    mild = Alarm(2.0, "slow", Tier.LOOK, LEFT, "left bias is still rising")
    worst = Alarm(3.0, "level", Tier.ACT, LEFT, "left bias 34 mV: turn down now, or stop")
    alarms = (ActiveAlarm(seen, acknowledged=True), ActiveAlarm(mild), ActiveAlarm(worst))
    running.show_view(alarms=alarms)
    window.draw()
    assert "turn down now" in window.windowTitle()
    running.show_view(alarms=(*alarms[:2], ActiveAlarm(worst, acknowledged=True)))
    window.draw()
    assert "still rising" in window.windowTitle()


def test_export_answers_in_words(
    window: MainWindow, running: FakeBench, tmp_path: Path, qtbot: QtBot
) -> None:
    """On the screen, not in a box; written beside the window."""
    window.export_to(str(tmp_path / "run.csv"))
    working = window.working
    assert working is not None
    qtbot.waitUntil(lambda: "Written" in working.said)
    assert running.done == [("export", tmp_path / "run.csv")]


def test_an_unexpected_error_is_one_sentence(window: MainWindow, qtbot: QtBot) -> None:
    """The details are kept; the person is told once."""
    kept: list[str] = []
    guard = Guard(window, kept.append)
    for _ in range(2):
        try:
            raise ZeroDivisionError("division by zero")
        except ZeroDivisionError as error:
            guard.caught(type(error), error, error.__traceback__)
    qtbot.waitUntil(lambda: guard.box is not None)
    assert guard.box is not None
    assert "Recording and alarms go on" in guard.box.text()
    assert "Traceback" not in guard.box.text()
    assert len(kept) == 2
    assert "Traceback" in kept[0]
    assert (
        len([w for w in QApplication.topLevelWidgets() if isinstance(w, QMessageBox) and w.isVisible()]) == 1
    )
    guard.box.close()


def test_a_closed_window_is_gone(qtbot: QtBot) -> None:
    """No lambda and no bench keeps it alive."""
    workshop = FakeWorkshop()
    window = MainWindow(workshop)
    with qtbot.waitExposed(window):
        window.show()
    window.show_bench(workshop.bench)
    screen = weakref.ref(window.working)
    seen = weakref.ref(window)
    window.close_at_once()
    window.deleteLater()
    del window
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
    gc.collect()
    assert screen() is None
    assert seen() is None


def test_the_geometry_comes_back(window: MainWindow) -> None:
    """Nonsense in the settings changes nothing."""
    window.resize(980, 700)
    kept = geometry_text(window)
    window.resize(980, 600)
    take_geometry(window, "no geometry at all")
    assert window.height() == 600
    take_geometry(window, kept)
    assert window.height() == 700
