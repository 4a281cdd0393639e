"""Photographs of a job: taken back, their files removed, and those of the customer erased."""

from __future__ import annotations

import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest
from small_session import keep_session

from app.main import main
from app.records.attachments import ATTACHMENTS, attached_files
from app.records.bundle import write_bundle
from app.records.erasing import erase_customer
from app.records.job_folder import (
    JOB_JOURNAL,
    Job,
    add_facts,
    change_customer,
    file_session,
    jobs_root,
    open_job,
    open_new_job,
)
from app.records.job_pictures import add_photograph, remove_dropped
from app.records.session_folder import open_session
from procedures.job import EntryKind, Filled, Photographed, SheetField, TakenBack

NOW = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)


@pytest.fixture
def job(session_root: Path) -> Job:
    return open_new_job(jobs_root(session_root), [Filled(NOW, SheetField.NUMBER, "117")], NOW)


def _kept(job: Job, tmp_path: Path, words: str, of_customer: bool = False) -> str:
    source = tmp_path / f"{words}.png"
    source.write_bytes(words.encode())
    after = add_photograph(job.folder, source, words, of_customer=of_customer)
    return after.sheet.photographs[-1].file


def _files(job: Job) -> list[str]:
    return [path.name for path in attached_files(job.folder)]


def test_a_file_goes_only_when_nothing_names_it(job: Job, tmp_path: Path) -> None:
    """What was taken back can be put back until then; a file that nobody ever named is not touched."""
    first, second = _kept(job, tmp_path, "board"), _kept(job, tmp_path, "label")
    (job.folder / ATTACHMENTS / "of somebody else").write_text("x")
    assert remove_dropped(job.folder) == 0

    back = TakenBack(NOW, EntryKind.PHOTOGRAPH, first)
    add_facts(job.folder, [back, Photographed(NOW, first, "board")])
    assert remove_dropped(job.folder) == 0

    add_facts(job.folder, [back])
    assert remove_dropped(job.folder) == 1
    assert _files(job) == sorted([second, "of somebody else"])
    facts = open_job(job.folder).journal.facts
    assert facts[-1] == back


def test_nothing_is_removed_from_a_damaged_job(job: Job, tmp_path: Path) -> None:
    """The damaged line may name the file."""
    file = _kept(job, tmp_path, "board")
    add_facts(job.folder, [TakenBack(NOW, EntryKind.PHOTOGRAPH, file)])
    with open(job.folder / JOB_JOURNAL, "a", encoding="utf-8") as journal:
        journal.write('{"kind":"photographed","file"\n')

    assert remove_dropped(job.folder) == 0
    assert _files(job) == [file]


def test_photographs_of_the_customer_are_erased_with_them(job: Job, tmp_path: Path) -> None:
    """File and caption, also of one taken back before; what shows the unit stays, and every other byte."""
    board = _kept(job, tmp_path, "board")
    shown, dropped = _kept(job, tmp_path, "receipt of Ada", True), _kept(job, tmp_path, "card of Ada", True)
    add_facts(job.folder, [TakenBack(NOW, EntryKind.PHOTOGRAPH, dropped)])
    add_facts(job.folder, [Filled(NOW, SheetField.COMPLAINT, "hums")])
    before = (job.folder / JOB_JOURNAL).read_bytes()

    assert erase_customer(job.folder)

    raw = (job.folder / JOB_JOURNAL).read_bytes()
    assert b"Ada" in before
    assert b"Ada" not in raw
    kept = [line for line in before.splitlines() if b"Ada" not in line]
    assert [line for line in raw.splitlines() if line in kept] == kept
    left = open_job(job.folder)
    assert not left.journal.problems
    assert [one.file for one in left.sheet.photographs] == [board]
    assert _files(job) == [board]
    assert shown in raw.decode()
    assert left.sheet.identity_erased is not None
    assert not erase_customer(job.folder)


def test_a_mark_that_was_taken_off_saves_the_photograph(job: Job, tmp_path: Path) -> None:
    """The newest word counts."""
    file = _kept(job, tmp_path, "board", True)
    add_facts(job.folder, [Photographed(NOW, file, "board")])
    change_customer(job.folder, {"name": "Ada"})

    assert erase_customer(job.folder)
    assert _files(job) == [file]


