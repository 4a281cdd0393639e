"""The archive: searchable history in SQL, filed from the folders and made anew from them at any time.

The folders are the record; the archive only finds things in them. So nothing here ever holds up a recording,
a server that is away is tried again later, and making a bench's rows anew is the migration too.
"""

from __future__ import annotations

import contextlib
import math
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sql
from sqlalchemy.engine import URL, Connection, Engine
from sqlalchemy.exc import DataError, DBAPIError, IntegrityError, NoSuchModuleError, SQLAlchemyError

from app.records import archive_tables as tables
from app.records.archive_rows import Row, job_rows, session_rows
from app.records.job_folder import JOB_JOURNAL, JobUnreadable, jobs_root, open_job
from app.records.session_folder import JOURNAL, SessionUnreadable, is_in_use, open_session
from procedures.records.codec import writable

Progress = Callable[[int, int], object]
"""Told how many are filed and how many there are to file."""

CONNECT_S = 5
TRIES = 4
_LARGEST = 2**31 - 1  # of an integer in every database


class ArchiveAway(OSError):
    """The archive cannot be reached or used now; the text says why, without any password."""


class RowsRefused(ValueError):
    """The database does not take what a session or job holds; the others are filed all the same."""


@dataclass(frozen=True, slots=True)
class Filed:
    """What filing came to: how many were filed, and a sentence for each that could not be."""

    sessions: int = 0
    jobs: int = 0
    troubles: tuple[str, ...] = ()


class Archive:
    """An archive at a URL, as one bench sees it. Any thread."""

    def __init__(self, url: URL, bench: str) -> None:
        self.bench = bench
        self.place = url.render_as_string(hide_password=True)
        sqlite = url.get_backend_name() == "sqlite"
        if sqlite and url.database:
            Path(url.database).parent.mkdir(parents=True, exist_ok=True)
        arguments: dict[str, Any] = {"timeout": 30} if sqlite else {"connect_timeout": CONNECT_S}
        try:
            self.engine: Engine = sql.create_engine(
                url, connect_args=arguments, pool_pre_ping=not sqlite, hide_parameters=True
            )
        except (ImportError, NoSuchModuleError, SQLAlchemyError) as error:
            raise ArchiveAway(_unusable(self.place, error)) from error
        if sqlite:
            sql.event.listen(self.engine, "connect", _write_ahead)
        self._made = False
        self._making = threading.Lock()

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()

    @contextlib.contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection to read by. Raises ArchiveAway."""
        with self._told(), self._ready().connect() as connection:
            yield connection

    def _ready(self) -> Engine:
        """The engine, its tables made where they are not there. Raises ArchiveAway."""
        with self._making:
            if not self._made:
                self._make()
                self._made = True
        return self.engine

    def _make(self) -> None:
        try:
            tables.metadata.create_all(self.engine)
        except DBAPIError:
            # Another bench has made them in the same moment; what is really wrong shows the second time.
            tables.metadata.create_all(self.engine)
        with self.engine.begin() as connection:
            found = connection.scalar(sql.select(sql.func.max(tables.version.c.version)))
            if found is not None and found > tables.TABLES_VERSION:
                raise ArchiveAway(
                    f"The archive {self.place} was made by a newer version of Warmtrim: use that one."
                )
        if found is None:
            with contextlib.suppress(IntegrityError), self.engine.begin() as connection:
                connection.execute(tables.version.insert().values(version=tables.TABLES_VERSION))

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except (SQLAlchemyError, ImportError) as error:
            raise ArchiveAway(_unusable(self.place, error)) from error

    # --- filing -------------------------------------------------------------------------------------

    def file_session(self, folder: Path) -> None:
        """File one session, in place of what was filed of it before.

        Raises:
            ArchiveAway, SessionUnreadable: with one sentence.
        """
        rows = session_rows(open_session(folder), self.bench)
        key = {"session": rows["session"][0]["session"]}
        self._replace(rows, key, (*tables.OF_A_SESSION, tables.sessions))

    def file_job(self, folder: Path) -> None:
        """File one job, in place of what was filed of it before. Raises ArchiveAway, JobUnreadable."""
        rows = job_rows(open_job(folder), self.bench)
        self._replace(rows, {"job": rows["job"][0]["job"]}, (*tables.OF_A_JOB, tables.jobs))

    def _replace(
        self, rows: Mapping[str, list[Row]], key: Mapping[str, str], of: Sequence[sql.Table]
    ) -> None:
        with self._told():
            engine = self._ready()
            for attempt in range(TRIES):
                try:
                    with engine.begin() as connection:
                        for table in of:
                            self._delete(connection, table, key)
                        for table in reversed(of):
                            if rows[table.name]:
                                fitting = [_fitting(table, row) for row in rows[table.name]]
                                connection.execute(table.insert(), fitting)
                    return
                except IntegrityError as error:
                    # Another window of this bench files the same in this moment.
                    if attempt == TRIES - 1:
                        raise RowsRefused(_refused(key, error)) from error
                except DataError as error:
                    raise RowsRefused(_refused(key, error)) from error

    def _delete(self, connection: Connection, table: sql.Table, key: Mapping[str, str]) -> None:
        wanted = [table.c.bench == self.bench, *(table.c[name] == value for name, value in key.items())]
        connection.execute(table.delete().where(*wanted))

    def file_missing(
        self, sessions_root: Path, progress: Progress | None = None, *, outdated: bool = True
    ) -> Filed:
        """File every session and job of this bench that is missing or has grown since.

        With `outdated` those too, the newest first, whose rows an older version of this program worked out.

        Raises:
            ArchiveAway: with one sentence.
        """
        with self.reading() as connection:
            known = _sizes(connection, tables.sessions, self.bench)
            known_jobs = _sizes(connection, tables.jobs, self.bench)
            old = _outdated(connection, self.bench) if outdated else set()
        missing = _grown(sessions_root, JOURNAL, known)
        again = [path for path in _held(sessions_root, JOURNAL) if path.name in old and path not in missing]
        told = _Counted(len(missing) + len(again), progress)
        filed, troubles = self._file_each([*missing, *reversed(again)], self._when_closed, told)
        grown = _grown(jobs_root(sessions_root), JOB_JOURNAL, known_jobs)
        jobs, more = self._file_each(grown, self.file_job, _Counted(len(grown), None))
        return Filed(filed, jobs, (*troubles, *more))

    def outdated(self, sessions_root: Path) -> int:
        """How many sessions of this bench an older version of this program worked out. Raises ArchiveAway."""
        with self.reading() as connection:
            old = _outdated(connection, self.bench)
        return sum(path.name in old for path in _held(sessions_root, JOURNAL)) if old else 0

    def _when_closed(self, folder: Path) -> None:
        if is_in_use(folder):
            return  # it is filed when it is closed
        self.file_session(folder)

    def _file_each(
        self, folders: Sequence[Path], file: Callable[[Path], None], told: _Counted
    ) -> tuple[int, list[str]]:
        filed, troubles = 0, []
        for folder in folders:
            try:
                file(folder)
                filed += 1
            except ArchiveAway:
                raise
            except (SessionUnreadable, JobUnreadable, OSError, ValueError) as refused:
                troubles.append(str(refused))
            told.one_more()
        return filed, troubles

    def rebuild(self, sessions_root: Path, progress: Progress | None = None) -> Filed:
        """Make this bench's rows anew from its folders; those of other benches stay. Raises ArchiveAway."""
        if not sessions_root.is_dir():  # a drive that is not there is no folder without sessions
            raise ArchiveAway(f"{sessions_root} is not there: nothing is made anew without its sessions.")
        with self._told(), self._ready().begin() as connection:
            for table in (*tables.OF_A_SESSION, *tables.OF_A_JOB, tables.sessions, tables.jobs):
                connection.execute(table.delete().where(table.c.bench == self.bench))
        return self.file_missing(sessions_root, progress)


