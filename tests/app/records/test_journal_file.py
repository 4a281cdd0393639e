"""How a journal is kept on disk and read back."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from app.records.journal_file import JournalFile, read_ends, split_torn

HEADER = '{"kind":"header","title":"Übung, Ω"}'


def _note(text: str) -> str:
    return json.dumps({"kind": "note", "text": text}, ensure_ascii=False)


def _journal(folder: Path, lines: int = 5) -> Path:
    path = folder / "journal.jsonl"
    journal = JournalFile.create(path, HEADER)
    journal.append(_note(f"line {i}") for i in range(lines))
    journal.close()
    return path


def test_what_was_appended_is_there_in_order_and_closed(tmp_path: Path) -> None:
    """Header, lines, closing line with the count of the lines before it."""
    lines = _journal(tmp_path).read_text(encoding="utf-8").splitlines()

    assert lines[:-1] == [HEADER, *(_note(f"line {i}") for i in range(5))]
    assert json.loads(lines[-1])["lines"] == 6


def test_the_ends_are_read_without_the_middle(tmp_path: Path) -> None:
    """A long journal tells its header and its ending from two short reads."""
    first, tail = read_ends(_journal(tmp_path, lines=5000), tail_bytes=1000)

    assert first == HEADER
    assert json.loads(tail[-1])["lines"] == 5001
    assert all(json.loads(line) for line in tail)
    assert len(tail) < 50


def test_a_short_journal_is_its_own_tail(tmp_path: Path) -> None:
    """Nothing is left out and nothing is told twice."""
    first, tail = read_ends(_journal(tmp_path, lines=2))

    assert first == HEADER
    assert [json.loads(line)["kind"] for line in tail] == ["note", "note", "closing"]


def test_a_torn_last_line_is_set_aside_and_the_journal_goes_on(tmp_path: Path) -> None:
    """A power cut in the middle of a line costs that line only."""
    path = tmp_path / "journal.jsonl"
    journal = JournalFile.create(path, HEADER)
    journal.append([_note("kept")])
    journal.abandon()
    with open(path, "ab") as file:
        file.write(b'{"kind":"note","te')

    journal = JournalFile.reopen(path)
    journal.append([_note("after")])
    journal.close()

    lines = path.read_text(encoding="utf-8").splitlines()
    assert lines[1:3] == [_note("kept"), _note("after")]
    assert json.loads(lines[3])["lines"] == 3
    assert path.with_suffix(".torn").read_bytes() == b'{"kind":"note","te\n'


def test_a_reopened_journal_closes_with_the_same_digest_as_one_written_at_once(tmp_path: Path) -> None:
    """The seal is over the lines, however many sittings wrote them."""
    at_once, twice = tmp_path / "a", tmp_path / "b"
    at_once.mkdir()
    twice.mkdir()
    one = _journal(at_once)
    first = JournalFile.create(twice / "journal.jsonl", HEADER)
    first.append(_note(f"line {i}") for i in range(3))
    first.abandon()
    second = JournalFile.reopen(twice / "journal.jsonl")
    second.append(_note(f"line {i}") for i in range(3, 5))
    second.close()

    assert (twice / "journal.jsonl").read_bytes() == one.read_bytes()


def test_whole_lines_and_what_is_torn_make_up_everything() -> None:
    """Cut at any byte."""
    raw = "\n".join([HEADER, _note("Ω"), _note("ü"), ""]).encode()
    for cut in range(len(raw) + 1):
        whole, torn = split_torn(raw[:cut])
        assert whole + torn == raw[:cut]
        assert not whole or whole.endswith(b"\n")
        assert b"\n" not in torn


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs a device that is always full")
def test_a_batch_that_does_not_fit_is_not_kept_in_half(tmp_path: Path) -> None:
    """A full disk raises, and the journal is as it was."""
    path = tmp_path / "journal.jsonl"
    journal = JournalFile.create(path, HEADER)
    healthy = journal._file
    journal._file = open("/dev/full", "ab", buffering=0)  # noqa: SIM115
    try:
        with pytest.raises(OSError, match="No space left"):
            journal.append([_note("x")])
    finally:
        journal._file.close()
        journal._file = healthy
    journal.append([_note("x")])
    journal.close()

    lines = path.read_text(encoding="utf-8").splitlines()
    assert lines[:2] == [HEADER, _note("x")]
    assert json.loads(lines[2])["lines"] == 2
