"""The start screen is up before the rest of the program is there, and what is asked for meanwhile is done."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from fake_bench import FakeBench, trimming_picture
from fake_workshop import FakeWorkshop
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from app.windows.application import Readiness
from app.windows.main_window import MainWindow
from app.windows.ports import Unfinished
from procedures.events import Supply

ROOT = Path(__file__).parents[3]


@pytest.fixture
def early(qtbot: QtBot) -> Iterator[MainWindow]:
    """A window that is shown and has no workshop yet."""
    window = MainWindow(lists=FakeWorkshop())
    with qtbot.waitExposed(window):
        window.show()
    yield window
    window.close_at_once()
    window.deleteLater()


def nothing() -> None:
    """Nothing is done afterwards."""


def test_the_lists_are_there_at_once(early: MainWindow) -> None:
    """Meters, amplifiers, units: nobody waits for imports to read them."""
    assert [b.text() for b in early.start.meter_buttons] == [
        "Bench meter · left bias",
        "Second meter · right bias",
    ]
    assert early.start.practise_button.isEnabled()
    assert early.start.job_button.isEnabled()


def test_what_is_asked_for_too_early_is_done_as_soon_as_it_can_be(early: MainWindow, qtbot: QtBot) -> None:
    """The last wish counts; the screen says that it was heard."""
    workshop = FakeWorkshop()
    qtbot.mouseClick(early.start.practise_button, Qt.MouseButton.LeftButton)
    qtbot.mouseClick(early.start.meter_buttons[1], Qt.MouseButton.LeftButton)
    assert early.working is None
    assert "got ready" in early.start.newest

    early.take_workshop(workshop)

    assert workshop.done == [("watch", "m2")]
    assert early.working is not None
    assert "got ready" not in early.start.newest


def test_the_workshop_comes_beside_the_window(early: MainWindow, qtbot: QtBot) -> None:
    """It is made in another thread; the window begins when it has it and knows what was left open."""
    begun: list[MainWindow] = []
    afterwards: list[str] = []
    workshop = FakeWorkshop()
    workshop.left = (Unfinished("s9", "Halden 60", "14:31", Supply.MAINS, True),)
    Readiness(early, lambda: workshop, begun.append, lambda: afterwards.append("done"))

    qtbot.waitUntil(lambda: bool(begun and afterwards))

    assert begun == [early]
    assert early.recovery is not None
    early.recovery.reject()
    qtbot.mouseClick(early.start.practise_button, Qt.MouseButton.LeftButton)
    assert early.working is not None


def test_a_person_who_has_begun_something_is_not_shown_the_tour(early: MainWindow) -> None:
    """The first start shows it, unless hands are busy already."""
    workshop = FakeWorkshop()
    workshop.tour_is_wanted = True
    early.take_workshop(workshop)
    early.show_bench(FakeBench(trimming_picture()))
    early.first_start()
    assert ("tour",) not in workshop.done


def test_why_there_is_no_workshop_is_said(early: MainWindow, qtbot: QtBot) -> None:
    """The refusal stands on the start screen."""

    def refuse() -> FakeWorkshop:
        raise OSError("the sessions folder cannot be read")

    Readiness(early, refuse, None, nothing)

    qtbot.waitUntil(lambda: early.start.trouble == "the sessions folder cannot be read")


def test_the_window_comes_up_without_what_takes_long() -> None:
    """Plotting, computing, meters and the archive are imported behind it."""
    code = (
        "import sys, app.main, app.known_lists, app.windows.application\n"
        "print([m for m in ('pyqtgraph', 'numpy', 'scipy', 'pyvisa', 'serial', 'sqlalchemy', 'rich')"
        " if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)

    assert done.stdout.strip() == "[]"


def test_the_keys_work_without_what_only_some_of_them_need() -> None:
    """The archive, and the functions that only a bench uses, come afterwards."""
    code = (
        "import sys, app.workshop, app.windows.working_screen, app.sound_options\n"
        "print([m for m in ('scipy.special', 'scipy.linalg', 'pyvisa', 'serial', 'sqlalchemy', 'rich')"
        " if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)

    assert done.stdout.strip() == "[]"


def test_that_nothing_can_be_begun_is_told_to_whoever_asks(early: MainWindow, qtbot: QtBot) -> None:
    """ "One moment" would be untrue for ever after."""

    def refuse() -> FakeWorkshop:
        raise OSError("The folder of the sessions cannot be made.")

    qtbot.mouseClick(early.start.practise_button, Qt.MouseButton.LeftButton)
    Readiness(early, refuse, None, nothing)
    qtbot.waitUntil(lambda: early.start.trouble == "The folder of the sessions cannot be made.")
    assert "got ready" not in early.start.newest
    early.start.complain("")
    qtbot.mouseClick(early.start.practise_button, Qt.MouseButton.LeftButton)
    assert early.start.trouble == "The folder of the sessions cannot be made."
    assert "got ready" not in early.start.newest
