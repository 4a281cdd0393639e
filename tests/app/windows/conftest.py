"""A shown window with the theme on, closed down after each test."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fake_bench import FakeBench, FakePractice, trimming_picture
from fake_workshop import FakePapers, FakeWorkshop
from pytestqt.qtbot import QtBot

from app import language
from app.windows import errand
from app.windows.main_window import MainWindow
from app.windows.theme import THEME, Look
from app.windows.worded import speak
from app.windows.working_screen import WorkingScreen


class Seconds:
    """A clock of the computer that moves when it is told to."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def seconds() -> Seconds:
    return Seconds()


@pytest.fixture(autouse=True)
def _themed(qapp: object) -> Iterator[None]:
    THEME.look = Look.LIGHT
    THEME.apply(qapp)  # type: ignore[arg-type]
    yield
    if language.chosen() != "en":
        speak("en")


@pytest.fixture(autouse=True)
def _patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is there at once is so on a busy computer too."""
    monkeypatch.setattr(errand, "AT_ONCE_S", 10.0)


@pytest.fixture
def bench() -> FakeBench:
    return FakeBench(trimming_picture())


@pytest.fixture
def practice_bench() -> FakeBench:
    return FakeBench(trimming_picture(practice=True), FakePractice())


@pytest.fixture
def shown(qtbot: QtBot, seconds: Seconds) -> Iterator[Callable[[FakeBench], WorkingScreen]]:
    """Show a working screen on a bench at 1280 by 800."""
    screens: list[WorkingScreen] = []

    def show(bench: FakeBench) -> WorkingScreen:
        screen = WorkingScreen(bench, seconds=seconds)
        screens.append(screen)
        screen.resize(1280, 800)
        with qtbot.waitExposed(screen):
            screen.show()
        return screen

    yield show
    for screen in screens:
        screen.close_down()
        screen.close()
        screen.deleteLater()


@pytest.fixture
def workshop() -> FakeWorkshop:
    return FakeWorkshop()


@pytest.fixture
def window(qtbot: QtBot, workshop: FakeWorkshop, seconds: Seconds) -> Iterator[MainWindow]:
    """The main window on its start screen."""
    window = MainWindow(workshop, seconds=seconds)
    with qtbot.waitExposed(window):
        window.show()
    yield window
    window.close_at_once()
    window.deleteLater()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "amplifiers"


@pytest.fixture
def opened(qtbot: QtBot, folder: Path) -> Iterator[Callable[[], MainWindow]]:
    """The window with a workshop that keeps its amplifiers in a folder."""
    windows: list[MainWindow] = []

    def open_window() -> MainWindow:
        workshop = FakeWorkshop()
        workshop.papers = FakePapers(folder)
        window = MainWindow(workshop)
        windows.append(window)
        with qtbot.waitExposed(window):
            window.show()
        return window

    yield open_window
    for window in windows:
        window.close_at_once()
        window.deleteLater()
