"""The line at the top: what it says of the forecast's memory, in review too."""

from __future__ import annotations

import dataclasses

import pytest
from fake_bench import trimming_picture
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.windows.situation import LEAST_LETTER, SituationLine

LEANING = "forecast leans on the visit of 2026-01-05"


def test_it_says_on_which_visit_the_forecast_leans(qtbot: QtBot) -> None:
    line = SituationLine()
    qtbot.addWidget(line)
    line.resize(1280, 30)
    line.show()
    picture = trimming_picture()
    line.show_picture(picture)
    assert LEANING not in line.text
    view = dataclasses.replace(picture.view, remembered=("2026-01-05",))
    line.show_picture(dataclasses.replace(picture, view=view))
    assert LEANING in line.text
    line.show_picture(dataclasses.replace(picture, view=view, review=True))
    assert LEANING in line.text


def test_a_trouble_goes_before_it(qtbot: QtBot) -> None:
    line = SituationLine()
    qtbot.addWidget(line)
    picture = trimming_picture()
    view = dataclasses.replace(picture.view, remembered=("2026-01-05",))
    line.show_picture(dataclasses.replace(picture, view=view, trouble="The disk is full."))
    assert "The disk is full." in line.text
    assert LEANING not in line.text


@pytest.mark.parametrize(("width", "narrow"), [(1280, False), (960, False), (427, True)])
def test_a_long_name_and_a_long_path_leave_room_for_a_trouble(width: int, narrow: bool, qtbot: QtBot) -> None:
    """What the meters do is never pushed away, and nothing is pushed over the edge."""
    line = SituationLine()
    qtbot.addWidget(line)
    line.set_narrow(narrow)
    line.resize(width, 200 if narrow else 30)
    line.show()
    name, path = "Halden " + "60" * 60, "5400 readings written to /home/" + "bench-records-" * 20 + "run.csv"
    picture = dataclasses.replace(trimming_picture(), unit_name=name, trouble="The disk is full.")
    line.show_picture(picture)
    line.say(path)
    QApplication.processEvents()
    assert line.minimumSizeHint().width() <= width
    trouble = line._meters
    assert trouble.geometry().right() <= width
    assert trouble.height_for(trouble.width(), LEAST_LETTER) <= trouble.height()
    assert name in line.text
    assert path in line.text
    assert line._unit.toolTip() == name
    assert line._said.toolTip() == path


def test_a_unit_is_named_with_its_whole_serial_number(qtbot: QtBot) -> None:
    """On a window of 1280 the usual name is not shortened: the number is what tells one unit from another."""
    line = SituationLine()
    qtbot.addWidget(line)
    line.resize(1280, 30)
    line.show()
    name = "Kestrow K-40, serial K40-01127 (simulated)"
    line.show_picture(dataclasses.replace(trimming_picture(), unit_name=name, practice=True))
    QApplication.processEvents()
    assert line._unit.text() == name
