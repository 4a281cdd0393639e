"""Past sessions as lines: what a person copies from them stays whole."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from rich.console import Console
from small_session import keep_session

from app.main import main
from app.records.session_folder import list_sessions
from app.session_lines import session_table

SAMPLES = Path(__file__).parents[2] / "sample_sessions"


def test_a_key_stays_on_one_line_in_a_narrow_terminal() -> None:
    out = io.StringIO()
    past = list_sessions(SAMPLES)

    Console(file=out, width=80).print(session_table(past))

    firsts = [line.split(" ")[0] for line in out.getvalue().splitlines()]
    assert past
    assert all(one.key in firsts for one in past)


def test_an_export_that_cannot_be_written_says_where_without_a_number(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    target = tmp_path / "absent" / "x.csv"

    code = main(["export", str(SAMPLES / "healthy-trim"), "--csv", str(target)])

    err = capsys.readouterr().err
    assert code == 1
    assert str(target.parent) in err
    assert "Errno" not in err


def test_a_name_with_brackets_is_listed_whole(session_root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """They are no marks for the terminal: a part of the name would be lost, or the list end in an error."""
    keep_session(session_root, "aaaa", unit="K-40 [old] [/b]")
    assert main(["--folder", str(session_root), "sessions"]) == 0
    assert "K-40 [old] [/b]" in " ".join(capsys.readouterr().out.split())
