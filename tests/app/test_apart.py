"""Work in a process of its own answers with its sentence, or says in one sentence why not."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest
from PySide6.QtGui import QGuiApplication

from app.apart import apart
from app.records.export_csv import export
from app.records.exporting import export_session
from app.records.session_folder import open_session

SAMPLE = next((Path(__file__).parents[2] / "sample_sessions").glob("*/journal.jsonl")).parent


def whose(parent: int) -> str:
    """Whether this is another process than the parent's, and without a screen."""
    app = QGuiApplication([])
    return f"{os.getpid() != parent} {app.platformName()}"


def refuse(words: str) -> str:
    raise OSError(words)


def stumble() -> str:
    raise ZeroDivisionError("division by zero")


def vanish() -> str:
    os._exit(3)


def test_it_is_another_process_without_a_screen() -> None:
    assert apart(whose, os.getpid()) == "True offscreen"


def test_refusals_defects_and_deaths_are_one_sentence() -> None:
    with pytest.raises(ValueError, match="no room"):
        apart(refuse, "no room")
    with pytest.raises(ValueError, match="ZeroDivisionError"):
        apart(stumble)
    with pytest.raises(ValueError, match="ended before its time"):
        apart(vanish)


def test_a_long_session_is_written_apart_with_the_same_rows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Byte for byte what is written here."""
    export(tmp_path / "here.csv", open_session(SAMPLE).entries)
    monkeypatch.setattr("app.records.exporting.APART_BYTES", 1000)
    said = export_session(SAMPLE, tmp_path / "apart.csv")
    assert "readings were written" in said
    assert (tmp_path / "apart.csv").read_bytes() == (tmp_path / "here.csv").read_bytes()


def test_what_comes_back_may_be_anything_that_can_be_sent() -> None:
    assert apart(divmod, 17, 5) == (3, 2)


def unsendable() -> object:
    return lambda: None


def test_what_cannot_be_sent_is_one_sentence(capfd: pytest.CaptureFixture[str]) -> None:
    """And no page of words on the terminal of whoever works."""
    with pytest.raises(ValueError, match="something went wrong"):
        apart(unsendable)
    assert capfd.readouterr().err == ""


def test_a_computer_that_begins_no_process_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(_self: object) -> None:
        raise OSError(errno.EAGAIN, os.strerror(errno.EAGAIN))

    monkeypatch.setattr("multiprocessing.context.SpawnProcess.start", none)
    with pytest.raises(ValueError, match="no process could be begun"):
        apart(divmod, 17, 5)
