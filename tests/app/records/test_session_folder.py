"""Session folders: kept, listed, opened, named, and told in one sentence when they cannot be."""

from __future__ import annotations

import os
import stat
from datetime import UTC, datetime
from pathlib import Path

import pytest

from app.records.journal_file import JournalFile
from app.records.places import FolderUnusable, require_writable
from app.records.session_folder import (
    JOURNAL,
    SessionRecord,
    SessionUnreadable,
    find_session,
    list_sessions,
    name_session,
    open_session,
)
from drivers.reading import GapReason, Unit
from procedures.events import ChannelGap, ChannelReading, Note, RunEnded, Supply, SupplyChanged
from procedures.job import Naming, UnitName
from procedures.records.journal import Anchor, Fault, Header, TakenBack

STARTED = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
ENTRIES = (
    Anchor(0.0, STARTED),
    SupplyChanged(0.5, Supply.MAINS),
    ChannelReading(1.0, "left bias", 0.0131, Unit.VOLT, 0.1),
    ChannelGap(1.5, 3.0, "left bias", GapReason.TIMED_OUT, "no answer"),
    ChannelReading(3.5, "left bias", 0.1 + 0.2, Unit.VOLT, 0.1),
    Note(4.0, "hum, Ω \u2028 and a line"),
    TakenBack(4.5, 4.0),
    Fault(5.0, "an error"),
    RunEnded(6.0, False, "Stopped by a person."),
)


def _header(session: str = "0f3a", unit: str = "Amsel A-60") -> Header:
    return Header(session, STARTED, {"procedure": {}}, "1", title="Watch", unit=unit)


def _kept(root: Path, session: str = "0f3a", close: bool = True) -> Path:
    record = SessionRecord.create(root, _header(session))
    record.append(ENTRIES)
    if close:
        record.close()
    else:
        record.abandon()
    return record.folder


def test_a_session_is_read_back_as_it_was_kept(session_root: Path) -> None:
    """Every fact, in order, to the last bit."""
    session = open_session(_kept(session_root))

    facts = [e for e in ENTRIES if not isinstance(e, Anchor | Fault | TakenBack)]
    assert session.journal.facts == facts
    assert session.journal.anchors == [ENTRIES[0]]
    assert [fault.text for fault in session.journal.faults] == ["an error"]
    assert session.journal.taken_back == [TakenBack(4.5, 4.0)]
    assert (session.journal.closed, session.journal.problems) == (True, [])


def test_the_list_tells_unit_length_and_ending_from_both_ends(session_root: Path) -> None:
    """The middle of the journal is never read."""
    folder = _kept(session_root)
    raw = (folder / JOURNAL).read_bytes().split(b"\n")
    raw.insert(1, b"x" * 200_000)
    (folder / JOURNAL).write_bytes(b"\n".join(raw))

    (past,) = list_sessions(session_root)

    assert (past.unit, past.lasted_s, past.closed, past.trouble) == ("Amsel A-60", 6.0, True, "")
    assert past.ended is not None
    assert past.ended.reason == "Stopped by a person."


def test_a_session_is_named_afterwards_and_stays_closed(session_root: Path) -> None:
    """Naming keeps every reading, and count and digest stay true."""
    folder = _kept(session_root)

    name_session(folder, Naming(UnitName("Amsel", "A-60", "0042"), job="117"))

    assert list_sessions(session_root)[0].unit == "Amsel A-60, serial 0042"
    session = open_session(folder)
    assert session.journal.closed
    assert session.journal.naming is not None
    assert session.journal.naming.job == "117"
    assert len(session.journal.facts) == 6


def test_what_is_left_empty_stays_as_it_was_named(session_root: Path) -> None:
    """The number of the job alone must not take the name of the unit away, nor the other way round."""
    folder = _kept(session_root)
    name_session(folder, Naming(UnitName("Amsel", "A-60", "0042")))
    name_session(folder, Naming(job="117"))
    name_session(folder, Naming(UnitName("Amsel", "A-60", "0043")))
    naming = open_session(folder).journal.naming
    assert naming is not None
    assert (str(naming.unit), naming.job) == ("Amsel A-60, serial 0043", "117")


