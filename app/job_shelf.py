"""The jobs of this computer, as the window asks for them; see `app.windows.jobs.ports.JobShelf`.

What it adds to the job folders: keys instead of paths, and words for a list.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from app.apart import apart
from app.known_lists import session_line
from app.records.erasing import erase_customer
from app.records.job_folder import (
    IDENTITY,
    JOB_JOURNAL,
    Job,
    JobUnreadable,
    add_facts,
    change_customer,
    customer_of,
    file_session,
    job_of,
    jobs_root,
    list_jobs,
    open_job,
    open_new_job,
)
from app.records.job_pictures import add_photograph, photograph_file, remove_dropped
from app.records.session_folder import (
    SessionUnreadable,
    find_by_header,
    find_session,
    open_session,
    past_session,
)
from app.refusals import refusing, telling
from app.settings import Settings
from app.windows.jobs.ports import JobLine, JobPage, JobsFound, SessionOfJob, StepTaken
from procedures.job import Customer, JobFact, SheetField, State
from procedures.records.job_sheet import step_times
from procedures.replay import setup_of


class JobFolders:
    """Job folders beside a folder of sessions. `file_away` files what has changed in the archive."""

    def __init__(
        self,
        sessions_root: Path,
        settings: Callable[[], Settings] = Settings,
        file_away: Callable[[], object] | None = None,
    ) -> None:
        self._sessions_root = sessions_root
        self._root = jobs_root(sessions_root)
        self._settings = settings
        self._file_away = file_away

    def jobs(self) -> JobsFound:
        """All jobs, newest first."""
        jobs, troubles = list_jobs(self._root)
        return JobsFound(tuple(_line(job) for job in jobs), troubles)

    @telling
    def open_new(self, facts: Sequence[JobFact]) -> str:
        """Make a job folder; its key is the folder's name."""
        return open_new_job(self._root, facts).folder.name

    @telling
    def page(self, key: str) -> JobPage:
        """Read a job; who the customer is comes along, or why it cannot be read."""
        stamp = self.stamp(key)  # before reading: what is written meanwhile is read again
        job = open_job(self._root / key)
        troubles = list(job.journal.problems)
        customer = Customer()
        try:
            customer = customer_of(job.folder) or customer
        except JobUnreadable as refused:
            troubles.append(str(refused))
        return JobPage(key, job.name, job.sheet, customer, tuple(troubles), stamp)

    def stamp(self, key: str) -> tuple[int, ...]:
        """Size of the journal, and when the customer was written down; 0 for what is not there."""
        return (
            _stat(self._root / key / JOB_JOURNAL)[0],
            *_stat(self._root / key / IDENTITY),
        )

    @telling
    def write(self, key: str, facts: Sequence[JobFact]) -> None:
        """Write facts down, forced to the disk."""
        add_facts(self._root / key, facts)

    @telling
    def change_customer(self, key: str, changes: Mapping[str, str]) -> None:
        """Write down some of who the customer is."""
        change_customer(self._root / key, changes)

    @telling
    def erase_customer(self, key: str) -> None:
        """Erase who the customer is."""
        erase_customer(self._root / key)

    @telling
    def attach(self, key: str, picture: Path, words: str, state: State | None) -> None:
        """Keep a copy of a picture with the job."""
        add_photograph(self._root / key, picture, words, state)

    def picture(self, key: str, file: str) -> Path:
        """Where a kept picture is; never outside the job's own folder."""
        return photograph_file(self._root / key, file)

    @telling
    def remove_dropped(self, key: str) -> None:
        """Remove the files of photographs that were taken back."""
        remove_dropped(self._root / key)

    @telling
    def file_session(self, key: str, session: str) -> None:
        """File a session under the job."""
        file_session(self._root / key, self._sessions_root, session)

    @telling
    def sessions(self, key: str) -> tuple[SessionOfJob, ...]:
        """The sessions of the job as their headers tell them."""
        return tuple(self._session(one) for one in open_job(self._root / key).sheet.sessions)

    def _session(self, session: str) -> SessionOfJob:
        try:
            folder = find_by_header(self._sessions_root, session)
        except SessionUnreadable:
            return SessionOfJob(session)
        return SessionOfJob(session, session_line(past_session(folder)))

    @refusing
    def job_of(self, session: str) -> str:
        """The key of the job that a session belongs to; empty where there is none."""
        header = past_session(find_session(self._sessions_root, session)).header
        if header is None:
            return ""
        job = job_of(self._root, header.session)
        return "" if job is None else job.folder.name

    @refusing
    def step_times(self, session: str) -> tuple[StepTaken, ...]:
        """How long the steps of a session took, by their titles."""
        journal = open_session(find_by_header(self._sessions_root, session)).journal
        titles = {step.id: step.title for step in setup_of(journal.header).procedure.step}
        times = step_times(journal.facts)
        return tuple(StepTaken(titles.get(one.step, one.step), one.seconds / 60.0) for one in times)

    def report(self, key: str, path: Path) -> str:
        """Write the report of a job, or of one session, in a process of its own."""
        where = self._root / key
        meant = str(where) if (where / JOB_JOURNAL).is_file() else key
        return apart(_report, self._sessions_root, meant, path, self._settings())

    def changed(self) -> None:
        """File what has changed in the archive."""
        if self._file_away is not None:
            self._file_away()


def _report(root: Path, key: str, path: Path, settings: Settings) -> str:
    from app.reports.gathering import Wanted, save_report

    return save_report(root, key, path, settings, Wanted())


def _stat(path: Path) -> tuple[int, int]:
    try:
        found = path.stat()
    except OSError:
        return 0, 0
    return found.st_size, found.st_mtime_ns


def _line(job: Job) -> JobLine:
    sheet = job.sheet
    return JobLine(
        key=job.folder.name,
        name=job.name,
        unit=str(sheet.unit),
        opened=job.journal.header.opened_utc.astimezone().strftime("%Y-%m-%d"),
        complaint=" ".join(sheet.text(SheetField.COMPLAINT).split()),
        reference=sheet.text(SheetField.CUSTOMER_REFERENCE),
        outcome=sheet.outcome.outcome.value if sheet.outcome is not None else "",
    )
