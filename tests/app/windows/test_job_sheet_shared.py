"""A job sheet that several write to, that cannot be written, and its customer, pictures and sessions."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QColor, QDropEvent, QImage
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot
from small_session import keep_session
from written_sheets import NOON, Sheet, sheets

from app.job_shelf import JobFolders
from app.records.job_folder import (
    IDENTITY,
    add_facts,
    customer_of,
    jobs_root,
    open_new_job,
)
from app.reports.gathering import Wanted, save_report
from app.settings import Settings
from drivers.reading import Unit
from procedures.job import (
    Customer,
    Filled,
    JobFact,
    SheetField,
    State,
    StateNoted,
    Worked,
)

F = SheetField
Open = Callable[..., Sheet]


@pytest.fixture
def open_sheet(qtbot: QtBot, session_root: Path) -> Iterator[Open]:
    with sheets(qtbot, session_root) as opened:
        yield opened


def click(qtbot: QtBot, widget: QWidget) -> None:
    qtbot.mouseClick(widget, Qt.MouseButton.LeftButton)


# --- several at once -------------------------------------------------------------------------------


def _job(root: Path, *facts: JobFact) -> str:
    return open_new_job(jobs_root(root), facts, NOON).folder.name


def test_two_windows_and_the_command_line_keep_each_others_words(
    open_sheet: Open, session_root: Path
) -> None:
    """Each writes only what was written in it, and takes up what others wrote."""
    key = _job(session_root, Filled(NOON, F.NUMBER, "117"))
    one, other = open_sheet(key), open_sheet(key)
    one.write(one.page.filling.blanks[F.COMPLAINT], "hums")
    one.write(one.page.customer.blanks["name"], "Ada Lind")
    one.settle()
    other.write(other.page.filling.blanks[F.SERIAL], "0042")
    other.write(other.page.customer.blanks["contact"], "555 0100")
    other.settle()
    add_facts(jobs_root(session_root) / key, [Worked(NOON, "looked", entry="w1")])
    for sheet in (one, other):
        sheet.page.pen.look()
        sheet.settle()
        assert sheet.page.filling.blanks[F.COMPLAINT].words == "hums"
        assert sheet.page.filling.blanks[F.SERIAL].words == "0042"
        assert sheet.page.work.entries[0].blanks["action"].words == "looked"
    assert customer_of(jobs_root(session_root) / key) == Customer("Ada Lind", "555 0100")


def test_what_another_wrote_under_ones_hands_is_told(
    open_sheet: Open, session_root: Path, qtbot: QtBot
) -> None:
    """What is being written stays, and the other's words stay in the journal."""
    key = _job(session_root)
    sheet = open_sheet(key)
    blank = sheet.page.filling.blanks[F.MODEL]
    blank.setFocus()
    qtbot.keyClicks(blank.focusProxy(), "K-4")
    add_facts(jobs_root(session_root) / key, [Filled(NOON, F.MODEL, "PA-600")])
    sheet.page.pen.look()
    sheet.settle()
    assert "“PA-600” was just written here elsewhere" in blank.trouble
    assert blank.words == "K-4"
    qtbot.keyClicks(blank.focusProxy(), "0")
    qtbot.keyClick(blank.focusProxy(), Qt.Key.Key_Tab)
    assert sheet.kept().text(F.MODEL) == "K-40"
    told = [one.words for one in sheet.job().journal.facts if isinstance(one, Filled)]
    assert told == ["PA-600", "K-40"]


class FullDisk(JobFolders):
    """A disk that is full until somebody makes room."""

    full = True

    def write(self, key: str, facts: Sequence[JobFact]) -> None:
        if self.full:
            raise OSError("the disk is full: make room")
        super().write(key, facts)


def test_what_cannot_be_kept_is_told_stays_and_is_kept_later(
    open_sheet: Open, session_root: Path, qtbot: QtBot
) -> None:
    """Nothing is lost while a folder cannot be written."""
    disk = FullDisk(session_root)
    sheet = open_sheet(_job(session_root), disk)
    blank = sheet.page.filling.blanks[F.MODEL]
    sheet.write(blank, "K-40")
    qtbot.waitUntil(lambda: "Not kept yet" in sheet.page.status)
    assert "The disk is full: make room" in sheet.page.status
    assert blank.words == "K-40"
    assert "disk is full" in sheet.page.finish()
    disk.full = False
    assert sheet.page.finish() == ""
    assert sheet.kept().text(F.MODEL) == "K-40"


