"""Alarms on the working screen, and the hands beside the simulated bench."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from fake_bench import HIGH, LEFT, FakeBench
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication, QLabel
from pytestqt.qtbot import QtBot

from app.windows.alarm_over_dialogs import AlarmStrip
from app.windows.practice_panel import COARSE, FINE, TrimmerKnob
from app.windows.theme import MILLIMETRE
from app.windows.working_screen import WorkingScreen
from procedures.events import Supply, Tier
from procedures.view import ActiveAlarm

Show = Callable[[FakeBench], WorkingScreen]


# --- alarms ----------------------------------------------------------------------------------------


def test_the_most_urgent_alarm_is_in_front(bench: FakeBench, shown: Show) -> None:
    """The others stand beside it in words."""
    look = replace(HIGH, id="look", tier=Tier.LOOK, text="right bias is still rising")
    bench.show_view(alarms=(ActiveAlarm(look), ActiveAlarm(HIGH)))
    screen = shown(bench)
    assert screen.banner.isVisible()
    assert screen.banner.text == "Switch the mains off now: left bias"
    assert screen.banner.height() > 100


def test_an_acknowledged_alarm_stays_in_sight_but_small(bench: FakeBench, shown: Show) -> None:
    """It is silent, not gone."""
    bench.show_view(alarms=(ActiveAlarm(HIGH, acknowledged=True),))
    screen = shown(bench)
    assert screen.banner.isVisible()
    assert screen.banner.height() < 70
    bench.show_view(alarms=())
    screen.refresh()
    assert not screen.banner.isVisible()


def test_an_alarm_can_be_acknowledged_by_mouse(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """The button is as large as a glove needs: 20 mm high is 76 dots (common practice, no source)."""
    bench.show_view(alarms=(ActiveAlarm(HIGH),))
    screen = shown(bench)
    button = screen.banner.seen_button
    assert button.height() >= 20 * MILLIMETRE
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert bench.done == [("acknowledge", HIGH.id)]


def test_no_dialog_hides_an_alarm(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """It lies across the dialog's top, and F8 says there that it was seen; the dialog keeps what is in it."""
    screen = shown(bench)
    screen.deeds.show_all()
    sheet = screen.deeds.sheet
    assert sheet is not None
    qtbot.waitUntil(sheet.isActiveWindow)
    bench.show_view(alarms=(ActiveAlarm(HIGH),))
    screen.refresh()
    strip = sheet.findChild(AlarmStrip)
    assert strip is not None
    assert strip.isVisible()
    assert strip.text().startswith("Switch the mains off now: left bias")
    assert strip.width() == sheet.width()
    qtbot.keyClick(sheet, Qt.Key.Key_F8)
    assert bench.done == [("acknowledge", HIGH.id)]
    assert sheet.isVisible()
    bench.show_view(alarms=(ActiveAlarm(HIGH, acknowledged=True),))
    screen.refresh()
    assert not strip.isVisible()
    sheet.close()


# --- hands on the simulated unit -------------------------------------------------------------------


def test_hands_turn_trimmers_by_wheel_and_keys(practice_bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """A touch, or ten times as much."""
    screen = shown(practice_bench)
    hands = practice_bench.practice
    assert hands is not None
    knob = screen.findChildren(TrimmerKnob)[0]
    knob.setFocus()
    qtbot.keyClick(knob, Qt.Key.Key_Up)
    qtbot.keyClick(knob, Qt.Key.Key_PageUp)
    where = QPointF(10, 10)
    wheel = QWheelEvent(
        where,
        knob.mapToGlobal(where),
        QPoint(0, 0),
        QPoint(0, -120),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.ControlModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(knob, wheel)
    assert hands.done == [("turn", LEFT, FINE), ("turn", LEFT, COARSE), ("turn", LEFT, -COARSE)]
    assert practice_bench.done == []


def test_hands_switch_without_telling_the_run(practice_bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """The run learns of the mains from the person, as on a real bench."""
    screen = shown(practice_bench)
    hands = practice_bench.practice
    assert hands is not None
    assert screen.practice_panel is not None
    qtbot.mouseClick(screen.practice_panel.feed_button(Supply.SERIES_LAMP), Qt.MouseButton.LeftButton)
    assert hands.done == [("switch", Supply.SERIES_LAMP)]
    assert practice_bench.done == []


def test_practice_is_marked_on_the_screen(practice_bench: FakeBench, shown: Show) -> None:
    """Nobody may take it for a real unit."""
    screen = shown(practice_bench)
    assert any("PRACTICE" in label.text() for label in screen.findChildren(QLabel) if label.isVisible())


def test_the_panel_says_where_hands_and_words_differ(
    shown: Callable[[FakeBench], WorkingScreen], practice_bench: FakeBench
) -> None:
    """In sight of the switch that is to be set, and gone when they agree."""
    screen = shown(practice_bench)
    panel = screen.practice_panel
    assert panel is not None
    assert panel.said == ""

    panel.say("The switch stands at Lamp; Mains is asked for.")
    assert panel.said.startswith("The switch stands at Lamp")
    panel.say("")
    assert panel.said == ""
