"""The archive on a real PostgreSQL: several benches at once, and a server that goes and comes back."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sql
from postgresql_server import ABSENT, PASSWORD, PostgresqlServer, binaries
from small_session import keep_session

from app.records import archive_place
from app.records import archive_tables as tables
from app.records.archive import Archive
from app.records.archive_place import address_of
from app.records.history import Wanted, find_visits, model_history
from app.records.session_folder import JOURNAL

pytestmark = pytest.mark.skipif(sys.platform == "win32" or binaries() is None, reason=ABSENT)
ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture(scope="module")
def server() -> Iterator[PostgresqlServer]:
    running = PostgresqlServer()
    yield running
    running.remove()


@pytest.fixture
def archive(server: PostgresqlServer, monkeypatch: pytest.MonkeyPatch) -> Iterator[Archive]:
    monkeypatch.setenv(archive_place.PASSWORD, PASSWORD)
    opened = Archive(address_of(server.address), "this bench")
    with opened.reading():
        pass
    with opened.engine.begin() as connection:
        for table in reversed(tables.metadata.sorted_tables):
            connection.execute(table.delete())
    yield opened
    opened.close()


def _many(root: Path, count: int, first: int) -> None:
    """Sessions that differ in their identifiers alone: what is filed of each is read from its own folder."""
    whole = (keep_session(root, "0f3a") / JOURNAL).read_text(encoding="utf-8")
    for number in range(first, first + count):
        folder = root / f"{number:06d}"
        folder.mkdir()
        told = whole.replace('"session":"0f3a"', f'"session":"{number:06d}"', 1)
        (folder / JOURNAL).write_text(told, encoding="utf-8", newline="\n")


def _benches(server: PostgresqlServer, benches: list[tuple[str, Path]]) -> list[subprocess.Popen[bytes]]:
    environment = dict(os.environ, PYTHONPATH=os.pathsep.join((str(ROOT), str(ROOT / "tests"))))
    return [
        subprocess.Popen(
            [sys.executable, "-m", "filing_bench", server.address, bench, str(root)],
            env=environment,
            cwd=ROOT,
        )
        for bench, root in benches
    ]


def _counts(archive: Archive) -> dict[str, int]:
    with archive.reading() as connection:
        wanted = sql.select(tables.sessions.c.bench, sql.func.count()).group_by(tables.sessions.c.bench)
        return {str(bench): int(many) for bench, many in connection.execute(wanted)}


def test_filing_and_finding_are_the_same_as_on_sqlite(archive: Archive, session_root: Path) -> None:
    """Twice filed is filed once; words and figures are found."""
    keep_session(session_root, "aaaa")
    assert archive.file_missing(session_root).troubles == ()
    assert archive.rebuild(session_root).sessions == 1

    (visit,) = find_visits(archive, Wanted(model="kestrow", words="ω HUM"))
    assert (visit.session, visit.outcome) == ("aaaa", "passed")
    assert model_history(archive, "Kestrow K-40").as_left["left bias"].count == 1


def test_two_windows_of_one_bench_file_the_same_sessions(
    archive: Archive, server: PostgresqlServer, session_root: Path
) -> None:
    """At once; nothing is doubled and nothing is lost, though the server goes away in between."""
    _many(session_root, 30, 0)
    working = _benches(server, [("one", session_root), ("one", session_root)])
    _wait_for(archive, 3)
    archive.close()
    server.stop()
    server.start()

    assert [process.wait(120) for process in working] == [0, 0]
    assert _counts(archive) == {"one": 31}


def _wait_for(archive: Archive, sessions: int) -> None:
    until = time.monotonic() + 60.0
    while sum(_counts(archive).values()) < sessions and time.monotonic() < until:
        time.sleep(0.02)  # other processes are waited for


@pytest.mark.long
def test_four_processes_file_two_thousand_sessions(
    archive: Archive, server: PostgresqlServer, tmp_path: Path
) -> None:
    """None lost, none doubled, the server stopped and restarted in between."""
    benches = [(f"bench {number}", tmp_path / f"bench {number}") for number in range(4)]
    for number, (_, root) in enumerate(benches):
        _many(root, 499, 1000 * number)
    working = _benches(server, benches)
    for waited_for in (200, 800):
        _wait_for(archive, waited_for)
        archive.close()
        server.stop()
        server.start()

    assert [process.wait(400) for process in working] == [0, 0, 0, 0]
    assert _counts(archive) == {bench: 500 for bench, _ in benches}
