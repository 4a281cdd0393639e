"""Editing a known amplifier in the target form: what the form does not show stays as it was."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from app.amplifier_shelf import AmplifierShelf
from app.windows.target_form import TargetForm
from procedures.amplifier import Amplifier, TestPoint
from procedures.library import shipped_amplifiers

ACROSS_EMITTERS = ("brinefold-pa-600", "kestrow-k-40", "orlend-ra-8")
Edit = Callable[[Amplifier], TargetForm]


@pytest.fixture
def editing(qtbot: QtBot) -> Edit:
    def edit(known: Amplifier) -> TargetForm:
        form = TargetForm(known)
        qtbot.addWidget(form)
        return form

    return edit


def used(form: TargetForm, qtbot: QtBot) -> Amplifier:
    taken: list[Amplifier] = []
    form.described.connect(taken.append)
    qtbot.mouseClick(form.use_button, Qt.MouseButton.LeftButton)
    (amplifier,) = taken
    return amplifier


def full() -> Amplifier:
    """An amplifier with every entry that the form does not show."""
    channel = {
        "test_point": "pair in series",
        "target_milliamperes": 25.0,
        "tolerance_percent": 10.0,
        "spread_millivolts": 3.0,
        "condition": {"kind": "below a sink temperature", "sink_degrees_c": 40.0, "repeat_minutes": 5.0},
        "source": "invented service note, sheet 4",
        "chosen_by": "maker",
        "notes": ["TP3 is the outer leg."],
    }
    heatsink = {"name": "heatsink", "unit": "degC", "high": 70.0}
    left, right = {"name": "left bias", **channel}, {"name": "right bias", **channel}
    return Amplifier.model_validate_json(
        json.dumps(
            {
                "format": 1,
                "maker": "Kestrow",
                "model": "K-41",
                "output_stage": "class g or h",
                "emitter_resistor": "0R27",
                "rail_volts": 42.0,
                "load": "8 ohm dummy",
                "lid_for_last_word": False,
                "ratings": {"power": [{"watts": 80.0, "load_ohm": 8.0}], "gain_db": 28.3},
                "rail_state": [{"name": "high", "volts": 70.0, "when": "above 20 W"}],
                "preset": [{"name": "VR1", "channel": "left bias", "turns": 15.0}],
                "sources": {"rail_volts": "sheet 2", "ratings.gain_db": "sheet 1"},
                "notes": ["Nearer to the transformer."],
                "errata": ["Sheet 4 swaps the channels."],
                "channel": [left, right, heatsink],
            }
        )
    )


@pytest.mark.parametrize("name", ACROSS_EMITTERS)
def test_an_amplifier_that_is_not_touched_comes_back_as_it_was(
    editing: Edit, qtbot: QtBot, name: str
) -> None:
    known = _by_stem(name)
    assert used(editing(known), qtbot) == known


def _by_stem(stem: str) -> Amplifier:
    return next(a for a in shipped_amplifiers().values() if a.name.lower().replace(" ", "-") == stem)


def test_another_rail_changes_the_rail_alone(editing: Edit, qtbot: QtBot) -> None:
    known = full()
    form = editing(known)
    form.rail.clear()
    qtbot.keyClicks(form.rail, "44")
    assert used(form, qtbot) == known.model_copy(update={"rail_volts": 44.0})


def test_another_current_keeps_all_but_the_words_about_the_old_target(editing: Edit, qtbot: QtBot) -> None:
    known = full()
    form = editing(known)
    form.current.clear()
    qtbot.keyClicks(form.current, "30")
    assert "replaces the known target (13.5 mV, invented service note, sheet 4)" in form.doubts
    made = used(form, qtbot)
    assert made.model_copy(update={"channel": known.channel}) == known
    for channel, before in zip(made.channel[:2], known.channel[:2], strict=True):
        assert channel.target_milliamperes == 30.0
        assert (channel.source, channel.chosen_by) == ("", "")
        assert (channel.condition, channel.notes) == (before.condition, before.notes)
        assert channel.spread_millivolts == before.spread_millivolts
    assert made.channel[2] == known.channel[2]


def test_another_pair_count_restates_a_total_current(editing: Edit, qtbot: QtBot) -> None:
    form = editing(_by_stem("brinefold-pa-600"))
    assert form.current.text() == "30"  # closed form: 120 mA over four pairs
    form.pairs.setText("5")
    assert used(form, qtbot).channel[0].target_milliamperes == 30.0


def test_a_target_in_millivolts_is_shown_as_its_current(editing: Edit) -> None:
    form = editing(_by_stem("orlend-ra-8"))
    # Closed form: 8.8 mV / 0.22 ohm.
    assert form.current.text() == "40"
    assert form.answer == "8.8 mV"
    assert form.candidates.rows[0].text().endswith("chosen current")


def test_one_that_is_read_elsewhere_is_not_begun_with(editing: Edit) -> None:
    """Its target is no current through emitter resistors, so nothing of it could be shown."""
    form = editing(_by_stem("tessen-rl-60"))
    assert (form.maker.text(), form.model.text()) == ("Unnamed", "amplifier")


def test_a_candidate_is_taken_for_the_bias_channels_alone(editing: Edit, qtbot: QtBot) -> None:
    known = full()
    form = editing(known)
    form.candidates.rows[0].click()
    form.candidates.by.setText("the bench")
    form.candidates.reason.setText("quieter")
    made = used(form, qtbot)
    assert made.channel[0].chosen_by == "the bench"
    assert made.channel[2] == known.channel[2]
    assert made.ratings == known.ratings


def test_what_was_edited_is_kept_on_the_shelf_whole(editing: Edit, qtbot: QtBot, tmp_path: Path) -> None:
    made = used(editing(full()), qtbot)
    shelf = AmplifierShelf(tmp_path)
    key = shelf.keep(made)
    assert shelf.all()[key] == full()


def test_two_names_that_make_one_file_name_are_two_files(tmp_path: Path) -> None:
    shelf = AmplifierShelf(tmp_path)
    one = full()
    two = one.model_copy(update={"model": "K 41"})
    shelf.keep(one)
    shelf.keep(two)
    shelf.keep(two)
    assert {one.name, two.name} <= set(shelf.all())
    assert len(list(tmp_path.glob("*.toml"))) == 2


def test_a_point_can_still_be_chosen(editing: Edit) -> None:
    form = editing(full())
    form.choose(TestPoint.ONE_RESISTOR)
    assert form.answer == "6.75 mV"
