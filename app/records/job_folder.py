"""Job folders: one for each repair visit, with its own append-only journal and its attachments.

The customer's identity stands in one file of its own, so that it can be erased without touching anything
else: nothing but that file holds it. Sessions are filed under a job by their identifiers, at any time.
"""

from __future__ import annotations

import contextlib
import json
import os
import secrets
import shutil
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from filelock import FileLock, Timeout

from app import __version__
from app.records.journal_file import JournalFile
from app.records.places import require_writable
from app.records.session_folder import SessionUnreadable, find_session, name_session, open_session
from app.records.whole_file import force_names
from procedures.job import (
    Customer,
    JobFact,
    Naming,
    SessionFiled,
    UnitName,
)
from procedures.records.codec import LineRefused
from procedures.records.job_journal import JobHeader, JobJournal, fact_line, read_job
from procedures.records.job_sheet import JobSheet, fold_job

JOB_JOURNAL = "job.jsonl"
IDENTITY = "customer.json"
_LOCK = ".in-use"
_PATIENCE_S = 5.0


class JobUnreadable(ValueError):
    """A job cannot be opened or written; the text says which and why."""


@dataclass(frozen=True, slots=True)
class Job:
    """A job as it stands now."""

    folder: Path
    journal: JobJournal
    sheet: JobSheet

    @property
    def id(self) -> str:
        """Its random identifier."""
        return self.journal.header.job

    @property
    def name(self) -> str:
        """What it is called in a list: its number, else its identifier."""
        return self.sheet.number or self.id


def jobs_root(sessions_root: Path) -> Path:
    """Where the jobs are that belong to a folder of sessions."""
    return sessions_root.parent / "jobs"


def new_part_id() -> str:
    """A random identifier for a part that was fitted."""
    return secrets.token_hex(4)


def open_new_job(root: Path, facts: Sequence[JobFact] = (), opened: datetime | None = None) -> Job:
    """Make a job folder, with what is known of the job already.

    Raises:
        FolderUnusable: with one sentence.
        OSError: where it cannot be written after all.
    """
    require_writable(root)
    when = opened or datetime.now(UTC)
    header = JobHeader(secrets.token_hex(6), when, program=f"Warmtrim {__version__}")
    folder = root / f"{when.astimezone():%Y-%m-%d}-{header.job}"
    folder.mkdir()
    try:
        journal = JournalFile.create(folder / JOB_JOURNAL, header.line())
        try:
            journal.append(fact_line(fact) for fact in facts)
            journal.force()
        finally:
            journal.abandon()
    except OSError:
        shutil.rmtree(folder, ignore_errors=True)  # a job of which nothing was kept is none
        raise
    return open_job(folder)


def open_job(folder: Path) -> Job:
    """Read a job whole; damaged lines are set aside and named in `journal.problems`.

    Raises:
        JobUnreadable: with one sentence.
    """
    path = folder / JOB_JOURNAL
    try:
        with open(path, encoding="utf-8", errors="replace", newline="\n") as file:
            journal = read_job(file)
    except OSError as error:
        raise JobUnreadable(f"{path}: {error.strerror or error}; check the folder and its disk") from error
    except LineRefused as refused:
        words = f"{path}: this is not the journal of a job ({refused}); take it from a backup copy"
        raise JobUnreadable(words) from refused
    return Job(folder, journal, fold_job(journal.facts))


def list_jobs(root: Path) -> tuple[tuple[Job, ...], tuple[str, ...]]:
    """The jobs in a folder, newest first, and a sentence for each that cannot be read."""
    jobs: list[Job] = []
    troubles: list[str] = []
    for path in sorted(root.glob(f"*/{JOB_JOURNAL}"), reverse=True) if root.is_dir() else ():
        try:
            jobs.append(open_job(path.parent))
        except JobUnreadable as refused:
            troubles.append(str(refused))
    return tuple(sorted(jobs, key=lambda job: job.journal.header.opened_utc, reverse=True)), tuple(troubles)


def find_job(root: Path, key: str) -> Path:
    """The folder of a job by a path, its name or identifier (or the beginning of one), or its number.

    Raises:
        JobUnreadable: none or several are meant.
    """
    for direct in (Path(key), root / key):
        if key and (direct / JOB_JOURNAL).is_file():
            return direct
    jobs, _ = list_jobs(root)
    meant = [job for job in jobs if key and job.sheet.number == key]
    if not meant:
        meant = [job for job in jobs if key and (job.folder.name.startswith(key) or job.id.startswith(key))]
    if len(meant) == 1:
        return meant[0].folder
    if meant:
        names = ", ".join(job.folder.name for job in meant[:5])
        raise JobUnreadable(f"{key!r} could be any of {len(meant)} jobs: {names}")
    raise JobUnreadable(f"there is no job {key!r} in {root}; `job list` lists those that there are")