@pytest.mark.parametrize("customer", [False, True])
def test_a_bundle_holds_what_stands_on_the_sheet(
    job: Job, session_root: Path, tmp_path: Path, customer: bool
) -> None:
    """Who the customer is goes along only when that is asked for, pictures and captions too."""
    session = open_session(keep_session(session_root))
    file_session(job.folder, session_root, session.journal.header.session)
    board, receipt = _kept(job, tmp_path, "board"), _kept(job, tmp_path, "receipt of Ada", True)
    dropped = _kept(job, tmp_path, "blurred")
    add_facts(job.folder, [TakenBack(NOW, EntryKind.PHOTOGRAPH, dropped)])

    write_bundle(tmp_path / "b.zip", session, open_job(job.folder), customer=customer)

    with zipfile.ZipFile(tmp_path / "b.zip") as packed:
        names = {Path(name).name for name in packed.namelist() if name.startswith("job/attachments")}
        assert names == ({board, receipt} if customer else {board})
        assert (b"Ada" in packed.read(f"job/{JOB_JOURNAL}")) is customer


def test_entries_are_taken_back_on_the_command_line(
    job: Job, session_root: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each kind by some of its words; an outcome alone by its kind."""

    def said(*words: str) -> str:
        assert main(["--folder", str(session_root), "job", *words]) == 0
        return capsys.readouterr().out

    file = _kept(job, tmp_path, "board")
    said("state", "117", "as found", "mains", "231", "V")
    said("state", "117", "as left", "mains", "230", "V")
    said("work", "117", "replaced RL1")
    said("left-out", "117", "distortion", "no generator")
    said("part", "117", "Q7")
    said("outcome", "117", "declined")

    said("take-back", "117", "state", "found mains", "--words", "the wrong unit")
    said("take-back", "117", "work", "rl1")
    said("take-back", "117", "test-left-out", "Distortion")
    said("take-back", "117", "part", "q7")
    said("take-back", "117", "outcome")
    assert "the picture's file is removed" in said("take-back", "117", "photograph", file[:9])

    sheet = open_job(job.folder).sheet
    assert [one.state.value for one in sheet.states] == ["as left"]
    assert (sheet.work, sheet.left_out, sheet.parts, sheet.photographs, sheet.outcome) == (
        (),
        (),
        (),
        (),
        None,
    )
    assert _files(job) == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["state", "mains"], "'mains' could be any of 2: as found mains; as left mains"),
        (["state", "ripple"], "no state is called 'ripple'; there are: as found mains; as left mains"),
        (["state"], "no state is called ''"),
        (["work", "x"], "no entry of the kind 'work' stands on the sheet"),
        (["outcome"], "the job is under way"),
    ],
)
def test_what_cannot_be_taken_back_is_one_sentence(
    job: Job, words: list[str], said: str, session_root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Which entries there are stands in it."""
    for state in ("as found", "as left"):
        assert main(["--folder", str(session_root), "job", "state", "117", state, "mains", "230", "V"]) == 0
    kind, *which = words
    assert main(["--folder", str(session_root), "job", "take-back", "117", kind, *which]) == 1
    err = capsys.readouterr().err
    assert said in err
    assert err.count("\n") == 1


def test_the_reference_is_cleared_on_the_command_line(
    job: Job, session_root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Only when that is asked for."""
    add_facts(job.folder, [Filled(NOW, SheetField.CUSTOMER_REFERENCE, "C-9")])
    for more, left in (([], "C-9"), (["--reference-too"], "")):
        assert main(["--folder", str(session_root), "job", "erase-customer", "117", *more]) == 0
        assert open_job(job.folder).sheet.text(SheetField.CUSTOMER_REFERENCE) == left


def test_words_are_no_photograph(
    job: Job, session_root: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One sentence, and nothing is kept."""
    (tmp_path / "notes.png").write_text("words")
    asked = ["--folder", str(session_root), "job", "photograph", "117", str(tmp_path / "notes.png")]
    assert main(asked) == 1
    assert "notes.png: this is no picture that can be shown" in capsys.readouterr().err
    assert _files(job) == []
