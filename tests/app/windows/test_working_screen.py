"""The working screen, worked as a person does: with keys and clicks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from fake_bench import AS_FOUND, HIGH, LEFT, RIGHT, FakeBench, FakePractice, setup, trimming_picture
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtWidgets import QApplication, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from app.windows.channel_row import LEAST_DIGITS
from app.windows.own_questions import lead_question
from app.windows.theme import MILLIMETRE
from app.windows.trace_canvas import LineKind
from app.windows.working_screen import WorkingScreen
from drivers.reading import MeterState, MeterStatus, Unit
from procedures.cautions import BEFORE_WORK
from procedures.events import AnswerKind, Choice, Instruction, Question, RunEnded, Supply
from procedures.leads import Lead, Leads
from procedures.steps.before_work import BEFORE_WORK_ID
from procedures.view import ActiveAlarm

Show = Callable[[FakeBench], WorkingScreen]

# --- what is shown ---------------------------------------------------------------------------------


def test_one_sentence_one_key_and_large_readings(bench: FakeBench, shown: Show) -> None:
    """What to do, with which key, and where the reading is."""
    screen = shown(bench)

    assert screen.instruction == "Turn the left trimmer until it shows 13.2 mV"
    assert "test points are live" in screen.caution
    assert screen.key.text() == "Left is done"
    assert screen.rows[LEFT].figures.text.strip() == "12.57"
    assert screen.rows[LEFT].words[0] == "0.93 mV low"
    assert screen.rows[RIGHT].words[0] == "inside the window"


def test_two_channels_are_thirty_five_millimetres_high_at_1280_by_800(bench: FakeBench, shown: Show) -> None:
    """Caught in a glance at two metres: three times 20 arc minutes (people's sight; recalled)."""
    screen = shown(bench)
    for row in screen.rows.values():
        assert row.figures.digit_height / MILLIMETRE >= 35.0
        assert row.figures.geometry().right() <= row.width()


def test_four_channels_stay_legible(bench: FakeBench, shown: Show) -> None:
    """At least 12 mm, and everything within the window."""
    picture = bench.picture()
    states = tuple(replace(picture.view.channels[0], channel=f"channel {i}") for i in range(4))
    bench.show_view(channels=states)
    screen = shown(bench)

    assert screen.height() == 800
    for row in screen.rows.values():
        assert row.figures.digit_height >= LEAST_DIGITS
        assert row.figures.digit_height / MILLIMETRE >= 12.0


@pytest.mark.parametrize("practice", [False, True])
def test_an_alarm_fits_into_1280_by_800(practice: bool, shown: Show) -> None:
    """Nothing is pushed out of the window by the banner."""
    bench = FakeBench(trimming_picture(practice=practice), FakePractice() if practice else None)
    bench.show_view(alarms=(ActiveAlarm(HIGH),), question=AS_FOUND)
    screen = shown(bench)
    bench.show()
    screen.refresh()
    QApplication.processEvents()
    assert screen.size().height() == 800
    assert screen.banner.width() == screen.width()
    assert screen.rows[LEFT].figures.digit_height / MILLIMETRE >= 20.0


@pytest.mark.parametrize("practice", [False, True])
def test_everything_fits_into_half_a_full_hd_screen(practice: bool, shown: Show) -> None:
    """1920 by 1080 at 200 % are 960 by 540 style pixels; readings keep 12 mm."""
    bench = FakeBench(trimming_picture(practice=practice), FakePractice() if practice else None)
    bench.show_view(alarms=(ActiveAlarm(HIGH),), question=AS_FOUND)
    screen = shown(bench)
    screen.resize(960, 540)
    QApplication.processEvents()
    assert (screen.width(), screen.height()) == (960, 540)
    for row in screen.rows.values():
        assert row.figures.digit_height / MILLIMETRE >= 12.0
    lowest = max(w.geometry().bottom() for w in screen.children() if isinstance(w, QWidget) and w.isVisible())
    assert lowest < 540


def test_a_frame_is_drawn_only_when_something_changed(bench: FakeBench, shown: Show) -> None:
    """The same picture is not drawn again."""
    screen = shown(bench)
    assert not screen.refresh()
    bench.show()
    assert screen.refresh()


def test_while_turning_everything_follows_the_newest_reading(bench: FakeBench, shown: Show) -> None:
    """The level of the last seconds lags behind the hand; words, bubble and current must not."""
    states = bench.picture().view.channels
    bench.show_view(channels=(replace(states[0], value=0.0136, level=0.0168, noise=0.001), states[1]))
    screen = shown(bench)
    row = screen.rows[LEFT]
    assert row.words[0] == "inside the window"
    assert row.level.picture is not None
    assert row.level.picture.inside
    assert row.level.picture.bubble_half < 0.02


def test_a_blind_channel_says_so(bench: FakeBench, shown: Show) -> None:
    """Words, not an old number that looks alive."""
    states = bench.picture().view.channels
    bench.show_view(channels=(replace(states[0], value=None, gap="not watched for 20 s"), states[1]))
    screen = shown(bench)
    assert screen.rows[LEFT].words[0] == "not watched for 20 s"


def test_a_lost_meter_is_told_with_its_reason(bench: FakeBench, shown: Show) -> None:
    """The state in words, and what the meter's worker said about it."""
    bench.show(meters=(MeterStatus("meter A", MeterState.WAITING, 0.0, "no answer within 2 s"),))
    screen = shown(bench)
    assert "meter A: lost, trying again (no answer within 2 s)" in screen.said


def test_every_control_has_an_accessible_name(practice_bench: FakeBench, shown: Show) -> None:
    """A screen reader must be able to say what each of them is."""
    practice_bench.show_view(alarms=(ActiveAlarm(HIGH),), question=AS_FOUND)
    screen = shown(practice_bench)
    for widget in screen.findChildren(QWidget):
        if widget.isVisible() and widget.focusPolicy() & Qt.FocusPolicy.TabFocus:
            interface = QAccessible.queryAccessibleInterface(widget)
            assert interface is not None
            assert interface.text(QAccessible.Text.Name), type(widget).__name__


# --- the one key -----------------------------------------------------------------------------------


def test_space_does_what_the_big_key_says(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """Wherever the focus is, outside text fields."""
    screen = shown(bench)
    qtbot.keyClick(screen, Qt.Key.Key_Space)
    assert bench.done == [("next",)]


@pytest.mark.parametrize("key", [Qt.Key.Key_PageDown, Qt.Key.Key_F13, Qt.Key.Key_F24])
def test_a_foot_switch_does_it_too(bench: FakeBench, shown: Show, qtbot: QtBot, key: Qt.Key) -> None:
    """Foot switches present themselves as keys."""
    qtbot.keyClick(shown(bench), key)
    assert bench.done == [("next",)]


def test_two_presses_within_a_third_of_a_second_count_once(
    bench: FakeBench, shown: Show, qtbot: QtBot, seconds: object
) -> None:
    """A trembling foot must not skip a step."""
    screen = shown(bench)
    for pause in (0.0, 0.25, 0.31):
        seconds.now += pause  # type: ignore[attr-defined]
        qtbot.keyClick(screen, Qt.Key.Key_Space)
    assert bench.done == [("next",), ("next",)]


def test_the_key_does_nothing_where_nothing_is_next(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """And says so."""
    bench.show_view(next_label="", by_itself=True)
    screen = shown(bench)
    qtbot.keyClick(screen, Qt.Key.Key_Space)
    assert bench.done == []
    assert "Nothing" in screen.key.accessibleName()


def test_the_key_never_answers_an_alarm(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """An alarm has its own key, and its own place."""
    bench.show_view(alarms=(ActiveAlarm(HIGH),))
    screen = shown(bench)
    qtbot.keyClick(screen, Qt.Key.Key_Space)
    assert ("acknowledge", HIGH.id) not in bench.done

    qtbot.keyClick(screen, Qt.Key.Key_F8)
    assert bench.done[-1] == ("acknowledge", HIGH.id)


def test_the_key_never_passes_the_cautions(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """They have a page and a key of their own."""
    read = Question(
        0.0,
        "cautions/0/read",
        BEFORE_WORK_ID,
        "\n".join(BEFORE_WORK),
        choices=(Choice("yes", "I have read them"),),
    )
    bench.show_view(
        question=read, next_label="", instruction=Instruction(0.0, "cautions", "Read the cautions.")
    )
    screen = shown(bench)
    assert screen.cautions.isVisible()
    assert not screen.plot.isVisible()
    qtbot.keyClick(screen, Qt.Key.Key_Space)
    assert bench.done == []

    qtbot.keyClick(screen, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: bool(bench.done))
    assert bench.done == [("answer", "cautions/0/read", "yes", "")]
    bench.show_view(question=None)
    screen.refresh()
    assert screen.plot.isVisible()


def test_after_the_end_the_key_leads_back(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """Nothing is left to do but to go."""
    bench.show_view(
        ended=RunEnded(1300.0, True, "Every step was carried out."), next_label="", instruction=None
    )
    screen = shown(bench)
    with qtbot.waitSignal(screen.leave):
        qtbot.keyClick(screen, Qt.Key.Key_Space)
    assert screen.instruction == "Every step was carried out."


# --- questions -------------------------------------------------------------------------------------


def test_another_answer_is_one_key(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """ "Not measured: dead" is an answer like any other; the default one is on the big key."""
    bench.show_view(question=AS_FOUND, next_label="Keep 10.62 mV")
    screen = shown(bench)
    qtbot.keyClick(screen, "2", Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: bool(bench.done))
    assert bench.done == [("answer", "found/1/left", "dead", "")]


def test_a_bad_value_is_refused_in_one_sentence_and_can_be_mended(
    bench: FakeBench, shown: Show, qtbot: QtBot
) -> None:
    """Nothing is recorded until the value makes sense."""
    asked = Question(0.0, "v/1/ambient", "v", "What does it show, mV?", AnswerKind.VALUE, unit=Unit.VOLT)
    bench.show_view(question=asked, next_label="")
    screen = shown(bench)
    screen.answers.field.setFocus()
    qtbot.keyClicks(screen.answers.field, "thirteen")
    qtbot.keyClick(screen.answers.field, Qt.Key.Key_Return)
    assert "“thirteen” is not a reading" in screen.answers.trouble
    assert bench.done == []

    qtbot.keyClicks(screen.answers.field, "13,2")
    qtbot.keyClick(screen.answers.field, Qt.Key.Key_Return)
    assert bench.done == [("answer", "v/1/ambient", "", "0.0132")]


def test_space_belongs_to_a_text_field(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """Writing a note does not drive the run."""
    screen = shown(bench)
    qtbot.keyClick(screen, Qt.Key.Key_F3)
    qtbot.keyClicks(screen.answers.field, "buzz when touched")
    assert bench.done == []
    qtbot.keyClick(screen.answers.field, Qt.Key.Key_Return)
    assert bench.done == [("note", "buzz when touched", LEFT)]

    qtbot.keyClick(screen, Qt.Key.Key_Space)
    assert bench.done[-1] == ("next",)


def test_escape_gives_a_note_up(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """The run's own question comes back."""
    bench.show_view(question=AS_FOUND, next_label="Keep 10.62 mV")
    screen = shown(bench)
    qtbot.keyClick(screen, Qt.Key.Key_F3)
    qtbot.keyClick(screen.answers.field, Qt.Key.Key_Escape)
    assert screen.answers.shown == AS_FOUND
    assert bench.done == []


# --- deeds -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pressed", "done"),
    [
        ("F2", ("note", "", LEFT)),
        ("Ctrl+Z", ("undo",)),
        ("F7", ("lid", True)),
        ("Shift+F7", ("driven", True)),
        ("F9", ("pause", True)),
        ("Shift+F9", ("away", True)),
    ],
)
def test_deeds_by_one_key(
    bench: FakeBench, shown: Show, qtbot: QtBot, pressed: str, done: tuple[object, ...]
) -> None:
    """Mark, undo, lid, signal, pause and away are one key each."""
    qtbot.keySequence(shown(bench), pressed)
    assert bench.done == [done]


def test_pause_says_that_alarms_go_on(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """And the same key goes on."""
    screen = shown(bench)
    qtbot.keyClick(screen, Qt.Key.Key_F9)
    screen.refresh()
    assert "alarms go on" in screen.caution
    qtbot.keyClick(screen, Qt.Key.Key_F9)
    assert bench.done == [("pause", True), ("pause", False)]


def test_away_says_to_switch_off(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """Nobody watches an amplifier from another room."""
    screen = shown(bench)
    qtbot.keyClick(screen, Qt.Key.Key_F9, Qt.KeyboardModifier.ShiftModifier)
    screen.refresh()
    assert "Switch the amplifier off" in screen.caution


def test_one_lead_is_moved_by_one_key(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """One meter and two channels: it can only have gone to the other one."""
    bench.show(leads=Leads((Lead("meter A", "1", LEFT),)))
    screen = shown(bench)
    qtbot.keyClick(screen, Qt.Key.Key_F4)
    assert bench.done == [("lead", "meter A", "1", RIGHT)]


def test_with_two_leads_it_is_asked_which(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """Then a choice is one more key."""
    screen = shown(bench)
    qtbot.keyClick(screen, Qt.Key.Key_F4)
    assert bench.done == []
    qtbot.keyClick(screen, "1", Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: bool(bench.done))
    assert bench.done == [("lead", "meter A", "1", RIGHT)]


def test_every_lead_can_go_to_every_channel_or_be_taken_off(bench: FakeBench) -> None:
    """Also with more moves than there are keys for."""
    view = bench.picture().view
    channels = (LEFT, RIGHT, "left offset", "right offset")
    states = tuple(replace(view.channels[0], channel=name) for name in channels)
    leads = Leads(tuple(Lead(f"meter {n}", "1", name) for n, name in enumerate(channels)))
    asked = lead_question(replace(bench.picture(), view=replace(view, channels=states), leads=leads))
    moves = {tuple(choice.key.split("\n")) for choice in asked.choices}
    wanted = {(one.meter, "1", name) for one in leads for name in channels if name != one.channel}
    assert moves == wanted | {(one.meter, "1", "") for one in leads}


def test_what_has_no_key_of_its_own_is_chosen_with_tab(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """Ten choices, nine keys."""
    screen = shown(bench)
    choices = tuple(Choice(str(n), f"place {n}") for n in range(10))
    screen.answers.ask_own(Question(0.0, "own:lead", "", "Moved:", choices=choices))
    words = [button.text() for button in screen.answers.findChildren(QPushButton) if button.isVisible()]
    assert words[8] == "place 8   Ctrl+9"
    assert words[9] == "place 9"


def test_the_mains_is_declared_by_choice(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """The program cannot see the switch; it asks which way it was turned."""
    screen = shown(bench)
    qtbot.keyClick(screen, Qt.Key.Key_F6)
    qtbot.keyClick(screen, "1", Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: bool(bench.done))
    assert bench.done == [("supply", Supply.OFF)]


def test_a_typed_channel_takes_digits_at_once(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """Type the number and Enter: that is the whole of it."""
    bench.show(setups=(setup(LEFT), setup(RIGHT, typed=True)), leads=Leads((Lead("meter A", "1", LEFT),)))
    screen = shown(bench)
    qtbot.keyClick(screen, "1")
    qtbot.keyClicks(screen.answers.field, "3,1")
    qtbot.keyClick(screen.answers.field, Qt.Key.Key_Return)
    assert bench.done == [("typed", RIGHT, pytest.approx(0.0131))]


def test_a_display_in_degrees_is_asked_for_in_degrees(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """And an overload is typed as the display shows it; nonsense is a sentence, and can be corrected."""
    warm = replace(setup(RIGHT, typed=True), unit=Unit.CELSIUS)
    bench.show(setups=(setup(LEFT), warm), leads=Leads((Lead("meter A", "1", LEFT),)))
    screen = shown(bench)
    answers = screen.answers
    qtbot.keyClick(screen, Qt.Key.Key_F5)
    assert answers.shown is not None
    assert answers.shown.text == f"{RIGHT} shows, °C:"
    qtbot.keyClicks(answers.field, "48 mV")
    qtbot.keyClick(answers.field, Qt.Key.Key_Return)
    assert "'48 mV' is in V" in answers.trouble
    qtbot.keyClicks(answers.field, "48,5")
    qtbot.keyClick(answers.field, Qt.Key.Key_Return)
    qtbot.keyClick(screen, Qt.Key.Key_F5)
    qtbot.keyClicks(answers.field, "OL")
    qtbot.keyClick(answers.field, Qt.Key.Key_Return)
    assert bench.done == [("typed", RIGHT, 48.5), ("typed", RIGHT, None)]


def test_stop_asks(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """Nothing destructive is on one key."""
    screen = shown(bench)
    with qtbot.waitSignal(screen.ask_stop):
        qtbot.keyClick(screen, Qt.Key.Key_F12)
    assert bench.done == []


def test_all_deeds_are_on_one_sheet(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """Whoever forgets a key finds it under F1."""
    screen = shown(bench)
    qtbot.keyClick(screen, Qt.Key.Key_F1)
    qtbot.waitUntil(lambda: screen.deeds.sheet is not None)
    sheet = screen.deeds.sheet
    assert sheet is not None
    qtbot.waitUntil(sheet.isVisible)
    qtbot.keyClick(sheet, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: not sheet.isVisible())


def test_the_values_as_found_lie_beside_the_traces(bench: FakeBench, shown: Show) -> None:
    """By a key; told at the curve in words, in a broken line, and gone again by the same key."""
    screen = shown(bench)
    screen.deeds.action("found").trigger()
    assert screen.plot.shown is not None
    beside = [c for c in screen.plot.shown.curves if "as found" in c.label]
    assert [c.label for c in beside] == ["left bias as found 10.6 mV", "right bias as found 11.9 mV"]
    assert {c.kind for c in beside} == {LineKind.BROKEN}
    screen.deeds.action("found").trigger()
    assert not [c for c in screen.plot.shown.curves if "as found" in c.label]


def test_the_other_channels_can_be_left_out(bench: FakeBench, shown: Show) -> None:
    """The channel worked on stays, in its own colour."""
    screen = shown(bench)
    screen.deeds.action("others").trigger()
    assert screen.plot.shown is not None
    assert [c.label for c in screen.plot.shown.curves] == [LEFT]
    screen.deeds.action("others").trigger()
    assert len(screen.plot.shown.curves) == 2


def test_without_another_session_of_the_unit_it_is_said(bench: FakeBench, shown: Show, qtbot: QtBot) -> None:
    """One sentence, and nothing is drawn."""
    screen = shown(bench)
    screen.deeds.action("past").trigger()
    qtbot.waitUntil(lambda: "no other session" in screen.said)
