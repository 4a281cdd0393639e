"""Keys for gloves follow the screen that the window is on, and what that screen says of itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from fake_bench import AS_FOUND, FakeBench, trimming_picture
from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QApplication, QPushButton

from app.windows.screen_follower import ScreenFollower
from app.windows.theme import GLOVE_MM, THEME, millimetres
from app.windows.working_screen import WorkingScreen


class FakeScreen(QObject):
    """A screen of so many style pixels an inch."""

    physicalDotsPerInchChanged = Signal(float)  # noqa: N815
    geometryChanged = Signal(object)  # noqa: N815

    def __init__(self, dots_an_inch: float) -> None:
        super().__init__()
        self.dots = dots_an_inch

    def physicalDotsPerInch(self) -> float:  # noqa: N802
        return self.dots


class FakeWindow(QObject):
    """A window that can be moved to another screen."""

    screenChanged = Signal(object)  # noqa: N815

    def __init__(self, screen: FakeScreen) -> None:
        super().__init__()
        self._screen = screen

    def screen(self) -> object:
        return self._screen


@pytest.fixture
def follower(qapp: QApplication) -> Iterator[ScreenFollower]:
    follower = ScreenFollower(qapp)
    yield follower
    follower.let_go()
    follower.deleteLater()
    THEME.apply(qapp)


def test_the_screen_of_the_window_counts_wherever_it_goes(
    follower: ScreenFollower, qapp: QApplication
) -> None:
    """Moved, measured anew, and in another look; a screen that was left is no longer heard."""
    low, high = FakeScreen(80.0), FakeScreen(160.0)
    window = FakeWindow(low)
    told: list[float] = []
    follower.changed.connect(lambda: told.append(THEME.millimetre))
    follower.follow(window)
    assert millimetres(25.4) == pytest.approx(80.0)
    window.screenChanged.emit(high)
    assert millimetres(25.4) == pytest.approx(160.0)
    high.dots = 120.0
    high.physicalDotsPerInchChanged.emit(120.0)
    assert millimetres(25.4) == pytest.approx(120.0)
    low.dots = 40.0
    low.physicalDotsPerInchChanged.emit(40.0)
    THEME.apply(qapp)
    assert millimetres(25.4) == pytest.approx(120.0)
    window.screenChanged.emit(None)  # a screen is being unplugged
    assert len(told) == 3


def test_keys_that_are_shown_take_up_the_new_size(
    follower: ScreenFollower, shown: Callable[[FakeBench], WorkingScreen]
) -> None:
    """The big key, the answers and the digits of the working screen; no restart."""
    window = FakeWindow(FakeScreen(96.0))
    follower.follow(window)
    bench = FakeBench(trimming_picture())
    bench.show_view(question=AS_FOUND)
    screen = shown(bench)
    follower.changed.connect(screen.measure_anew)
    window.screenChanged.emit(FakeScreen(150.0))
    QApplication.processEvents()
    glove = millimetres(GLOVE_MM)
    assert glove == pytest.approx(118.1, abs=0.1)
    answers = [b for b in screen.answers.findChildren(QPushButton) if b.isVisible()]
    assert answers
    for key in (screen.key, *answers):
        assert key.height() >= glove - 1
