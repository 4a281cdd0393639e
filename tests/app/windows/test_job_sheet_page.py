"""The job sheet in the window: written in place, kept as it is written, every blank may stay empty."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot
from written_sheets import Sheet, sheets

from app.records.job_folder import (
    jobs_root,
    list_jobs,
)
from drivers.reading import Unit
from procedures.job import (
    JobOutcome,
    Reproduced,
    SheetField,
    State,
)

F = SheetField
Open = Callable[..., Sheet]


@pytest.fixture
def open_sheet(qtbot: QtBot, session_root: Path) -> Iterator[Open]:
    with sheets(qtbot, session_root) as opened:
        yield opened


def click(qtbot: QtBot, widget: QWidget) -> None:
    qtbot.mouseClick(widget, Qt.MouseButton.LeftButton)


# --- kept as it is written -------------------------------------------------------------------------


def test_a_look_at_an_empty_sheet_leaves_nothing_behind(open_sheet: Open, session_root: Path) -> None:
    """A job gets its folder with the first word."""
    open_sheet().close()
    assert list_jobs(jobs_root(session_root)) == ((), ())


def test_what_is_written_is_kept_without_any_key_for_it(open_sheet: Open) -> None:
    """Field after field, by keys alone."""
    sheet = open_sheet()
    sheet.write(sheet.page.filling.blanks[F.NUMBER], "117")
    sheet.write(sheet.page.filling.blanks[F.MODEL], "K-40")
    sheet.write(sheet.page.filling.blanks[F.COMPLAINT], "Hums.\nSince Easter.")
    assert sheet.kept().words == {F.NUMBER: "117", F.MODEL: "K-40", F.COMPLAINT: "Hums.\nSince Easter."}
    assert sheet.page.title == "Job 117 · K-40"
    sheet.write(sheet.page.filling.blanks[F.MODEL], "")
    assert F.MODEL not in sheet.kept().words


def test_what_is_being_written_is_kept_when_the_sheet_is_left(open_sheet: Open, qtbot: QtBot) -> None:
    """Nobody has to leave a field first."""
    sheet = open_sheet()
    blank = sheet.page.filling.blanks[F.DIAGNOSIS]
    blank.setFocus()
    blank.field.insertPlainText("relay worn")  # type: ignore[attr-defined]
    assert sheet.page.finish() == ""
    assert sheet.job().sheet.text(F.DIAGNOSIS) == "relay worn"


def test_a_moment_without_keys_keeps_it_too(open_sheet: Open, qtbot: QtBot) -> None:
    """A power cut costs two seconds of writing."""
    sheet = open_sheet()
    blank = sheet.page.filling.blanks[F.CONDITION]
    blank.setFocus()
    qtbot.keyClicks(blank.focusProxy(), "scratched")
    blank._idle.timeout.emit()
    assert sheet.kept().text(F.CONDITION) == "scratched"


def test_everything_can_be_reached_by_alt_keys_and_has_a_name(open_sheet: Open) -> None:
    """No letter twice, and a name on all that takes the focus."""
    page = open_sheet().page
    titles = [station.text() for station in page.stations.stations.values()]
    titles += [button.text() for button in (page.report, page.back_button, page.bench_button)]
    letters = [title[title.index("&") + 1].casefold() for title in titles]
    assert len(set(letters)) == len(letters)
    for widget in page.findChildren(QWidget):
        if widget.isVisibleTo(page) and widget.focusPolicy() & Qt.FocusPolicy.TabFocus:
            interface = QAccessible.queryAccessibleInterface(widget)
            assert interface is not None
            assert interface.text(QAccessible.Text.Name), type(widget).__name__


# --- bad input -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("2026-02-31", "is no day of the calendar"),
        ("31.1.2026", "is no day of the calendar"),
        ("before Easter", ""),
        ("2026-01-31", ""),
        ("", ""),
    ],
)
def test_a_day_that_is_none_is_told_beside_the_field(typed: str, said: str, open_sheet: Open) -> None:
    """Words will do; figures must be a day."""
    sheet = open_sheet()
    blank = sheet.page.filling.blanks[F.DATE_IN]
    sheet.write(blank, typed)
    assert (said in blank.trouble) if said else not blank.trouble
    assert blank.words == typed
    assert sheet.page.pen.key == "" if said or not typed else sheet.kept().text(F.DATE_IN) == typed


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("231", "has no unit"),
        ("lots", "is no number with its unit"),
        ("4 parsec", "is no unit that is known here"),
        ("1,234.5 V", "is no number with its unit"),
    ],
)
def test_a_value_that_is_none_is_told_and_the_rest_is_kept(typed: str, said: str, open_sheet: Open) -> None:
    """The words beside it are not lost for it."""
    sheet = open_sheet()
    entry = sheet.page.states[State.AS_FOUND].entries[0]
    sheet.write(entry.blanks["value"], typed)
    assert said in entry.blanks["value"].trouble
    sheet.write(entry.blanks["name"], "mains")
    assert [one.name for one in sheet.kept().states] == ["mains"]
    assert sheet.kept().states[0].value is None
    assert entry.blanks["value"].words == typed
    assert "cannot be understood" in sheet.page.finish()


@pytest.mark.parametrize("typed", ["-3", "twenty", "1 2"])
def test_minutes_and_hours_are_numbers_from_nothing_on(typed: str, open_sheet: Open) -> None:
    """One sentence beside each."""
    sheet = open_sheet()
    for blank in (
        sheet.page.work.entries[0].blanks["minutes"],
        sheet.page.tried.entry.blanks["hours"],
        sheet.page.parts.entries[0].blanks["quantity"],
    ):
        sheet.write(blank, typed)
        assert blank.trouble
    assert sheet.page.pen.key == ""


def test_a_pasted_book_is_refused_with_how_much_will_do(open_sheet: Open) -> None:
    """It stays on the sheet."""
    sheet = open_sheet()
    blank = sheet.page.filling.blanks[F.COMPLAINT]
    sheet.write(blank, "x" * 30_000)
    assert "30000 characters are too many" in blank.trouble
    assert sheet.page.pen.key == ""


def test_half_a_character_is_written_as_a_question_mark(open_sheet: Open) -> None:
    """What no file can hold does not hold up the rest."""
    sheet = open_sheet()
    blank = sheet.page.filling.blanks[F.MODEL]
    blank.field.setText("K\ud800-40")  # type: ignore[attr-defined]
    blank.commit()
    assert "K" in sheet.kept().text(F.MODEL)


# --- states, parts, work ---------------------------------------------------------------------------


def test_the_three_states_are_kept_apart_with_reasons_for_what_is_missing(open_sheet: Open) -> None:
    """The same quantity in each; nothing is copied from one to the other."""
    sheet = open_sheet()
    for state, value in zip(State, ("12.3 mV", "0,5 V", "-3mV"), strict=True):
        entry = sheet.page.states[state].entries[0]
        sheet.write(entry.blanks["name"], "offset")
        sheet.write(entry.blanks["channel"], "left")
        sheet.write(entry.blanks["value"], value)
    missing = sheet.page.states[State.AS_FOUND].entries[1]
    sheet.write(missing.blanks["name"], "rails")
    sheet.write(missing.blanks["reason"], "covered by the board")

    kept = sheet.kept()
    assert [kept.state(state)[0].value for state in State] == [0.0123, 0.5, -0.003]
    assert {one.unit for one in kept.states} == {Unit.VOLT, None}
    assert kept.state(State.AS_FOUND)[1].reason == "covered by the board"


def test_a_renamed_entry_is_one_entry(open_sheet: Open) -> None:
    """The old name is taken back."""
    sheet = open_sheet()
    entry = sheet.page.states[State.AS_LEFT].entries[0]
    sheet.write(entry.blanks["name"], "mians")
    sheet.write(entry.blanks["value"], "231 V")
    sheet.write(entry.blanks["name"], "mains")
    assert [(one.name, one.value) for one in sheet.kept().states] == [("mains", 231.0)]


def test_two_entries_of_one_name_and_a_value_with_a_reason_are_told(open_sheet: Open) -> None:
    """Neither silently replaces the other."""
    sheet = open_sheet()
    first, _ = sheet.page.states[State.AS_FOUND].entries[0], None
    sheet.write(first.blanks["name"], "mains")
    sheet.write(first.blanks["value"], "231 V")
    second = sheet.page.states[State.AS_FOUND].entries[1]
    sheet.write(second.blanks["name"], "mains")
    assert "stands here already" in second.blanks["name"].trouble
    sheet.write(second.blanks["channel"], "after the switch")
    assert not second.blanks["name"].trouble
    sheet.write(second.blanks["reason"], "no time")
    sheet.write(second.blanks["value"], "230 V")
    assert "empty one of the two" in second.blanks["reason"].trouble
    sheet.write(second.blanks["reason"], "")
    assert [one.value for one in sheet.kept().states] == [231.0, 230.0]


def test_a_part_is_written_corrected_questioned_and_taken_back(open_sheet: Open, qtbot: QtBot) -> None:
    """The counterfeit caution stands below as soon as nobody knows where it came from."""
    sheet = open_sheet()
    entry = sheet.page.parts.entries[0]
    b = entry.blanks
    sheet.write(b["reference"], "Q7")
    assert "false markings" in entry.caution.text()
    sheet.write(b["source"], "the shelf")
    assert entry.caution.isHidden()
    sheet.write(b["quantity"], "2")
    sheet.write(b["rating_asked"], "250 V")
    sheet.write(b["rating_fitted"], "230 V")
    sheet.write(b["batch"], "2519")
    click(qtbot, b["safety_critical"].focusProxy())
    click(qtbot, b["customer_supplied"].focusProxy())

    (part,) = sheet.kept().parts
    assert (part.reference, part.quantity, part.batch) == ("Q7", 2, "2519")
    assert part.safety_critical
    assert part.customer_supplied
    assert "safety-critical" in entry.caution.text()

    assert len(sheet.page.parts.entries) == 2
    click(qtbot, entry.back)
    assert sheet.kept().parts == ()
    assert len(sheet.page.parts.entries) == 1


def test_work_tests_left_out_and_the_outcome(open_sheet: Open) -> None:
    """A job that was concluded may go on."""
    sheet = open_sheet()
    page = sheet.page
    work = page.work.entries[0].blanks
    sheet.write(work["action"], "relay replaced")
    sheet.write(work["minutes"], "22,5")
    sheet.write(page.left_out.entries[0].blanks["reason"], "no load")
    assert "which test" in page.left_out.entries[0].blanks["test"].trouble
    sheet.write(page.left_out.entries[0].blanks["test"], "load test")
    sheet.write(page.ending.entry.blanks["words"], "too dear")
    assert "under way" in page.ending.entry.blanks["words"].trouble
    outcome = page.ending.entry.blanks["outcome"].field  # type: ignore[attr-defined]
    outcome.setCurrentIndex(outcome.findData(JobOutcome.BEYOND_ECONOMIC_REPAIR.value))
    outcome.activated.emit(outcome.currentIndex())

    kept = sheet.kept()
    assert [(one.action, one.minutes) for one in kept.work] == [("relay replaced", 22.5)]
    assert [(one.test, one.reason) for one in kept.left_out] == [("load test", "no load")]
    assert kept.outcome is not None
    assert kept.outcome.outcome is JobOutcome.BEYOND_ECONOMIC_REPAIR
    assert kept.outcome.words == "too dear"

    sheet.write(page.ending.entry.blanks["words"], "")
    outcome.setCurrentIndex(0)
    outcome.activated.emit(0)
    assert sheet.kept().outcome is None


def test_a_complaint_that_did_not_recur_says_for_how_long(open_sheet: Open) -> None:
    """Hours, and how it was tried."""
    sheet = open_sheet()
    blanks = sheet.page.tried.entry.blanks
    result = blanks["reproduced"].field  # type: ignore[attr-defined]
    result.setCurrentIndex(result.findData(Reproduced.NO.value))
    result.activated.emit(result.currentIndex())
    sheet.write(blanks["hours"], "4")
    assert sheet.kept().complaint_words == "did not recur in 4 hours"


def test_a_part_that_is_gone_to_has_its_heading_at_the_top(open_sheet: Open, qtbot: QtBot) -> None:
    """Also where another width changes every height, and not once somebody has scrolled on."""
    sheet = open_sheet()
    page, bar = sheet.page, sheet.page.area.verticalScrollBar()
    window = page.window()
    window.resize(1120, 500)
    page.go_to("found")
    qtbot.waitUntil(lambda: bar.value() == page.sections["found"].y() > 0)
    window.resize(760, 500)
    qtbot.waitUntil(lambda: bar.value() == page.sections["found"].y())
    bar.setValue(bar.value() + 90)
    moved = bar.value()
    window.resize(760, 480)
    QApplication.processEvents()
    assert bar.value() == moved


def test_a_small_window_leaves_the_stations_out(open_sheet: Open) -> None:
    """As at 300 %: what is written needs the room."""
    sheet = open_sheet()
    window = sheet.page.window()
    window.resize(427, 267)
    assert window.width() == 427
    assert not sheet.page.stations.isVisible()
    window.resize(1120, 760)
    assert sheet.page.stations.isVisible()