def test_a_folder_that_cannot_be_written_is_one_sentence(
    open_sheet: Open, session_root: Path, qtbot: QtBot
) -> None:
    """Here a file stands where the folder of jobs would be."""
    jobs_root(session_root).write_text("in the way")
    sheet = open_sheet()
    sheet.write(sheet.page.filling.blanks[F.MODEL], "K-40")
    qtbot.waitUntil(lambda: "cannot be written" in sheet.page.status)
    assert "Traceback" not in sheet.page.status
    jobs_root(session_root).unlink()
    assert sheet.page.finish() == ""
    assert sheet.kept().text(F.MODEL) == "K-40"


def test_a_damaged_line_is_told_and_the_rest_is_shown(
    open_sheet: Open, session_root: Path, qtbot: QtBot
) -> None:
    """The sheet goes on."""
    key = _job(session_root, Filled(NOON, F.MODEL, "K-40"))
    with open(jobs_root(session_root) / key / "job.jsonl", "a", encoding="utf-8") as file:
        file.write('{"kind":"song"}\n')
    sheet = open_sheet(key)
    qtbot.waitUntil(lambda: "Line 3 is set aside" in sheet.page.status)
    assert sheet.page.filling.blanks[F.MODEL].words == "K-40"


# --- who the customer is ---------------------------------------------------------------------------


def test_the_customer_is_erased_after_a_question_that_says_what_stays(
    open_sheet: Open, session_root: Path, qtbot: QtBot
) -> None:
    """Keeping is the default; erasing takes the file and leaves the rest."""
    sheet = open_sheet()
    sheet.write(sheet.page.filling.blanks[F.CUSTOMER_REFERENCE], "R-22")
    sheet.write(sheet.page.filling.blanks[F.MODEL], "K-40")
    sheet.write(sheet.page.customer.blanks["name"], "Ada Lind")
    sheet.settle()
    folder = jobs_root(session_root) / sheet.page.pen.key
    assert customer_of(folder) == Customer("Ada Lind")

    click(qtbot, sheet.page.customer.erase)
    question = sheet.page.customer.question
    assert question is not None
    words = question.informativeText()
    assert "What goes" in words
    assert "What stays" in words
    assert "photographs" in words
    qtbot.keyClick(question, Qt.Key.Key_Escape)
    sheet.settle()
    assert customer_of(folder) is not None

    click(qtbot, sheet.page.customer.erase)
    question = sheet.page.customer.question
    assert question is not None
    question.reference.setChecked(True)
    click(qtbot, question.erase)
    sheet.settle()
    assert not (folder / IDENTITY).exists()
    assert sheet.page.customer.blanks["name"].words == ""
    kept = sheet.kept()
    assert kept.words == {F.MODEL: "K-40"}
    assert kept.identity_erased is not None


def test_what_was_written_is_filed_in_the_archive(open_sheet: Open, session_root: Path) -> None:
    """Once the sheet is left; a look files nothing."""
    filed: list[str] = []
    shelf = JobFolders(session_root, file_away=lambda: filed.append("filed"))
    open_sheet("", shelf).close()
    assert filed == []
    sheet = open_sheet("", shelf)
    sheet.write(sheet.page.filling.blanks[F.CUSTOMER_REFERENCE], "R-22")
    sheet.page.finish()
    assert filed == ["filed"]


# --- pictures and sessions -------------------------------------------------------------------------


def _picture(path: Path) -> Path:
    image = QImage(40, 30, QImage.Format.Format_RGB32)
    image.fill(QColor("#335577"))
    assert image.save(str(path))
    return path


def test_pictures_are_dropped_captioned_and_taken_out(open_sheet: Open, tmp_path: Path, qtbot: QtBot) -> None:
    """A copy is kept; what is no picture is refused in one sentence."""
    sheet = open_sheet()
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(_picture(tmp_path / "board.png")))])
    sheet.page.dropEvent(
        QDropEvent(
            QPointF(5, 5),
            Qt.DropAction.CopyAction,
            data,
            Qt.MouseButton.LeftButton,
            Qt.KeyboardModifier.NoModifier,
        )
    )
    sheet.settle()
    (entry,) = sheet.page.pictures.list.entries
    qtbot.waitUntil(lambda: not entry.picture.pixmap.isNull())  # type: ignore[attr-defined]
    sheet.write(entry.blanks["words"], "the relay")
    (kept,) = sheet.kept().photographs
    assert kept.words == "the relay"
    assert (sheet.job().folder / "attachments" / kept.file).is_file()

    words = tmp_path / "notes.png"
    words.write_text("no picture")
    for wrong, said in ((words, "no picture that can be shown"), (tmp_path / "none.png", "no such file")):
        sheet.page.pictures.attach([str(wrong)])
        qtbot.waitUntil(lambda told=said: told in sheet.page.status)  # type: ignore[misc]
    click(qtbot, entry.back)
    assert sheet.kept().photographs == ()