def job_of(root: Path, session: str, named: str = "") -> Job | None:
    """The newest job that a session is filed under; else the one job that is called as the session says.

    Only the whole name counts: the beginning of another job's would put a stranger on the paper.
    """
    jobs, _ = list_jobs(root)
    filed = next((job for job in jobs if session in job.sheet.sessions), None)
    if filed is not None or not named:
        return filed
    called = [job for job in jobs if named in (job.sheet.number, job.id, job.folder.name)]
    return called[0] if len(called) == 1 else None


def add_facts(folder: Path, facts: Sequence[JobFact]) -> Job:
    """Write facts down, forced to the disk; the job as it then stands.

    Several windows may do so at once: each waits for the other.

    Raises:
        JobUnreadable: with one sentence.
        OSError: nothing of it was kept.
    """
    open_job(folder)  # what is no job is not written to
    with alone(folder):
        append_facts(folder, facts)
    return open_job(folder)


def append_facts(folder: Path, facts: Sequence[JobFact]) -> None:
    """Write facts down while one is `alone` with the job already. Raises OSError: nothing was kept."""
    journal = JournalFile.reopen(folder / JOB_JOURNAL)
    try:
        journal.append(fact_line(fact) for fact in facts)
        journal.force()
    finally:
        journal.abandon()


def file_session(folder: Path, sessions_root: Path, key: str) -> Job:
    """File a session under a job, and name the session after it.

    A session that is being recorded keeps its own names until it is closed.

    Raises:
        JobUnreadable, SessionUnreadable: with one sentence.
    """
    place = find_session(sessions_root, key)
    session = open_session(place)
    job = add_facts(folder, [SessionFiled(datetime.now(UTC), session.journal.header.session)])
    named = session.journal.naming or Naming()
    unit = job.sheet.unit if job.sheet.unit != UnitName() else named.unit
    when = datetime.now(UTC).isoformat(timespec="seconds")
    with contextlib.suppress(SessionUnreadable):  # it is being recorded
        name_session(place, replace(named, unit=unit, job=job.name, given_utc=when))
    return job


# --- who the customer is --------------------------------------------------------------------------------


def customer_of(folder: Path) -> Customer | None:
    """Who the customer is; None where that was never said, or was erased.

    Raises:
        JobUnreadable: with one sentence.
    """
    try:
        entry = json.loads((folder / IDENTITY).read_text(encoding="utf-8"))
        return Customer(**{name: str(entry.get(name, "")) for name in ("name", "contact", "words")})
    except FileNotFoundError:
        return None
    except (OSError, ValueError, AttributeError) as error:
        raise JobUnreadable(
            f"{folder / IDENTITY}: cannot be read ({error}); write the customer down again"
        ) from error


def change_customer(folder: Path, changes: Mapping[str, str]) -> Customer:
    """Write down some of who the customer is (`name`, `contact`, `words`) and leave the rest as it stands.

    The file can be read by this user alone. Two windows that write down different things keep both.
    Raises JobUnreadable, OSError.
    """
    open_job(folder)
    with alone(folder):
        try:
            known = customer_of(folder) or Customer()
        except JobUnreadable:
            known = Customer()  # it is being written down again
        customer = replace(known, **changes)
        _write_identity(folder, customer)
    return customer


@contextlib.contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Keep other windows from writing to the job meanwhile. Raises JobUnreadable, OSError."""
    try:
        with FileLock(folder / _LOCK, timeout=_PATIENCE_S):
            yield
    except Timeout:
        raise JobUnreadable(f"{folder}: another window is writing to this job; try again") from None


def _write_identity(folder: Path, customer: Customer) -> None:
    fresh = folder / f".{IDENTITY}.new"
    with open(fresh, "w", encoding="utf-8", opener=_for_this_user) as file:
        json.dump(asdict(customer), file, ensure_ascii=False)
        file.flush()
        os.fsync(file.fileno())
    os.replace(fresh, folder / IDENTITY)
    force_names(folder)


def _for_this_user(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)