def test_newest_sessions_come_first_and_unreadable_ones_say_why(session_root: Path) -> None:
    """One bad folder does not hide the others."""
    _kept(session_root, "aaaa")
    _kept(session_root, "bbbb", close=False)
    bad = session_root / "2020-01-01-0000-cccc"
    bad.mkdir()
    (bad / JOURNAL).write_bytes(b"")

    listed = list_sessions(session_root)

    assert [past.key[-4:] for past in listed] == ["bbbb", "aaaa", "cccc"]
    assert [past.closed for past in listed] == [False, True, False]
    assert "cccc" in listed[2].trouble


def test_a_session_is_found_by_the_beginning_of_its_identifier(session_root: Path) -> None:
    """Short, unless it is ambiguous or wrong; then one sentence says so."""
    folder = _kept(session_root, "aaaa")
    _kept(session_root, "aabb")

    assert find_session(session_root, "aaaa") == folder
    assert find_session(session_root, str(folder)) == folder
    with pytest.raises(SessionUnreadable, match="any of 2 sessions"):
        find_session(session_root, "aa")
    with pytest.raises(SessionUnreadable, match="no session 'zz'"):
        find_session(session_root, "zz")


def test_a_session_that_was_cut_off_goes_on_where_it_stands(session_root: Path) -> None:
    """Resumed after a crash in the middle of a line: nothing that was whole is lost."""
    folder = _kept(session_root, close=False)
    with open(folder / JOURNAL, "ab") as file:
        file.write(b'{"kind":"rows","rows":[[0,7')
    assert open_session(folder).journal.problems != []

    record = SessionRecord.resume(folder)
    record.append([Note(10.0, "resumed")])
    record.close()

    session = open_session(folder)
    assert session.journal.closed
    assert session.journal.facts[-1] == Note(10.0, "resumed")
    assert len(session.journal.facts) == 7


def test_a_changed_digit_is_told_and_everything_is_still_read(session_root: Path) -> None:
    """Damage is named, not fatal."""
    folder = _kept(session_root)
    path = folder / JOURNAL
    path.write_bytes(path.read_bytes().replace(b"0.0131", b"0.0132"))

    session = open_session(folder)

    assert not session.journal.closed
    assert len(session.journal.facts) == 6
    assert "digest" in session.journal.problems[0]


def test_a_file_that_is_no_session_is_refused_in_one_sentence(session_root: Path) -> None:
    """Whatever the bytes are."""
    folder = session_root / "x"
    folder.mkdir()
    for raw in (b"", b"\xff\xfe\x00", b"[]\n", b'{"kind":"header"}\n', b'{"kind":"header","format":99}\n'):
        (folder / JOURNAL).write_bytes(raw)
        with pytest.raises(SessionUnreadable) as refused:
            open_session(folder)
        assert str(refused.value).startswith(str(folder / JOURNAL))
        assert "\n" not in str(refused.value)


def test_a_folder_in_the_way_is_told_before_anything_is_measured(tmp_path: Path) -> None:
    """A file stands where the folder should be."""
    (tmp_path / "sessions").write_text("not a folder")

    with pytest.raises(FolderUnusable, match="nothing would be recorded"):
        SessionRecord.create(tmp_path / "sessions", _header())


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_without_write_permission_is_told(tmp_path: Path) -> None:
    """One sentence with the folder and what to do."""
    tmp_path.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        with pytest.raises(FolderUnusable, match="choose another folder"):
            require_writable(tmp_path / "sessions")
    finally:
        tmp_path.chmod(stat.S_IRWXU)


def test_trying_a_folder_leaves_nothing_behind(tmp_path: Path) -> None:
    """The trial file is gone."""
    require_writable(tmp_path / "a" / "b")

    assert list((tmp_path / "a" / "b").iterdir()) == []


def test_nothing_of_a_refused_batch_is_kept(session_root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The conductor may hand the same batch in again."""
    record = SessionRecord.create(session_root, _header())

    def full(self: JournalFile, lines: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(JournalFile, "append", full)
        with pytest.raises(OSError, match="No space"):
            record.append(ENTRIES)
    record.append(ENTRIES)
    record.close()

    assert len(open_session(record.folder).journal.facts) == 6
