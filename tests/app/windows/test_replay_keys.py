"""A past session is wound by keys: speed, ten seconds back and on, to either end."""

from __future__ import annotations

from collections.abc import Callable

from fake_bench import FakeBench, trimming_picture
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from app.windows.key_row import DeedButton
from app.windows.working_screen import WorkingScreen

Show = Callable[[FakeBench], WorkingScreen]
SHIFT = Qt.KeyboardModifier.ShiftModifier


class WoundBench(FakeBench):
    """A session of 1260 s, shown at its end."""

    def __init__(self) -> None:
        super().__init__(trimming_picture(review=True, speed=10.0))
        self.length_s = self.position_s = 1260.0
        self.playing = False
        self.speed = 10.0

    def play(self, playing: bool) -> None:
        self.playing = playing

    def seek(self, session_s: float) -> None:
        self.position_s = session_s

    def set_speed(self, speed: float) -> None:
        self.speed = speed


def test_keys_wind_a_past_session(shown: Show, qtbot: QtBot) -> None:
    bench = WoundBench()
    screen = shown(bench)
    qtbot.keyClick(screen, Qt.Key.Key_Left, SHIFT)
    assert bench.position_s == 1250.0
    qtbot.keyClick(screen, Qt.Key.Key_Right, SHIFT)
    qtbot.keyClick(screen, Qt.Key.Key_Right, SHIFT)
    assert bench.position_s == 1260.0
    qtbot.keyClick(screen, Qt.Key.Key_Home, SHIFT)
    assert bench.position_s == 0.0
    qtbot.keyClick(screen, Qt.Key.Key_End, SHIFT)
    assert bench.position_s == 1260.0
    qtbot.keyClick(screen, Qt.Key.Key_Space)
    assert bench.playing


def test_keys_choose_the_speed_and_stop_at_both_ends(shown: Show, qtbot: QtBot) -> None:
    bench = WoundBench()
    screen = shown(bench)
    qtbot.keyClick(screen, Qt.Key.Key_Up, SHIFT)
    assert bench.speed == 30.0
    assert "×30" in screen.said
    for _ in range(9):
        qtbot.keyClick(screen, Qt.Key.Key_Down, SHIFT)
    assert bench.speed == 1.0


def test_the_keys_stand_in_the_row_while_there_is_something_to_wind(shown: Show, bench: FakeBench) -> None:
    words = [b.text() for b in shown(WoundBench()).deeds.findChildren(DeedButton) if b.isVisible()]
    assert any("10 s back" in text and "Shift+Left" in text for text in words), words
    screen = shown(bench)
    assert not screen.deeds.action("replay-back").isEnabled()
    assert all("10 s" not in b.text() for b in screen.deeds.findChildren(DeedButton) if b.isVisible())
