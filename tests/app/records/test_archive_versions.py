"""What an older version of the program worked out: no memory until it is filed anew, and that by itself."""

from __future__ import annotations

import shutil
from datetime import timedelta
from pathlib import Path

import pytest
from small_session import BEGAN, keep_named

from app.filing_progress import FilingProgress
from app.records import archive_tables as tables
from app.records.archive import Archive
from app.records.archive_place import open_archive
from app.records.filing import file_in_background
from app.records.history import last_warm_up

SAMPLE = Path(__file__).resolve().parents[3] / "sample_sessions" / "healthy-trim"


def _as_filed_before(archive: Archive) -> None:
    """The rows as an older program left them: of no known version, a disturbed warm-up among them."""
    with archive.reading():
        pass
    with archive.engine.begin() as connection:
        connection.execute(tables.derived.delete())
        connection.execute(
            tables.traces.update().values(settled_s=1.0, warm_up="[[0.5, 0.001], [1.0, 0.002]]")
        )


def test_what_an_older_program_worked_out_is_filed_anew_by_itself(archive: Archive, tmp_path: Path) -> None:
    """And is no last warm-up until then."""
    root = tmp_path / "sessions"
    shutil.copytree(SAMPLE, root / SAMPLE.name)
    archive.file_missing(root)
    right = last_warm_up(archive, "K40-01127", practice=True)
    assert len(right) == 2
    assert archive.outdated(root) == 0

    _as_filed_before(archive)
    assert archive.outdated(root) == 1
    assert last_warm_up(archive, "K40-01127", practice=True) == ()
    assert archive.file_missing(root, outdated=False).sessions == 0

    told: list[tuple[int, int]] = []
    assert archive.file_missing(root, lambda *counts: told.append(counts)).sessions == 1
    assert told == [(1, 1)]
    assert last_warm_up(archive, "K40-01127", practice=True) == right
    assert archive.outdated(root) == 0


def test_a_session_that_an_older_program_files_again_is_outdated_again(
    session_root: Path, archive: Archive
) -> None:
    """It knows nothing of versions, but the size that it files is another."""
    keep_named(session_root, "aaaa", "1")
    archive.file_missing(session_root)
    with archive.engine.begin() as connection:
        connection.execute(tables.sessions.update().values(size=tables.sessions.c.size - 1))
    assert archive.outdated(session_root) == 1


def test_what_is_missing_is_filed_before_what_is_outdated_and_the_newest_of_that_first(
    session_root: Path, archive: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    folders = [
        keep_named(session_root, name, "1", began=BEGAN + timedelta(days=n)) for n, name in enumerate("abc")
    ]
    archive.file_missing(session_root)
    _as_filed_before(archive)
    missing = keep_named(session_root, "dddd", "1", began=BEGAN - timedelta(days=1))
    filed: list[Path] = []
    monkeypatch.setattr(archive, "file_session", filed.append)
    archive.file_missing(session_root)
    assert filed == [missing, *reversed(folders)]


def test_the_background_files_anew_too(session_root: Path, archive: Archive) -> None:
    keep_named(session_root, "aaaa", "1")
    archive.file_missing(session_root)
    _as_filed_before(archive)
    file_in_background(open_archive, session_root).join()
    assert archive.outdated(session_root) == 0


def test_progress_is_said_only_where_it_takes_more_than_a_moment() -> None:
    said: list[str] = []
    now = [0.0]
    progress = FilingProgress(said.append, lambda: now[0])
    for done in range(1, 6):
        now[0] += 0.2
        progress(done, 5)
    assert said == [f"{n} of 5 sessions are filed in the archive …" for n in (3, 5)]
    said.clear()
    FilingProgress(said.append, lambda: now[0])(1, 1)
    assert said == []
