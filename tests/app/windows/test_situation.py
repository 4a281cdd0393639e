"""The line at the top: what it says of the forecast's memory, in review too."""

from __future__ import annotations

import dataclasses

from fake_bench import trimming_picture
from pytestqt.qtbot import QtBot

from app.windows.situation import SituationLine

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