class _Counted:
    """Counts what is done and tells it."""

    def __init__(self, of: int, progress: Progress | None) -> None:
        self._of, self._progress, self._done = of, progress, 0

    def one_more(self) -> None:
        self._done += 1
        if self._progress is not None:
            self._progress(self._done, self._of)


def _held(root: Path, journal: str) -> list[Path]:
    """The folders that hold a journal, oldest first."""
    return sorted(path.parent for path in root.glob(f"*/{journal}")) if root.is_dir() else []


def _grown(root: Path, journal: str, known: Mapping[str, int]) -> list[Path]:
    """The folders whose journal is not filed in its present size."""
    return [path for path in _held(root, journal) if known.get(path.name) != _size(path / journal)]


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return -1  # what is in the way is said when it is filed


def _outdated(connection: Connection, bench: str) -> set[str]:
    """The folders of a bench's sessions whose rows were worked out by another version than this one."""
    session, derived = tables.sessions.c, tables.derived
    both = (derived.c.bench == session.bench) & (derived.c.session == session.session)
    current = (derived.c.version >= tables.DERIVED_VERSION) & (derived.c.size == session.size)
    wanted = (
        sql.select(session.folder)
        .select_from(tables.sessions.outerjoin(derived, both & current))
        .where(session.bench == bench, derived.c.session.is_(None))
    )
    return {str(folder) for (folder,) in connection.execute(wanted)}


def _fitting(table: sql.Table, row: Row) -> Row:
    """A row as every database takes it: no longer than its columns, with no letter that some refuse."""
    return {column.name: _fitted(column, row[column.name]) for column in table.c}


def _fitted(column: sql.Column[Any], value: Any) -> Any:
    if isinstance(value, str):
        return writable(value.replace("\0", " "))[: getattr(column.type, "length", None)]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, int) and not isinstance(value, bool):
        return max(-_LARGEST, min(value, _LARGEST))
    return value


def _refused(key: Mapping[str, str], error: DBAPIError) -> str:
    what = " ".join(f"{kind} {name}" for kind, name in key.items())
    said = str(error.orig).strip().splitlines()
    return f"The {what} cannot be filed ({said[0] if said else type(error).__name__}); `verify` checks it."


def _sizes(connection: Connection, table: sql.Table, bench: str) -> dict[str, int]:
    wanted = sql.select(table.c.folder, table.c.size).where(table.c.bench == bench)
    return {str(folder): int(size) for folder, size in connection.execute(wanted)}


def _write_ahead(connection: Any, _: object) -> None:
    """Let one window read while another writes."""
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=NORMAL")


def _unusable(place: str, error: Exception) -> str:
    """Why the archive cannot be used, in one sentence without parameters and passwords."""
    if isinstance(error, ImportError):
        return (
            f"The archive {place} needs a package that is not installed ({error.name}): "
            "`pip install 'warmtrim[postgresql]'`."
        )
    cause = getattr(error, "orig", None) or error
    said = str(cause).strip().splitlines()
    return (
        f"The archive {place} cannot be used now ({said[0] if said else type(cause).__name__}). Sessions go "
        "on being recorded in their folders, and are filed when it can be."
    )


def file_now(make: Callable[[], Archive], folder: Path) -> str:
    """File one closed session; empty, or in one sentence why it has to wait.

    What waits is filed by the next window or `archive file`.
    """
    try:
        archive = make()
        try:
            archive.file_session(folder)
        finally:
            archive.close()
    except (OSError, ValueError) as refused:
        return str(refused)
    return ""
