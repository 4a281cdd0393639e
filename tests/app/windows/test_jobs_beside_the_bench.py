"""The window of the job sheets: reached from everywhere, beside the bench, and in nobody's way."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from fake_bench import FakeBench, trimming_picture
from fake_workshop import FakeWorkshop
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot
from small_session import keep_session
from written_sheets import NOON

from app.job_shelf import JobFolders
from app.records.job_folder import file_session, jobs_root, list_jobs, open_new_job
from app.windows.jobs.sheet import JobSheetPage
from app.windows.jobs.window import JobsWindow
from app.windows.main_window import MainWindow
from procedures.job import Concluded, Filled, JobOutcome, SheetField

F = SheetField


def click(qtbot: QtBot, widget: QWidget) -> None:
    qtbot.mouseClick(widget, Qt.MouseButton.LeftButton)


@pytest.fixture
def workshop(session_root: Path) -> FakeWorkshop:
    workshop = FakeWorkshop()
    workshop.jobs = JobFolders(session_root)
    return workshop


def _jobs(root: Path) -> list[str]:
    told = [("117", "K-40", "hums", None), ("118", "PA-600", "smells hot", JobOutcome.DECLINED)]
    keys = []
    for number, model, complaint, outcome in told:
        facts = [
            Filled(NOON, F.NUMBER, number),
            Filled(NOON, F.MODEL, model),
            Filled(NOON, F.COMPLAINT, complaint),
        ]
        end = [Concluded(NOON, outcome)] if outcome else []
        keys.append(open_new_job(jobs_root(root), [*facts, *end], NOON).folder.name)
    return keys


def _shown(window: MainWindow, qtbot: QtBot) -> JobsWindow:
    jobs = window.job_keys.window
    assert jobs is not None
    qtbot.waitUntil(jobs.isVisible)
    return jobs


def _page(jobs: JobsWindow, qtbot: QtBot) -> JobSheetPage:
    qtbot.waitUntil(lambda: jobs.page is not None and not jobs.page.pen.busy)
    assert jobs.page is not None
    return jobs.page


def test_a_job_is_found_by_a_few_letters_and_opened_by_enter(
    window: MainWindow, session_root: Path, qtbot: QtBot
) -> None:
    """By keys alone; what fits nothing is told."""
    _jobs(session_root)
    click(qtbot, window.start.jobs_button)
    jobs = _shown(window, qtbot)
    qtbot.waitUntil(lambda: jobs.list.table.count() == 2)
    qtbot.keyClicks(jobs.list.finder, "declined hot")
    assert jobs.list.table.count() == 1
    qtbot.keyClicks(jobs.list.finder, "x")
    assert jobs.list.table.count() == 0
    assert "No job has all of that" in jobs.list.said
    jobs.list.finder.clear()
    qtbot.keyClick(jobs.list.finder, Qt.Key.Key_Down)
    row = jobs.list.table.currentItem().text()
    qtbot.keyClick(jobs.list.finder, Qt.Key.Key_Return)
    page = _page(jobs, qtbot)
    qtbot.waitUntil(lambda: page.filling.blanks[F.NUMBER].words in row and page.title != "Job sheet")
    click(qtbot, page.back_button)
    qtbot.waitUntil(lambda: jobs.page is None)


def test_a_unit_is_taken_in_from_the_start_screen(
    window: MainWindow, session_root: Path, qtbot: QtBot
) -> None:
    """The first blank has the focus; Esc keeps it and closes."""
    click(qtbot, window.start.take_in_button)
    jobs = _shown(window, qtbot)
    page = _page(jobs, qtbot)
    number = page.filling.blanks[F.NUMBER]
    qtbot.waitUntil(lambda: number.focusProxy().hasFocus())
    qtbot.keyClicks(number.focusProxy(), "119")
    qtbot.keyClick(number.focusProxy(), Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: not jobs.isVisible())
    (job,), _ = list_jobs(jobs_root(session_root))
    assert job.name == "119"


def test_a_run_is_not_disturbed_by_the_sheet_beside_it(
    window: MainWindow, workshop: FakeWorkshop, session_root: Path, qtbot: QtBot
) -> None:
    """Space stays the bench's on the working screen and is a space on the sheet."""
    folder = keep_session(session_root)
    workshop.bench = FakeBench(replace(trimming_picture(), folder=folder))
    window.show_bench(workshop.bench)
    assert window.working is not None
    qtbot.keyClick(window.working, Qt.Key.Key_J, Qt.KeyboardModifier.ControlModifier)
    jobs = _shown(window, qtbot)
    click(qtbot, jobs.list.new)
    page = _page(jobs, qtbot)
    blank = page.filling.blanks[F.MAKER]
    blank.setFocus()
    before = list(workshop.bench.done)
    for key in (Qt.Key.Key_Space, Qt.Key.Key_1, Qt.Key.Key_Return):
        qtbot.keyClick(blank.focusProxy(), key)
    assert workshop.bench.done == before
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    qtbot.keyClick(window.working, Qt.Key.Key_Space)
    assert workshop.bench.done == [*before, ("next",)]

    assert page.bench_button.isVisible()
    click(qtbot, page.bench_button)
    qtbot.waitUntil(lambda: "belongs to job" in window.working.said)  # type: ignore[union-attr]
    assert [one[0] for one in workshop.bench.done][-1] == "name"
    (job,), _ = list_jobs(jobs_root(session_root))
    assert job.sheet.sessions == ("0f3a",)


