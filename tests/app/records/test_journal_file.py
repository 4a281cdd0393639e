"""How a journal is kept on disk and read back."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.records.journal_file import JournalDamaged, JournalFile, encode, read_ends, read_journal

HEADER = {"kind": "header", "format": 1, "title": "Übung, Ω"}


def _journal(folder: Path, lines: int = 5) -> Path:
    path = folder / "journal.jsonl"
    journal = JournalFile.create(path, HEADER)
    journal.append({"kind": "note", "at_s": i * 0.1, "text": f"line {i}"} for i in range(lines))
    journal.close({"reason": "finished"})
    return path


def test_what_was_appended_is_read_back(tmp_path: Path) -> None:
    """Header, lines, closing line; numbers to the last bit."""
    text = read_journal(_journal(tmp_path))

    assert text.header == HEADER
    assert [line["at_s"] for line in text.lines] == [i * 0.1 for i in range(5)]
    assert text.closed is not None
    assert (text.closed["reason"], text.closed["count"], text.intact) == ("finished", 6, True)


def test_the_ends_are_read_without_the_middle(tmp_path: Path) -> None:
    """A long journal tells its header and its ending from two short reads."""
    path = _journal(tmp_path, lines=5000)

    header, closed, filed = read_ends(path)

    assert header == HEADER
    assert closed is not None
    assert closed["count"] == 5001
    assert filed == ()


def test_a_line_may_be_filed_after_the_end(tmp_path: Path) -> None:
    """Naming the unit afterwards keeps count and digest true."""
    path = _journal(tmp_path)
    with open(path, "ab") as file:
        file.write(encode({"kind": "filed", "unit": "A 17", "job": ""}))

    text = read_journal(path)

    assert text.intact
    assert [line["unit"] for line in text.filed] == ["A 17"]
    assert [line["unit"] for line in read_ends(path)[2]] == ["A 17"]


def test_a_torn_last_line_is_set_aside_and_the_journal_goes_on(tmp_path: Path) -> None:
    """A power cut in the middle of a line costs that line only."""
    path = tmp_path / "journal.jsonl"
    journal = JournalFile.create(path, HEADER)
    journal.append([{"kind": "note", "text": "kept"}])
    journal.abandon()
    with open(path, "ab") as file:
        file.write(b'{"kind":"note","te')
    assert read_journal(path).torn == 18

    journal = JournalFile.reopen(path)
    journal.append([{"kind": "note", "text": "after"}])
    journal.close({})

    text = read_journal(path)
    assert [line["text"] for line in text.lines] == ["kept", "after"]
    assert (text.torn, text.intact) == (0, True)
    assert path.with_suffix(".torn").read_bytes() == b'{"kind":"note","te\n'


def test_a_changed_digit_is_noticed(tmp_path: Path) -> None:
    """The digest is over everything before the closing line."""
    path = _journal(tmp_path)
    path.write_bytes(path.read_bytes().replace(b"line 3", b"line 4"))

    assert read_journal(path).intact is False


def test_a_damaged_line_is_named(tmp_path: Path) -> None:
    """One sentence: which file, which line."""
    path = _journal(tmp_path)
    raw = path.read_bytes().split(b"\n")
    raw[2] = b"garbage"
    path.write_bytes(b"\n".join(raw))

    with pytest.raises(JournalDamaged, match=r"journal\.jsonl, line 3"):
        read_journal(path)


def test_not_a_number_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    """Missing is never NaN in the record."""
    path = tmp_path / "journal.jsonl"
    journal = JournalFile.create(path, HEADER)
    with pytest.raises(ValueError, match="JSON"):
        journal.append([{"kind": "note", "at_s": float("nan")}])
    journal.close({})

    assert read_journal(path).intact


@given(cut=st.integers(min_value=0, max_value=400))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None)
def test_a_journal_cut_anywhere_tells_what_is_whole(tmp_path: Path, cut: int) -> None:
    """Cut at any byte: the whole lines are read, or one sentence says that nothing is there."""
    whole = _journal_bytes()
    path = tmp_path / "cut.jsonl"
    path.write_bytes(whole[:cut])

    if cut <= whole.index(b"\n"):
        with pytest.raises(JournalDamaged, match="no complete header"):
            read_journal(path)
        return
    text = read_journal(path)

    assert 1 + len(text.lines) == whole[:cut].count(b"\n")
    assert text.torn == len(whole[:cut]) - (whole[:cut].rfind(b"\n") + 1)


def _journal_bytes() -> bytes:
    lines = [HEADER, *({"kind": "note", "at_s": i * 0.1, "text": f"line {i}"} for i in range(5))]
    return b"".join(encode(line) for line in lines)


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs a device that is always full")
def test_a_batch_that_does_not_fit_is_not_kept_in_half(tmp_path: Path) -> None:
    """A full disk raises, and the journal is as it was."""
    path = tmp_path / "journal.jsonl"
    JournalFile.create(path, HEADER).abandon()
    journal = JournalFile.reopen(path)
    healthy = journal._file
    journal._file = open("/dev/full", "ab", buffering=0)  # noqa: SIM115
    try:
        with pytest.raises(OSError, match="No space left"):
            journal.append([{"kind": "note", "text": "x"}])
    finally:
        journal._file.close()
        journal._file = healthy
    journal.append([{"kind": "note", "text": "x"}])
    journal.close({})

    assert read_journal(path).intact