def test_a_picture_is_put_back_until_the_sheet_is_closed(
    open_sheet: Open, tmp_path: Path, qtbot: QtBot
) -> None:
    """As it was, by one key; then the file is removed, and putting it back is refused in a sentence."""
    sheet = open_sheet()
    pictures = sheet.page.pictures
    pictures.attach([str(_picture(tmp_path / "board.png"))])
    sheet.settle()
    sheet.write(pictures.list.entries[0].blanks["words"], "the relay")
    click(qtbot, pictures.list.entries[0].blanks["of_customer"].focusProxy())
    before = sheet.kept().photographs
    file = sheet.job().folder / "attachments" / before[0].file
    assert before[0].of_customer

    click(qtbot, pictures.list.entries[0].back)
    assert sheet.kept().photographs == ()
    assert file.is_file()
    assert pictures.back.hasFocus()
    qtbot.keyClick(pictures.back, Qt.Key.Key_Space)
    assert sheet.kept().photographs == before

    sheet.settle()
    click(qtbot, pictures.list.entries[0].back)
    sheet.settle()
    sheet.page.let_go()
    assert not file.exists()
    click(qtbot, pictures.back)
    qtbot.waitUntil(lambda: "removed already" in sheet.page.status)


def test_a_session_is_filed_its_steps_are_offered_as_work_and_it_is_taken_out(
    open_sheet: Open, session_root: Path, qtbot: QtBot
) -> None:
    """The times come from its record; what is taken over is written down as work."""
    folder = keep_session(session_root)
    sheet = open_sheet(session=folder.name)
    sheet.write(sheet.page.filling.blanks[F.NUMBER], "117")
    assert sheet.page.bench_button.isVisible()
    with qtbot.waitSignal(sheet.page.filed) as filed:
        click(qtbot, sheet.page.bench_button)
    assert filed.args == ["", "117"]
    assert not sheet.page.bench_button.isVisible()
    (row,) = sheet.page.sessions.rows
    click(qtbot, row.times)
    qtbot.waitUntil(lambda: row.steps is not None)
    assert row.steps is not None
    click(qtbot, row.steps.buttons[0])
    (work,) = sheet.kept().work
    assert work.step == "Bias now"
    assert work.minutes is not None
    click(qtbot, row.out)
    assert sheet.kept().sessions == ()


class HereAndNow(JobFolders):
    """Writes its reports in this process, which starts no other."""

    def report(self, key: str, path: Path) -> str:
        where = str(jobs_root(self._sessions_root) / key)
        return save_report(self._sessions_root, where, path, Settings(), Wanted())


def test_the_report_of_the_job_is_written_from_half_a_sheet(
    open_sheet: Open, session_root: Path, tmp_path: Path, qtbot: QtBot
) -> None:
    """What is being written is in it already."""
    sheet = open_sheet("", HereAndNow(session_root))
    sheet.write(sheet.page.filling.blanks[F.NUMBER], "117")
    sheet.settle()
    blank = sheet.page.filling.blanks[F.COMPLAINT]
    blank.field.insertPlainText("Hums when warm")  # type: ignore[attr-defined]
    sheet.page.write_report(sheet.page.pen.key, str(tmp_path / "job.html"))
    qtbot.waitUntil(lambda: "job.html" in sheet.page.status)
    assert "Hums when warm" in (tmp_path / "job.html").read_text(encoding="utf-8")
    sheet.page.write_report(sheet.page.pen.key, str(tmp_path / "no" / "such" / "job.pdf"))
    qtbot.waitUntil(lambda: sheet.page.status.startswith("Not written"))


def test_notes_from_the_command_line_are_shown_as_they_would_be_typed(
    open_sheet: Open, session_root: Path
) -> None:
    """Small values in their small units."""
    key = _job(
        session_root,
        StateNoted(NOON, State.AS_FOUND, "contact", 0.035, Unit.OHM),
        StateNoted(NOON, State.AS_FOUND, "bias", 0.0134, Unit.VOLT),
    )
    sheet = open_sheet(key)
    values = [entry.blanks["value"].words for entry in sheet.page.states[State.AS_FOUND].entries]
    assert values == ["35 mΩ", "13.4 mV", ""]
