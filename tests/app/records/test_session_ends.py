"""Where a session ends and who may write to it: endings, names and locks in every order."""

from __future__ import annotations

import errno
import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from app.records.journal_file import JournalFile
from app.records.session_folder import (
    IN_USE,
    JOURNAL,
    SessionRecord,
    SessionUnreadable,
    is_in_use,
    list_sessions,
    name_session,
    newest_sessions,
    open_session,
)
from drivers.reading import Unit
from procedures.events import ChannelReading, Note, RunEnded
from procedures.job import Naming, UnitName
from procedures.records.journal import Header

HEADER = Header("0f3a", datetime(2026, 1, 5, 9, 0, tzinfo=UTC), {"procedure": {}}, "1", unit="Amsel A-60")
NAMED = Naming(UnitName("Amsel", "A-60", "0042"), job="117")
LONG_AFTER = tuple(ChannelReading(10.0 + n, "left bias", 0.013, Unit.VOLT, 0.1) for n in range(1500))


def _append_singly(record: SessionRecord, readings: tuple[ChannelReading, ...]) -> None:
    for reading in readings:
        record.append([reading])


def test_a_run_that_ended_is_listed_as_ended_though_readings_went_on(session_root: Path) -> None:
    """A bench that is looked at for a while after the last step is not one that was cut off."""
    record = SessionRecord.create(session_root, HEADER)
    record.append([RunEnded(6.0, True, "Everything is done.")])
    _append_singly(record, LONG_AFTER)
    record.abandon()

    (past,) = list_sessions(session_root)

    assert past.ended == RunEnded(6.0, True, "Everything is done.")


def test_a_name_given_in_the_middle_is_the_name_in_the_list(session_root: Path) -> None:
    """The list reads only the ends of a journal, the archive all of it: both tell the same unit."""
    record = SessionRecord.create(session_root, HEADER)
    record.name(NAMED)
    _append_singly(record, LONG_AFTER)
    record.close()

    (past,) = list_sessions(session_root)

    assert past.unit == "Amsel A-60, serial 0042"
    assert past.closed
    journal = open_session(record.folder).journal
    assert (journal.closed, journal.naming, journal.problems) == (True, NAMED, [])


def test_a_session_under_way_is_not_named_behind_the_back_of_its_recorder(session_root: Path) -> None:
    """A foreign line would make its count and digest wrong, as if it had been tampered with."""
    record = SessionRecord.create(session_root, HEADER)
    with pytest.raises(SessionUnreadable, match="being recorded by another window"):
        name_session(record.folder, NAMED)
    record.close()

    assert open_session(record.folder).journal.closed
    name_session(record.folder, NAMED)
    assert open_session(record.folder).journal.closed


def test_a_name_that_cannot_be_written_leaves_a_closed_session_closed(
    session_root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Name and closing line go out together: between them the session would look cut off."""
    record = SessionRecord.create(session_root, HEADER)
    record.close()
    batches: list[list[str]] = []
    append = JournalFile.append
    monkeypatch.setattr(
        JournalFile, "append", lambda self, lines: (batches.append(list(lines)), append(self, batches[-1]))[1]
    )

    name_session(record.folder, NAMED)

    assert [len(batch) for batch in batches] == [2]


def test_a_session_that_could_not_be_begun_leaves_neither_folder_nor_lock(
    session_root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a full disk an empty journal would be listed as a damaged session."""

    def full(self: JournalFile, lines: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patched:
        patched.setattr(JournalFile, "append", full)
        with pytest.raises(OSError, match="No space"):
            SessionRecord.create(session_root, HEADER)
    assert list(session_root.iterdir()) == []


def test_a_session_that_cannot_be_taken_up_again_is_let_go(
    session_root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else it would count as being recorded until the program ends."""
    record = SessionRecord.create(session_root, HEADER)
    record.abandon()

    def gone(path: Path) -> JournalFile:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    with monkeypatch.context() as patched:
        patched.setattr(JournalFile, "reopen", gone)
        with pytest.raises(OSError, match="Input/output"):
            SessionRecord.resume(record.folder)
    assert not is_in_use(record.folder)


def test_half_a_batch_is_taken_away_before_the_next_try(tmp_path: Path) -> None:
    """A drive that was unplugged cannot be cleaned at once; nothing is torn or doubled when it is back."""
    journal = JournalFile.create(tmp_path / JOURNAL, "header")
    real = journal._file

    class Unplugged:
        """Takes half a batch, and then nothing at all."""

        def write(self, batch: bytes) -> int:
            return real.write(batch[: len(batch) // 2]) or 0

        def truncate(self, size: int) -> int:
            raise OSError(errno.EIO, os.strerror(errno.EIO))

    journal._file = Unplugged()  # type: ignore[assignment]
    with pytest.raises(OSError, match="No space"):
        journal.append(["one", "two"])
    journal._file = real
    journal.append(["one", "two"])
    journal.abandon()

    assert (tmp_path / JOURNAL).read_text("utf-8") == "header\none\ntwo\n"


def test_a_folder_on_a_medium_that_cannot_be_written_is_used_by_nobody(
    session_root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A backup on a write-protected medium is listed and filed like any other."""
    record = SessionRecord.create(session_root, HEADER)
    record.append([Note(1.0, "kept")])
    record.close()
    assert (record.folder / IN_USE).exists()

    def protected(folder: Path) -> None:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))

    monkeypatch.setattr("app.records.session_folder._take", protected)
    assert not is_in_use(record.folder)


def test_a_folder_that_may_not_be_looked_into_hides_no_other(
    session_root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The start screen shows the rest."""
    record = SessionRecord.create(session_root, HEADER)
    record.close()
    (session_root / "zz-foreign").mkdir()
    is_file = Path.is_file

    def look(path: Path) -> bool:
        if path.parent.name == "zz-foreign":
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
        return is_file(path)

    monkeypatch.setattr(Path, "is_file", look)
    assert [past.folder for past in newest_sessions(session_root, 8)] == [record.folder]


@pytest.mark.parametrize("closed", [True, False])
def test_what_is_left_is_on_the_disk_first(
    closed: bool, session_root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Closed, or left open for later: nobody forces it afterwards."""
    record = SessionRecord.create(session_root, HEADER)
    record.append([Note(1.0, "last words")])
    forced: list[int] = []
    monkeypatch.setattr(os, "fsync", lambda handle: forced.append(os.fstat(handle).st_size))
    record.leave(closed=closed)

    assert forced[-1] == (record.folder / JOURNAL).stat().st_size