def test_the_key_opens_the_job_that_the_session_belongs_to(
    window: MainWindow, workshop: FakeWorkshop, session_root: Path, qtbot: QtBot
) -> None:
    """Asked again it comes forward and nothing is lost."""
    key, _ = _jobs(session_root)
    folder = keep_session(session_root)
    file_session(jobs_root(session_root) / key, session_root, folder.name)
    workshop.bench = FakeBench(replace(trimming_picture(), folder=folder))
    window.show_bench(workshop.bench)
    assert window.working is not None
    window.working.deeds.action("job").trigger()
    jobs = _shown(window, qtbot)
    page = _page(jobs, qtbot)
    qtbot.waitUntil(lambda: page.title == "Job 117 · K-40")
    qtbot.waitUntil(lambda: not page.bench_button.isVisible())
    window.working.deeds.action("job").trigger()
    assert jobs.page is page


def test_look_back_opens_the_job_of_the_chosen_session(
    window: MainWindow, workshop: FakeWorkshop, session_root: Path, qtbot: QtBot
) -> None:
    """A session without a job is offered on every sheet."""
    _jobs(session_root)
    folder = keep_session(session_root)
    workshop.shelf.lines = (replace(workshop.shelf.lines[0], key=folder.name),)
    window.show_sessions()
    assert window.sessions is not None
    click(qtbot, window.sessions.job_button)
    jobs = _shown(window, qtbot)
    qtbot.waitUntil(lambda: jobs.list.table.count() == 2)
    click(qtbot, jobs.list.open_button)
    page = _page(jobs, qtbot)
    assert page.bench_button.isVisible()


def test_an_alarm_at_the_bench_shows_on_the_sheet(window: MainWindow, qtbot: QtBot) -> None:
    """It may lie over the bench."""
    click(qtbot, window.start.take_in_button)
    jobs = _shown(window, qtbot)
    window.setWindowTitle("!! Left bias: above 2.5 x target")
    assert jobs.alarm == "Left bias: above 2.5 x target"
    window.setWindowTitle("Warmtrim")
    assert jobs.alarm == ""


def test_closing_the_program_keeps_the_sheet_or_asks(
    window: MainWindow, session_root: Path, qtbot: QtBot
) -> None:
    """What cannot be kept is asked about; staying leaves everything as it is."""
    click(qtbot, window.start.take_in_button)
    jobs = _shown(window, qtbot)
    page = _page(jobs, qtbot)
    jobs_root(session_root).write_text("in the way")
    blank = page.filling.blanks[F.MODEL]
    blank.setFocus()
    qtbot.keyClicks(blank.focusProxy(), "K-40")
    window.close()
    assert window.isVisible()
    question = jobs.question
    assert question is not None
    assert "cannot be written" in question.informativeText()
    qtbot.keyClick(question, Qt.Key.Key_Escape)
    assert jobs.page is page
    assert blank.words == "K-40"

    jobs_root(session_root).unlink()
    window.close()
    assert not window.isVisible()
    (job,), _ = list_jobs(jobs_root(session_root))
    assert job.sheet.text(F.MODEL) == "K-40"


