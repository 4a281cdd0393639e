"""Files that are there whole or not at all."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from app.records import places
from app.records.attachments import AttachmentRefused, attach
from app.records.export_csv import write_csv
from app.records.whole_file import write_whole, written_whole
from procedures.events import Note


def test_what_was_there_stays_when_the_writing_fails(tmp_path: Path) -> None:
    """And nothing is left beside it."""
    place = tmp_path / "settings.json"
    write_whole(place, b"before")

    def fail() -> None:
        with written_whole(place) as fresh:
            fresh.write_bytes(b"hal")
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(fresh))

    with pytest.raises(OSError, match="No space") as refused:
        fail()

    assert refused.value.filename == str(place)  # not one that nobody has asked for
    assert place.read_bytes() == b"before"
    assert list(tmp_path.iterdir()) == [place]


def test_two_may_write_at_once(tmp_path: Path) -> None:
    """The last to end is what stands there, whole."""
    place = tmp_path / "settings.json"
    with written_whole(place) as one, written_whole(place) as other:
        one.write_bytes(b"one")
        other.write_bytes(b"other")
    assert place.read_bytes() == b"one"
    assert list(tmp_path.iterdir()) == [place]


def test_a_folder_is_no_place_for_a_file(tmp_path: Path) -> None:
    with pytest.raises(IsADirectoryError):
        write_csv(tmp_path, [Note(1.0, "x")])
    assert list(tmp_path.iterdir()) == []


def test_the_spreadsheets_table_says_in_which_letters_it_is(tmp_path: Path) -> None:
    """Else they show a times sign as two letters; programs get the plain table."""
    write_csv(tmp_path / "sheet.csv", [Note(1.0, "×10 Ω")], comma=True)
    write_csv(tmp_path / "plain.csv", [Note(1.0, "×10 Ω")])
    assert (tmp_path / "sheet.csv").read_bytes().startswith(b"\xef\xbb\xbfelapsed")
    assert (tmp_path / "plain.csv").read_bytes().startswith(b"elapsed")


def test_what_has_no_end_is_not_attached(tmp_path: Path) -> None:
    """A pipe or a device would be read for ever."""
    for odd in (tmp_path, Path(os.devnull)):
        with pytest.raises(AttachmentRefused, match="no file that can be copied"):
            attach(tmp_path, odd)


def test_a_full_disk_is_not_littered_by_trying_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The trial file may be made and then take nothing."""

    def full(path: Path, content: bytes) -> int:
        path.touch()
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(places.FolderUnusable, match="No space"):
        places.require_writable(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_the_log_of_errors_takes_anything_and_does_not_grow_for_ever(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = tmp_path / "logs" / "errors.log"
    monkeypatch.setattr(places, "error_log_file", lambda: log)
    monkeypatch.setattr(places, "MOST_BYTES", 100)

    for number in range(20):
        assert places.keep_error(f"error {number} \ud800") == log

    assert sum(path.stat().st_size for path in log.parent.iterdir()) < 400
    assert "error 19" in log.read_text("utf-8")


@pytest.mark.skipif(os.name == "nt", reason="no pipes among files, and links need a right")
def test_a_device_is_not_replaced_by_a_file(tmp_path: Path) -> None:
    """As root that would be possible, and nothing would work that needs the device."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(OSError, match="no ordinary file"):
        write_whole(pipe, b"x")
    assert pipe.is_fifo()


@pytest.mark.skipif(os.name == "nt", reason="no pipes among files, and links need a right")
def test_a_link_stays_a_link(tmp_path: Path) -> None:
    """Settings that are kept elsewhere and linked to are written where they are kept."""
    (tmp_path / "kept").write_bytes(b"before")
    (tmp_path / "link").symlink_to(tmp_path / "kept")
    write_whole(tmp_path / "link", b"after")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "kept").read_bytes() == b"after"
