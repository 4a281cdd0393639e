"""Targets side by side: all are shown, none is recommended, a choice is kept with who and why."""

from __future__ import annotations

import pytest
from fake_workshop import FakePapers
from pytestqt.qtbot import QtBot

from app.windows.target_form import TargetForm
from procedures.amplifier import Amplifier


@pytest.fixture
def form(qtbot: QtBot) -> TargetForm:
    made = TargetForm()
    qtbot.addWidget(made)
    return made


def texts(form: TargetForm) -> list[str]:
    return [row.text() for row in form.candidates.rows]


def used(form: TargetForm) -> list[Amplifier]:
    taken: list[Amplifier] = []
    form.described.connect(taken.append)
    form.use_button.click()
    return taken


def test_the_chosen_current_and_the_rulers_stand_side_by_side(form: TargetForm) -> None:
    shown = texts(form)
    assert shown[0] == "13.5 mV   chosen current"
    assert any("theory, thermal voltage (a ruler, no target)" in text for text in shown)
    assert any("theory, tabulated (a ruler, no target)" in text for text in shown)
    assert form.candidates.rows[0].isChecked()


def test_the_other_channel_joins_them(form: TargetForm) -> None:
    form.candidates.other.setText("12,9")
    assert "12.9 mV   the other channel" in texts(form)


def test_what_the_model_was_left_at_joins_them_when_it_is_named(qtbot: QtBot) -> None:
    """By the median, with the span; another model's own history takes its place."""
    papers = FakePapers()
    papers.left_at = (0.0131, 0.0137, 0.0135)
    form = TargetForm(papers=papers)
    qtbot.addWidget(form)
    form.model.setText("K-40")
    form.model.editingFinished.emit()
    qtbot.waitUntil(lambda: "13.5 mV   this model's own history" in texts(form))
    row = next(row for row in form.candidates.rows if "history" in row.text())
    assert "3 channels were left at 13.5 mV, 13.1 mV to 13.7 mV" in row.accessibleName()
    form.model.setText("K-41")
    form.model.editingFinished.emit()
    qtbot.waitUntil(lambda: not any("history" in text for text in texts(form)))


def test_heat_is_said_once_the_rail_is_known(form: TargetForm) -> None:
    assert "heat not known" in form.candidates.rows[0].accessibleName()
    form.rail.setText("42")
    # Closed form: 25 mA through 42 V less 6.75 mV in each device is 1.05 W.
    assert "1.05 W idle in each device" in form.candidates.rows[0].accessibleName()


def test_another_resistor_keeps_the_current(form: TargetForm) -> None:
    form.resistor.setText("0R22")
    assert texts(form)[0] == "11.0 mV   chosen current"


def test_the_entered_current_needs_no_words(form: TargetForm) -> None:
    (amplifier,) = used(form)
    assert amplifier.channel[0].target_milliamperes == 25.0


def test_another_choice_is_kept_with_who_and_why(form: TargetForm) -> None:
    form.candidates.other.setText("12.9")
    next(row for row in form.candidates.rows if "other channel" in row.text()).click()
    form.candidates.by.setText("the bench")
    form.candidates.reason.setText("never opened, sounds right")
    (amplifier,) = used(form)
    for channel in amplifier.channel:
        assert channel.target_millivolts == pytest.approx(12.9)
        assert channel.chosen_by == "the bench"
        assert channel.reason == "never opened, sounds right"
        assert "the other channel" in (channel.source or "")


def test_without_who_and_why_it_is_not_taken(form: TargetForm) -> None:
    form.candidates.rows[1].click()
    assert used(form) == []
    assert "say who chose this target, and why" in form.candidates.trouble.text().lower()


@pytest.mark.parametrize(
    ("typed", "sentence"), [("high", "“high” is not a number"), ("-3", "between 0 and 1000 mV")]
)
def test_a_bad_reading_of_the_other_channel_is_a_sentence(
    form: TargetForm, typed: str, sentence: str
) -> None:
    form.candidates.other.setText(typed)
    assert sentence in form.candidates.trouble.text()
