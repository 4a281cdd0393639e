"""The amplifier form as a person works it: typed into, moved through by keys, saved, left."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from fake_workshop import FakePapers
from form_hands import at, describe, said, shown, typed
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from app.amplifier_shelf import AmplifierShelf
from app.windows.amplifier_fields import Place
from app.windows.amplifier_form import AmplifierForm
from app.windows.chooser import Chooser
from app.windows.main_window import MainWindow
from procedures.amplifier import Amplifier, TestPoint
from procedures.checking import checked

KEY = "Kestrow K-40"
Edit = Callable[[str], AmplifierForm]


@pytest.fixture
def window(opened: Callable[[], MainWindow]) -> MainWindow:
    return opened()


@pytest.fixture
def fresh(window: MainWindow, qtbot: QtBot) -> AmplifierForm:
    """A new amplifier, begun from the start screen."""
    qtbot.mouseClick(window.start.prepare.new_button, Qt.MouseButton.LeftButton)
    return shown(window)


@pytest.fixture
def editing(qtbot: QtBot, folder: Path) -> Callable[[str], AmplifierForm]:
    """A form by itself, on a known amplifier."""

    def edit(key: str) -> AmplifierForm:
        form = AmplifierForm(FakePapers(folder).known(key))
        qtbot.addWidget(form)
        with qtbot.waitExposed(form):
            form.show()
        return form

    return edit


# --- entering -----------------------------------------------------------------------------------------------


def test_a_new_amplifier_is_entered_and_saved_by_keys(
    window: MainWindow, fresh: AmplifierForm, qtbot: QtBot, folder: Path
) -> None:
    describe(fresh, qtbot)
    typed(fresh, qtbot, ("emitter_resistor",), "0R27")
    typed(fresh, qtbot, ("channel", 0, "test_point"), TestPoint.PAIR_IN_SERIES.value)
    assert fresh.page is not None
    ways = fresh.page.findChildren(Chooser)
    next(c for c in ways if c.accessibleName() == "The target is given").setCurrentIndex(2)
    assert fresh.page.rows[("channel", 0, "target_milliamperes")].isVisible()
    next(c for c in ways if c.accessibleName() == "The tolerance is given").setCurrentIndex(1)
    typed(fresh, qtbot, ("channel", 0, "target_milliamperes"), "25")
    typed(fresh, qtbot, ("channel", 0, "tolerance_percent"), "10")
    # Closed form: 25 mA through 0.54 ohm, and ten percent either way.
    assert fresh.page.fact == "13.5 mV at the test points, window 12.2 mV to 14.9 mV: 25 mA × 0.54 Ω."
    qtbot.keyClick(fresh, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    (path,) = folder.glob("*.toml")
    assert fresh.state == f"Saved in {path}."
    kept = checked(path.read_text(encoding="utf-8"), path.name, Amplifier)
    assert kept.channel[0].target_milliamperes == 25.0
    assert not fresh.changed
    qtbot.keyClick(fresh, Qt.Key.Key_Escape)
    assert window.start.isVisible()


@pytest.mark.parametrize(
    ("place", "text", "sentence"),
    [
        (("rail_volts",), "high", "“high” is not a number: type one, such as 42"),
        (("rail_volts",), "-42", "-42 is too small; it must be above 0."),
        (("pairs",), "41", "41 is too large; it may be at most 40."),
        (("emitter_resistor",), "OR27", '"OR27" is not a resistance: did you mean "0R27"?'),
        (("ratings", "crosstalk_db"), "60", "60 is too large; it must be below 0."),
        (("maker",), "", "This is missing."),
        (("channel", 0, "target_table", "row"), "20 4 5", "write degrees and millivolts, such as 25  4.4"),
        (("channel", 0, "name"), "x" * 61, "This is too long; at most 60 characters fit."),
    ],
)
def test_what_is_wrong_stands_beneath_its_field_as_it_is_typed(
    editing: Edit, qtbot: QtBot, place: Place, text: str, sentence: str
) -> None:
    form = editing(KEY)
    typed(form, qtbot, place, text)
    found = next(one.sentence for one in form.said if one.place == place)
    assert sentence in found
    assert form.amplifier is None


@pytest.mark.parametrize(
    ("text", "value"), [("42,5", 42.5), ("42.5 V", 42.5), ("42V", 42.0), (" 42 ", 42.0), ("1e1", None)]
)
def test_a_number_may_be_typed_with_its_unit(
    editing: Edit, qtbot: QtBot, text: str, value: float | None
) -> None:
    form = editing(KEY)
    typed(form, qtbot, ("rail_volts",), text)
    assert (form.amplifier.rail_volts if form.amplifier else None) == value


def test_what_does_not_go_together_is_said_where_it_can_be_mended(editing: Edit, qtbot: QtBot) -> None:
    form = editing(KEY)
    typed(form, qtbot, ("channel", 0, "condition", "kind"), "below a sink temperature")
    assert said(form, "channel", 0, "condition", "sink_degrees_c") == (
        'A target "below a sink temperature" needs “Heatsink below (°C)”.'
    )
    typed(form, qtbot, ("channel", 0, "condition", "sink_degrees_c"), "40")
    assert form.amplifier is not None


def test_unlikely_entries_are_asked_about(editing: Edit, qtbot: QtBot) -> None:
    form = editing(KEY)
    typed(form, qtbot, ("channel", 0, "target_milliamperes"), "900")
    assert "very much for a follower" in form.questions
    assert form.amplifier is not None


def test_tubes_are_beyond_the_program_and_say_so(editing: Edit, qtbot: QtBot) -> None:
    form = editing(KEY)
    typed(form, qtbot, ("output_stage",), "tube")
    assert "its anode supply is lethal" in form.questions


def test_the_source_of_a_value_stands_beside_it(window: MainWindow, qtbot: QtBot, folder: Path) -> None:
    window.papers.edit(KEY)
    form = shown(window)
    at(form, "ratings", "gain_db").setFocus()
    qtbot.keyClick(form, Qt.Key.Key_F4)
    assert form.page is not None
    source = form.page.rows[("ratings", "gain_db")].source
    assert source is not None
    qtbot.keyClicks(source, "measured here")
    qtbot.keyClick(form, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    assert AmplifierShelf(folder).all()[KEY].sources == {"ratings.gain_db": "measured here"}


def test_rows_are_added_and_taken_out_by_keys(editing: Edit, qtbot: QtBot) -> None:
    form = editing(KEY)
    at(form, "ratings", "power", 0, "watts")
    qtbot.keyClick(form, Qt.Key.Key_N, Qt.KeyboardModifier.ControlModifier)
    assert form.page is not None
    assert form.page.lists[0].said[2].splitlines() == ["Power: This is missing.", "Load: This is missing."]
    typed(form, qtbot, ("ratings", "power", 2, "watts"), "200")
    typed(form, qtbot, ("ratings", "power", 2, "load_ohm"), "2")
    assert form.amplifier is not None
    assert form.amplifier.ratings.power[2].watts == 200.0
    at(form, "ratings", "power", 0, "watts").setFocus()
    qtbot.keyClick(form, Qt.Key.Key_D, Qt.KeyboardModifier.ControlModifier)
    assert [one.watts for one in form.amplifier.ratings.power] == [130.0, 200.0]


def test_a_preset_names_the_others_it_upsets(editing: Edit, qtbot: QtBot) -> None:
    form = editing("Tessen AB-500")
    typed(form, qtbot, ("preset", 0, "interacts_with"), "right bias, VR9")
    assert 'interacts with "VR9", which is no other preset' in form.said[0].sentence
    typed(form, qtbot, ("preset", 0, "interacts_with"), "right bias")
    assert form.amplifier is not None
    assert form.amplifier.preset[0].interacts_with == ("right bias",)


def test_a_channel_is_taken_from_the_first_but_for_its_name(fresh: AmplifierForm, qtbot: QtBot) -> None:
    describe(fresh, qtbot)
    typed(fresh, qtbot, ("channel", 0, "source"), "sheet 4")
    at(fresh, "channel", 1, "name")
    assert fresh.page is not None
    keys = {b.text(): b for b in fresh.page.findChildren(QWidget) if hasattr(b, "clicked") and b.isVisible()}
    qtbot.mouseClick(keys["take all but the name from left bias"], Qt.MouseButton.LeftButton)
    assert fresh.amplifier is not None
    assert [(c.name, c.source) for c in fresh.amplifier.channel] == [
        ("left bias", "sheet 4"),
        ("right bias", "sheet 4"),
    ]


def test_another_way_to_give_the_target_takes_the_first_out(editing: Edit, qtbot: QtBot) -> None:
    form = editing(KEY)
    at(form, "channel", 0, "name")
    assert form.page is not None
    chooser = next(c for c in form.page.findChildren(Chooser) if c.accessibleName() == "The target is given")
    chooser.setCurrentIndex(1)
    typed(form, qtbot, ("channel", 0, "target_millivolts"), "13")
    assert form.amplifier is not None
    assert form.amplifier.channel[0].target_milliamperes is None
    assert form.amplifier.channel[0].target_millivolts == 13.0


def test_a_target_as_table_is_typed_row_by_row(editing: Edit, qtbot: QtBot) -> None:
    form = editing(KEY)
    at(form, "channel", 0, "name")
    assert form.page is not None
    next(
        c for c in form.page.findChildren(Chooser) if c.accessibleName() == "The target is given"
    ).setCurrentIndex(4)
    typed(form, qtbot, ("channel", 0, "target_table", "row"), "10 3,9 mV")
    widget = at(form, "channel", 0, "target_table", "row")
    qtbot.keyClick(widget, Qt.Key.Key_Return)
    qtbot.keyClicks(widget, "25  4.4")
    assert form.amplifier is not None
    table = form.amplifier.channel[0].target_table
    assert table is not None
    assert [(row.degrees_c, row.millivolts) for row in table.row] == [(10.0, 3.9), (25.0, 4.4)]


# --- moving -------------------------------------------------------------------------------------------------


def test_one_key_goes_from_one_mistake_to_the_next(editing: Edit, qtbot: QtBot) -> None:
    form = editing(KEY)
    for place in (("maker",), ("ratings", "gain_db")):
        typed(form, qtbot, place, "x" if place != ("maker",) else "")
    form.list.setCurrentRow(0)
    seen = []
    for _ in range(3):
        qtbot.keyClick(form, Qt.Key.Key_F8)
        seen.append(form.list.currentItem().text())
    assert seen == ["Model", "Ratings", "Model"]
    assert form.state == "To put right: 2 things."


def test_sections_are_turned_by_keys(editing: Edit, qtbot: QtBot) -> None:
    form = editing(KEY)
    titles = []
    for _ in range(form.list.count()):
        qtbot.keyClick(form, Qt.Key.Key_PageDown, Qt.KeyboardModifier.ControlModifier)
        titles.append(form.list.currentItem().text())
    assert titles == [
        "Output stage", "left bias", "right bias", "Presets", "Ratings", "Offset",
        "Notes and errata", "Model",
    ]  # fmt: skip
    qtbot.keyClick(form, Qt.Key.Key_PageUp, Qt.KeyboardModifier.ControlModifier)
    assert form.list.currentItem().text() == "Notes and errata"


def test_every_field_can_be_reached_and_has_a_name(editing: Edit) -> None:
    form = editing(KEY)
    for row in range(form.list.count()):
        form.list.setCurrentRow(row)
        assert form.page is not None
        for field in form.page.rows.values():
            assert field.editor.widget.accessibleName()
            assert field.editor.widget.focusPolicy() & Qt.FocusPolicy.TabFocus


def test_a_narrow_window_shows_the_entries_alone(editing: Edit, qtbot: QtBot) -> None:
    """As at 200 % on a small screen: no list of sections, every entry under its label, nothing cut off."""
    form = editing(KEY)
    for width, narrow in ((640, True), (1280, False)):
        form.resize(width, 400)
        qtbot.waitUntil(lambda narrow=narrow: form.list.isHidden() is narrow)  # type: ignore[misc]
        form.list.setCurrentRow(1)
        assert form.page is not None
        row = form.page.rows[("rail_volts",)]
        assert (row.editor.widget.y() > 20) is narrow
        assert form.page.minimumSizeHint().width() < width
    typed(form, qtbot, ("rail_volts",), "44")
    assert form.amplifier is not None