def test_a_sheet_that_cannot_be_kept_can_be_left(
    window: MainWindow, session_root: Path, qtbot: QtBot
) -> None:
    """Only after the question."""
    click(qtbot, window.start.take_in_button)
    jobs = _shown(window, qtbot)
    page = _page(jobs, qtbot)
    blank = page.work.entries[0].blanks["minutes"]
    blank.setFocus()
    qtbot.keyClicks(blank.focusProxy(), "many")
    jobs.close()
    assert jobs.isVisible()
    assert jobs.question is not None
    click(qtbot, jobs.question.leave)
    qtbot.waitUntil(lambda: not jobs.isVisible())
    assert list_jobs(jobs_root(session_root)) == ((), ())


def test_without_a_place_for_jobs_it_is_one_sentence(
    window: MainWindow, workshop: FakeWorkshop, qtbot: QtBot
) -> None:
    """On the screen where it was asked for."""
    workshop.jobs = None
    click(qtbot, window.start.jobs_button)
    assert "no place for job sheets" in window.start.trouble


def test_a_job_that_cannot_be_read_is_told_in_the_list(
    window: MainWindow, session_root: Path, qtbot: QtBot
) -> None:
    """The others are listed."""
    _jobs(session_root)
    bad = jobs_root(session_root) / "2026-01-01-bad"
    bad.mkdir()
    (bad / "job.jsonl").write_text("nonsense\n")
    click(qtbot, window.start.jobs_button)
    jobs = _shown(window, qtbot)
    qtbot.waitUntil(lambda: jobs.list.table.count() == 2)
    assert "backup copy" in jobs.list.said


def _begun(window: MainWindow, qtbot: QtBot, find: str) -> JobSheetPage:
    """The sheet of a job, and its key to the bench pressed."""
    click(qtbot, window.start.jobs_button)
    jobs = _shown(window, qtbot)
    qtbot.waitUntil(lambda: jobs.list.table.count() > 0)
    qtbot.keyClicks(jobs.list.finder, find)
    qtbot.keyClick(jobs.list.finder, Qt.Key.Key_Return)
    page = _page(jobs, qtbot)
    qtbot.waitUntil(lambda: find in page.title)
    page.begin_button.setFocus()
    qtbot.keyClick(page.begin_button, Qt.Key.Key_Space)
    return page


def _unit_in_for(root: Path, *words: tuple[SheetField, str]) -> str:
    return open_new_job(jobs_root(root), [Filled(NOON, *one) for one in words], NOON).folder.name


def test_a_run_is_begun_from_a_job(
    window: MainWindow, workshop: FakeWorkshop, session_root: Path, qtbot: QtBot
) -> None:
    """Amplifier and serial number are filled in; Space begins it, for the job."""
    (card,) = workshop.amplifiers()
    key = _unit_in_for(session_root, (F.NUMBER, "117"), (F.MODEL, card.title), (F.SERIAL, "00 42"))
    _begun(window, qtbot, "117")
    start = window.start
    assert start.for_job.words == "for job 117"
    assert start.serial_field.text() == "00 42"
    qtbot.waitUntil(start.job_button.hasFocus)

    start.serial_field.setText("00 43")
    qtbot.keyClick(start.job_button, Qt.Key.Key_Space)
    assert "is about serial number 00 42" in start.trouble
    assert workshop.done == []

    start.serial_field.setText("00  42")
    qtbot.keyClick(start.job_button, Qt.Key.Key_Space)
    assert workshop.done[-1][:2] == ("guided", card.key)
    assert workshop.done[-1][-1] == key


def test_a_job_without_a_fitting_amplifier_chooses_none(
    window: MainWindow, workshop: FakeWorkshop, session_root: Path, qtbot: QtBot
) -> None:
    """Never the one that was worked at last; without the job everything is as before."""
    _unit_in_for(session_root, (F.NUMBER, "117"), (F.MODEL, "Unheard-of 9"))
    page = _begun(window, qtbot, "117")
    start = window.start
    assert "No amplifier here is called “Unheard-of 9”" in start.trouble
    click(qtbot, start.job_button)
    assert start.trouble == "Choose the amplifier first."
    click(qtbot, start.for_job.leave_out)
    assert (start.trouble, start.for_job.isVisible()) == ("", False)
    click(qtbot, start.job_button)
    assert workshop.done[-1][0] == "guided"
    assert "117" not in workshop.done[-1]

    page.begin_button.click()
    assert "shows something else" in page.status


def test_an_empty_sheet_is_no_job_yet(window: MainWindow, qtbot: QtBot) -> None:
    """A sentence says what is missing."""
    click(qtbot, window.start.take_in_button)
    page = _page(_shown(window, qtbot), qtbot)
    click(qtbot, page.begin_button)
    assert "then there is a job" in page.status
