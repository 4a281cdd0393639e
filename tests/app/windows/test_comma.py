"""The comma as decimal sign, on screens that show figures of their own beside those of the bench."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from fake_bench import HIGH, FakeBench, trimming_picture
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from app.windows.assessment_sheet import AssessmentSheet
from app.windows.main_window import MainWindow
from app.windows.number_sign import NUMBER_SIGN
from app.windows.target_form import TargetForm
from app.windows.worded import Label, LineEdit
from procedures.assessment import Assessment, Left, Visit
from procedures.view import ActiveAlarm

POINT = re.compile(r"\d\.\d")


@pytest.fixture(autouse=True)
def _comma() -> Iterator[None]:
    NUMBER_SIGN.take("comma")
    yield
    NUMBER_SIGN.take("point")


def _shown(screen: QWidget) -> list[str]:
    """All the words of a screen, painted keys and what is in the fields included."""
    labels = [label.text() for label in screen.findChildren(Label)]
    fields = [
        text for field in screen.findChildren(LineEdit) for text in (field.text(), field.placeholderText())
    ]
    return [text for text in (*labels, *fields) if text]


def test_the_target_form_answers_with_a_comma_and_takes_one(qtbot: QtBot) -> None:
    """What it shows, what it asks, and what it works out; and a figure with a comma is the same figure."""
    form = TargetForm()
    qtbot.addWidget(form)
    form.current.setText("22,5")
    form.rail.setText("42,5")
    form.resistor.setText("0R22")
    assert form.answer == "9,9 mV"
    rows = [row.text() + row.accessibleName() for row in form.candidates.rows]
    shown = [*_shown(form), *rows]
    assert any(re.search(r"\d,\d", text) for text in rows)
    assert not [text for text in shown if POINT.search(text)]
    assert form.use_button.isEnabled()
    form.close()


class Went:
    """A practice with figures in every sentence."""

    def assessment(self, named: tuple[str, ...] | None = None) -> Assessment | None:
        """As it went."""
        return GONE


GONE = Assessment(
    finished=True,
    visits=(Visit(100.0, 160.0, "left bias", past_volts=0.00123),),
    left=(Left("left bias", 0.01314, 0.01348, stays=True),),
    fastest=2.5,
)


def test_how_practice_went_is_told_with_a_comma(qtbot: QtBot) -> None:
    sheet = AssessmentSheet(Went(), asks=False)
    qtbot.addWidget(sheet)
    assert re.search(r"\d,\d", sheet.text)
    assert not POINT.search(sheet.text)
    sheet.close()


def test_the_title_of_the_window_tells_an_alarm_with_a_comma(window: MainWindow) -> None:
    """The desktop shows it while another window is in front."""
    NUMBER_SIGN.take("comma")  # the window took up the setting
    bench = FakeBench(trimming_picture())
    window.show_bench(bench)
    bench.show_view(alarms=(ActiveAlarm(HIGH),))
    window.draw()
    assert window.windowTitle().startswith("!! ")
    assert re.search(r"\d,\d", window.windowTitle())
    assert not POINT.search(window.windowTitle())
