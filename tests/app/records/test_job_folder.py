"""Job folders: written down at once, identity apart and erasable, sessions filed afterwards."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pytest
from small_session import keep_session

from app.main import main
from app.records.checking import check_session
from app.records.erasing import erase_customer
from app.records.job_folder import (
    IDENTITY,
    JOB_JOURNAL,
    Job,
    JobUnreadable,
    add_facts,
    change_customer,
    customer_of,
    file_session,
    find_job,
    jobs_root,
    list_jobs,
    open_job,
    open_new_job,
)
from app.records.journal_file import JournalFile
from app.records.session_folder import list_sessions
from procedures.job import Customer, Filled, SheetField, UnitName, Worked

NOW = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)


@pytest.fixture
def job(session_root: Path) -> Job:
    given = [Filled(NOW, SheetField.NUMBER, "117"), Filled(NOW, SheetField.SERIAL, "0042")]
    return open_new_job(jobs_root(session_root), given, NOW)


def test_a_job_is_found_by_number_identifier_and_folder(job: Job) -> None:
    """Whichever is at hand."""
    root = job.folder.parent
    for key in ("117", job.id, job.id[:5], job.folder.name, str(job.folder)):
        assert find_job(root, key) == job.folder
    for wrong in ("118", ""):
        with pytest.raises(JobUnreadable, match="there is no job"):
            find_job(root, wrong)


def test_the_customer_is_in_one_file_and_can_be_erased(job: Job) -> None:
    """The journal never holds the name; what was measured stays."""
    change_customer(job.folder, {"name": "Ada Example", "contact": "somewhere"})

    assert customer_of(job.folder) == Customer("Ada Example", "somewhere")
    with_name = [path.name for path in job.folder.iterdir() if b"Ada" in path.read_bytes()]
    assert with_name == [IDENTITY]
    assert os.name == "nt" or stat.S_IMODE((job.folder / IDENTITY).stat().st_mode) == 0o600

    assert erase_customer(job.folder)
    assert customer_of(job.folder) is None
    assert not erase_customer(job.folder)
    left = open_job(job.folder)
    assert left.sheet.words == job.sheet.words
    assert left.sheet.identity_erased is not None


def test_a_torn_line_is_set_aside_and_writing_goes_on(job: Job) -> None:
    """A power cut in the middle of a word costs that word."""
    path = job.folder / JOB_JOURNAL
    with open(path, "ab") as file:
        file.write(b'{"kind":"work')

    after = add_facts(job.folder, [Worked(NOW, "looked")])

    assert after.journal.problems == []
    assert [work.action for work in after.sheet.work] == ["looked"]
    assert after.sheet.number == "117"


def test_several_windows_write_to_one_job(job: Job) -> None:
    """None of them loses anything."""
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda n: add_facts(job.folder, [Worked(NOW, str(n))]), range(12)))

    assert sorted(int(work.action) for work in open_job(job.folder).sheet.work) == list(range(12))


def test_a_session_is_filed_long_afterwards(job: Job, session_root: Path) -> None:
    """It takes the job's unit and number, and its record stays whole."""
    folder = keep_session(session_root)

    filed = file_session(job.folder, session_root, folder.name)

    assert filed.sheet.sessions == ("0f3a",)
    (past,) = list_sessions(session_root)
    assert past.naming is not None
    assert (past.naming.job, past.naming.unit) == ("117", UnitName(serial="0042"))
    assert check_session(folder).agrees


def test_what_is_no_job_is_told_and_the_others_are_listed(job: Job) -> None:
    """One sentence each, and nothing is written into it."""
    bad = job.folder.parent / "2026-01-01-bad"
    bad.mkdir()
    (bad / JOB_JOURNAL).write_text("nonsense\n")

    jobs, troubles = list_jobs(job.folder.parent)

    assert [one.id for one in jobs] == [job.id]
    assert len(troubles) == 1
    with pytest.raises(JobUnreadable, match="backup"):
        add_facts(bad, [Worked(NOW, "looked")])
    assert (bad / JOB_JOURNAL).read_text() == "nonsense\n"


@pytest.mark.parametrize("content", ["", "[]", '{"name"', "null"])
def test_a_damaged_customer_file_is_told(job: Job, content: str) -> None:
    """In one sentence; it can be erased all the same."""
    (job.folder / IDENTITY).write_text(content)

    with pytest.raises(JobUnreadable, match=IDENTITY):
        customer_of(job.folder)
    assert erase_customer(job.folder)


def test_a_whole_job_on_the_command_line(
    session_root: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Opened, filled in, concluded, and shown again."""
    keep_session(session_root)
    picture = tmp_path / "board.png"
    picture.write_bytes(b"\x89PNG\r\n\x1a\n")

    def job(*words: str) -> str:
        assert main(["--folder", str(session_root), "job", *words]) == 0
        return capsys.readouterr().out

    job("new", "--number", "117", "--model", "K-40", "--complaint", "hums when warm")
    job("fill", "117", "fuse-rating", "T 3.15 A")
    job("complaint", "117", "did not recur", "--hours", "4,5")
    job("state", "117", "as received", "mains", "230", "V")
    job("state", "117", "as found", "ripple", "--not-measured", "no scope at hand")
    assert "rating" not in job("part", "117", "Q7", "--source", "shelf", "--safety-critical")
    job("work", "117", "replaced Q7", "--minutes", "35")
    job("left-out", "117", "distortion", "no generator")
    job("session", "117", "0f3a")
    job("photograph", "117", str(picture), "--state", "as found")
    job("customer", "117", "--name", "Ada")
    job("customer", "117", "--contact", "somewhere")
    job("customer", "117", "--name", "Ada Example")
    job("outcome", "117", "declined")

    shown = job("show", "117")
    for words in (
        "model: K-40",
        "did not recur in 4.5 hours",
        "as received: mains: 230 V",
        "as found: ripple: not measured (no scope at hand)",
        "1 x Q7, shelf, safety-critical",
        "replaced Q7, 35 min",
        "not done: distortion: no generator",
        "session: 0f3a",
        "outcome: declined",
    ):
        assert words in shown
    assert "Ada" not in shown
    assert "Ada Example, somewhere" in job("show", "117", "--customer")  # one option leaves the others
    assert "erased" in job("erase-customer", "117")
    assert "declined" in job("list")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["show", "117"], "there is no job '117'"),
        (["fill", "1", "fuze", "x"], "there is no job"),
    ],
)
def test_what_cannot_be_done_to_a_job_is_one_sentence(
    words: list[str], said: str, session_root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 1, nothing else."""
    assert main(["--folder", str(session_root), "job", *words]) == 1
    err = capsys.readouterr().err
    assert said in err
    assert err.count("\n") == 1


def test_a_job_that_could_not_be_begun_leaves_no_empty_sheet(
    session_root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a full disk nothing was taken in; an empty sheet in the list would look as if it had been."""
    append = JournalFile.append

    def full(journal: JournalFile, lines: Iterable[str]) -> None:
        given = list(lines)
        if "header" not in given[0]:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        append(journal, given)

    monkeypatch.setattr(JournalFile, "append", full)
    with pytest.raises(OSError, match="No space"):
        open_new_job(jobs_root(session_root), [Filled(NOW, SheetField.NUMBER, "118")], NOW)
    assert list(jobs_root(session_root).iterdir()) == []


def test_a_number_that_is_none_is_told_in_words(
    session_root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Not by the name of a function."""
    with pytest.raises(SystemExit):
        main(["--folder", str(session_root), "job", "work", "117", "soldered", "--minutes", "ten"])
    assert "'ten' is no number that can be written down" in capsys.readouterr().err
