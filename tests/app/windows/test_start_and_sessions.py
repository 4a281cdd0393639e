"""Beginning, looking back, describing a target, and going on after a crash."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from fake_bench import FakeBench, trimming_picture
from fake_workshop import FakeShelf, FakeWorkshop
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtWidgets import QLabel, QWidget
from pytestqt.qtbot import QtBot
from shiboken6 import isValid

from app.windows.main_window import MainWindow
from app.windows.ports import Unfinished
from app.windows.recovery import RecoveryDialog
from app.windows.sessions_screen import SessionsScreen
from app.windows.target_form import TargetForm
from procedures.amplifier import Amplifier, TestPoint
from procedures.analysis.remembered import RememberedWarmUp
from procedures.events import Supply


def click(qtbot: QtBot, widget: QWidget) -> None:
    qtbot.mouseClick(widget, Qt.MouseButton.LeftButton)


# --- beginning -------------------------------------------------------------------------------------


def test_a_remembered_meter_is_watched_within_two_actions(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """Start the program, press one button: the readings are there."""
    click(qtbot, window.start.meter_buttons[0])
    assert workshop.done == [("watch", "m1")]
    assert window.working is not None
    assert window.working.isVisible()


def test_a_typed_value_is_shown_within_one_action(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """Type it, Enter."""
    qtbot.keyClicks(window.start.value_field, "13,2")
    qtbot.keyClick(window.start.value_field, Qt.Key.Key_Return)
    assert workshop.done == [("typed", pytest.approx(0.0132))]
    assert window.working is not None


def test_a_bad_typed_value_is_a_sentence(window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot) -> None:
    """Nothing is begun with it."""
    qtbot.keyClicks(window.start.value_field, "13 mA")
    qtbot.keyClick(window.start.value_field, Qt.Key.Key_Return)
    assert "“13 mA” is not a reading" in window.start.trouble
    assert workshop.done == []


def test_a_refused_meter_is_a_sentence_on_the_screen(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """And the start screen stays."""
    workshop.refusal = ConnectionRefusedError("192.168.1.20: nobody answers there; is the meter switched on?")
    qtbot.keyClicks(window.start.address_field, "TCPIP0::192.168.1.20::hislip0::INSTR")
    qtbot.keyClick(window.start.address_field, Qt.Key.Key_Return)
    assert "nobody answers there" in window.start.trouble
    assert window.working is None


def test_the_simulated_bench_is_one_click_away(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """With the hands beside it."""
    click(qtbot, window.start.practise_button)
    assert workshop.done[0][:2] == ("simulated", "healthy")
    assert window.working is not None
    assert window.working.practice_panel is not None


def test_a_guided_job_takes_amplifier_and_procedure(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """Both are on the screen already."""
    click(qtbot, window.start.job_button)
    assert workshop.done == [("guided", "halden60", "two-channel-trim")]


def test_a_unit_is_looked_up_by_its_serial_number_before_a_job_begins(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """What was found goes along; Enter in the field begins the job."""
    warm_up = RememberedWarmUp("left bias", (1.0, 2.0), (0.01, 0.011), recorded="2026-01-05")
    workshop.papers.looked_up = lambda: (warm_up,)
    qtbot.keyClicks(window.start.serial_field, "12 0417")
    qtbot.keyClick(window.start.serial_field, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: window.working is not None)
    assert workshop.done == [("guided", "halden60", "two-channel-trim", "12 0417", (warm_up,))]


def test_an_archive_that_does_not_answer_holds_nobody_up(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """The job begins without, once, and what comes too late changes nothing."""
    answer = threading.Event()

    def look() -> tuple[RememberedWarmUp, ...]:
        answer.wait(20.0)
        return ()

    workshop.papers.looked_up = look
    window.recollecting.wait_for(20)
    qtbot.keyClicks(window.start.serial_field, "7")
    click(qtbot, window.start.job_button)
    click(qtbot, window.start.job_button)
    qtbot.waitUntil(lambda: window.working is not None)
    answer.set()
    qtbot.wait(30)
    assert workshop.done == [("guided", "halden60", "two-channel-trim", "7", ())]


def test_everything_on_the_start_screen_has_a_name(window: MainWindow) -> None:
    """For those who hear the screen."""
    for widget in window.start.findChildren(QWidget):
        if widget.isVisible() and widget.focusPolicy() & Qt.FocusPolicy.TabFocus:
            interface = QAccessible.queryAccessibleInterface(widget)
            assert interface is not None
            assert interface.text(QAccessible.Text.Name), type(widget).__name__


# --- past sessions ---------------------------------------------------------------------------------


@pytest.fixture
def shelf() -> FakeShelf:
    return FakeShelf()


@pytest.fixture
def sessions(qtbot: QtBot, shelf: FakeShelf) -> Iterator[SessionsScreen]:
    screen = SessionsScreen(shelf)
    screen.resize(1000, 600)
    with qtbot.waitExposed(screen):
        screen.show()
    yield screen
    screen.close()
    screen.deleteLater()


def test_sessions_are_listed_newest_first(sessions: SessionsScreen) -> None:
    """Each with unit, time and procedure in words."""
    assert sessions.table.count() == 3
    assert sessions.table.item(0).text().startswith("Halden 60 no. 0417, 2026-02-11 14:05")


def test_a_session_is_opened_by_enter(sessions: SessionsScreen, qtbot: QtBot) -> None:
    """The list works by keys alone."""
    sessions.table.setFocus()
    qtbot.keyClick(sessions.table, Qt.Key.Key_Down)
    with qtbot.waitSignal(sessions.open_session) as opened:
        qtbot.keyClick(sessions.table, Qt.Key.Key_Return)
    assert opened.args == ["s2"]


def test_export_says_what_was_written_or_why_not(
    sessions: SessionsScreen, shelf: FakeShelf, tmp_path: Path, qtbot: QtBot
) -> None:
    """One sentence either way."""
    sessions.export_to(str(tmp_path / "trim.csv"))
    qtbot.waitUntil(lambda: "5400 readings" in sessions.said)
    assert shelf.done == [("export", "s3", tmp_path / "trim.csv")]

    shelf.refusal = PermissionError("the folder cannot be written; choose another one")
    sessions.export_to(str(tmp_path / "trim.csv"))
    qtbot.waitUntil(lambda: sessions.said.startswith("Not exported: the folder"))


def test_the_report_says_what_was_written_or_why_not(
    sessions: SessionsScreen, shelf: FakeShelf, tmp_path: Path, qtbot: QtBot
) -> None:
    """One sentence either way."""
    sessions.report_to(str(tmp_path / "trim.pdf"))
    qtbot.waitUntil(lambda: "3 pages" in sessions.said)
    assert shelf.done == [("report", "s3", tmp_path / "trim.pdf")]

    shelf.refusal = PermissionError("the folder cannot be written; choose another one")
    sessions.report_to(str(tmp_path / "trim.pdf"))
    qtbot.waitUntil(lambda: sessions.said.startswith("Not written: the folder"))


def test_a_session_is_named_afterwards(sessions: SessionsScreen, shelf: FakeShelf) -> None:
    """Naming is never a condition for measuring."""
    sessions.name_as("Halden 60 no. 0418", "2026-031")
    assert shelf.done == [("name", "s3", "Halden 60 no. 0418", "2026-031")]
    assert "Every reading is kept" in sessions.said


def test_review_and_back(window: MainWindow, qtbot: QtBot) -> None:
    """A past session is replayed on the same screen, and one leads back to the list."""
    click(qtbot, window.start.sessions_button)
    assert window.sessions is not None
    window.sessions.open_session.emit("s3")
    qtbot.waitUntil(lambda: window.working is not None)
    assert window.working is not None
    assert "REVIEW" in window.working.said
    assert not window.working.deeds.action("note").isEnabled()
    window.leave_bench()
    assert window.sessions is not None
    assert window.sessions.isVisible()


def test_a_session_that_cannot_be_opened_is_a_sentence(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """It stays on the list."""
    workshop.shelf.refusal = ValueError("journal.jsonl, line 1: the header is damaged; nothing was changed")
    window.show_sessions()
    assert window.sessions is not None
    window.sessions.open_session.emit("s3")
    sessions = window.sessions
    qtbot.waitUntil(lambda: "header is damaged" in sessions.said)


# --- target arithmetic -----------------------------------------------------------------------------


@pytest.fixture
def form(qtbot: QtBot) -> Iterator[TargetForm]:
    form = TargetForm()
    form.resize(1280, 800)
    with qtbot.waitExposed(form):
        form.show()
    yield form
    form.close()
    form.deleteLater()


@pytest.mark.parametrize(
    ("point", "answer"),
    [
        # Ohm's law: 25 mA through one and through two 0.27 ohm.
        (TestPoint.ONE_RESISTOR, "6.75 mV"),
        (TestPoint.PAIR_IN_SERIES, "13.5 mV"),
        (TestPoint.ONE_OF_SEVERAL, "6.75 mV"),
        (TestPoint.PAIR_OF_SEVERAL, "13.5 mV"),
    ],
)
def test_current_and_resistors_give_the_window(form: TargetForm, point: TestPoint, answer: str) -> None:
    """Which points the probes touch decides."""
    form.choose(point)
    assert form.answer == answer
    assert form.doubts == ""


def test_a_bad_resistor_is_refused_with_what_would_be_right(form: TargetForm) -> None:
    """One sentence; the amplifier cannot be used meanwhile."""
    form.resistor.setText("O.27x")
    assert "is not a resistance" in form.doubts
    assert not form.use_button.isEnabled()


def test_an_implausible_current_is_questioned(form: TargetForm) -> None:
    """2500 mA in one pair is asked about, not forbidden."""
    form.current.setText("2500")
    assert "very much" in form.doubts
    assert form.use_button.isEnabled()


def test_a_word_for_a_number_is_a_sentence(form: TargetForm) -> None:
    """It says which entry."""
    form.tolerance.setText("ten")
    assert "The tolerance “ten” is not a number" in form.doubts


@pytest.mark.parametrize("typed", ["1,000.5", "1e3", "nan", "inf", "1_000", "1 000"])
def test_only_plain_numbers_become_a_target(form: TargetForm, typed: str) -> None:
    """A target that was read wrongly would overheat the output stage."""
    form.current.setText(typed)
    assert "The current “" in form.doubts
    assert not form.use_button.isEnabled()


def test_part_of_a_pair_is_not_rounded(form: TargetForm) -> None:
    """Half a pair is a slip of the finger, and the current of each follows from their number."""
    form.pairs.setText("2,5")
    assert "The number of output pairs must be whole" in form.doubts
    assert not form.use_button.isEnabled()


def test_the_described_amplifier_is_handed_on(form: TargetForm, qtbot: QtBot) -> None:
    """Two channels at the same test point."""
    form.model.setText("Probe 40")
    with qtbot.waitSignal(form.described) as described:
        click(qtbot, form.use_button)
    amplifier = described.args[0]
    assert isinstance(amplifier, Amplifier)
    assert [c.name for c in amplifier.channel] == ["left bias", "right bias"]
    assert amplifier.channel[0].target_milliamperes == 25.0


# --- after a crash ---------------------------------------------------------------------------------

LEFT_OPEN = Unfinished("s9", "Halden 60 no. 0417", "14:31:07", Supply.MAINS, True)


@pytest.fixture
def recovery(qtbot: QtBot) -> Iterator[RecoveryDialog]:
    dialog = RecoveryDialog(LEFT_OPEN)
    with qtbot.waitExposed(dialog):
        dialog.show()
    yield dialog
    if isValid(dialog):  # it deletes itself once it is answered
        dialog.close()


def test_resume_asks_for_the_off_time(recovery: RecoveryDialog, qtbot: QtBot) -> None:
    """Minutes with comma or point."""
    recovery.minutes.setText("12,5")
    with qtbot.waitSignal(recovery.resume) as resumed:
        click(qtbot, recovery.resume_button)
    assert resumed.args == ["s9", 12.5]


def test_an_empty_off_time_means_never_off(recovery: RecoveryDialog, qtbot: QtBot) -> None:
    """Unknown minutes are not taken for zero minutes."""
    with qtbot.waitSignal(recovery.close_session) as closed:
        click(qtbot, recovery.close_button)
    assert closed.args == ["s9", None]


def test_a_bad_off_time_is_a_sentence(recovery: RecoveryDialog, qtbot: QtBot) -> None:
    """The dialog stays."""
    recovery.minutes.setText("a while")
    click(qtbot, recovery.resume_button)
    assert "Minutes: “a while” is not a number: type one, such as 15; or leave it empty" in recovery.trouble
    recovery.minutes.setText("-3")
    click(qtbot, recovery.resume_button)
    assert "“-3” is not a number of minutes" in recovery.trouble
    recovery.minutes.setText("1,234.5")
    click(qtbot, recovery.resume_button)
    assert "two ways" in recovery.trouble
    assert recovery.isVisible()


def test_after_a_switch_off_alarm_there_is_no_resume(qtbot: QtBot) -> None:
    """It says why, and what instead."""
    dialog = RecoveryDialog(
        Unfinished("s9", "Halden 60", "14:31", Supply.MAINS, False, "Start a new run on the series lamp.")
    )
    with qtbot.waitExposed(dialog):
        dialog.show()
    assert not dialog.resume_button.isEnabled()
    assert "series lamp" in dialog.trouble
    dialog.close()


def test_practice_that_was_left_open_is_not_taken_for_a_real_amplifier(qtbot: QtBot) -> None:
    """The simulated unit ended with the program: there is no time for which it was off."""
    left = Unfinished("s9", "Halden 60", "14:31", Supply.MAINS, False, "It was practice.", practice=True)
    dialog = RecoveryDialog(left)
    with qtbot.waitExposed(dialog):
        dialog.show()
    words = " ".join(label.text() for label in dialog.findChildren(QLabel))
    assert "this was practice" in words
    assert "14:31" not in words
    assert not dialog.minutes.isVisible()
    dialog.close()


def test_the_window_asks_about_what_was_left_open(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """At the start, before anything else."""
    window.ask_about((LEFT_OPEN,))
    assert window.recovery is not None
    window.recovery.resume.emit("s9", 3.0)
    qtbot.waitUntil(lambda: window.working is not None)
    assert workshop.done == [("resume", "s9", 3.0)]


def test_it_asks_when_the_bench_is_left_that_was_begun_meanwhile(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """Hands that are busy are not asked; going through a long record may take that long."""
    workshop.bench = FakeBench(trimming_picture(tour=True))
    click(qtbot, window.start.meter_buttons[0])
    window.ask_about((LEFT_OPEN,))
    assert window.recovery is None

    window.leave_bench()
    assert window.recovery is not None


def test_closing_shows_that_it_goes_on_and_a_refusal_leaves_the_choice(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A long session takes seconds; the window goes on answering meanwhile."""
    begun = threading.Event()

    def close(key: str, off_minutes: float | None) -> None:
        begun.wait(5.0)
        raise ValueError("the disk is full; make room and close it again")

    monkeypatch.setattr(workshop, "close_unfinished", close)
    window.ask_about((LEFT_OPEN,))
    dialog = window.recovery
    assert dialog is not None
    click(qtbot, dialog.close_button)
    assert "gone through once more" in dialog.working
    dialog.reject()
    assert dialog.isVisible()
    begun.set()
    qtbot.waitUntil(lambda: not dialog.working)
    assert "the disk is full" in dialog.trouble
    assert dialog.close_button.isEnabled()
    dialog.reject()
