"""Practice in the terminal leans on earlier practice with the same unit, apart from everything real."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from app.main import main
from app.records.archive_place import open_archive
from app.records.session_folder import list_sessions, open_session
from procedures.replay import setup_of

SAMPLE = Path(__file__).resolve().parents[2] / "sample_sessions" / "healthy-trim"


@pytest.fixture
def practised(session_root: Path) -> Path:
    """A folder whose one session is practice with the unit `healthy`, filed."""
    shutil.copytree(SAMPLE, session_root / "2026-01-05-0900-5a3e01")
    archive = open_archive()
    archive.file_missing(session_root)
    archive.close()
    return session_root


def _newest_days(root: Path) -> set[str]:
    newest, _ = list_sessions(root)
    return {one.recorded for one in setup_of(open_session(newest.folder).journal.header).remembered}


def _practise(root: Path, unit: str) -> None:
    main(["--folder", str(root), "practice", "--stepped", "--unit", unit, "--procedure", "relay-contact"])


def test_the_next_practice_leans_on_the_last(practised: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It is said, and stands in the header, as everything that decides."""
    _practise(practised, "healthy")
    assert "The forecast leans on practice with this unit of 2026-01-05." in capsys.readouterr().out
    assert _newest_days(practised) == {"2026-01-05"}


@pytest.mark.parametrize("unit", ["runaway", "surprise"])
def test_another_unit_or_one_drawn_by_lot_leans_on_nothing(
    unit: str, practised: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _practise(practised, unit)
    assert "leans on" not in capsys.readouterr().out
    assert _newest_days(practised) == set()
