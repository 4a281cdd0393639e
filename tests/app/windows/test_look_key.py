"""One key takes up the next shades, on every screen, and they are remembered."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fake_workshop import FakeWorkshop
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.windows.main_window import MainWindow
from app.windows.theme import THEME, Look


@pytest.fixture(autouse=True)
def _look_as_before(qapp: QApplication) -> Iterator[None]:
    before = THEME.look
    yield
    THEME.look = before
    THEME.apply(qapp)


def test_every_look_comes_in_turn_and_is_remembered(qtbot: QtBot) -> None:
    workshop = FakeWorkshop()
    window = MainWindow(workshop)
    qtbot.addWidget(window)
    THEME.look = Look.SYSTEM
    for _ in Look:
        window.look_key.next()
    assert workshop.looks == ["light", "dark", "high contrast", "system"]
    window.close_at_once()


def test_on_the_working_screen_it_is_one_of_the_listed_keys(qtbot: QtBot) -> None:
    workshop = FakeWorkshop()
    window = MainWindow(workshop)
    qtbot.addWidget(window)
    THEME.look = Look.LIGHT
    window.show_bench(workshop.bench)
    assert window.working is not None
    window.working.deeds.action("look").trigger()
    assert workshop.looks == ["dark"]
    assert "Shades: dark." in window.working.said
    window.close_at_once()
