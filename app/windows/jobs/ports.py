"""What the job sheet needs of the rest of the program, and the facts they exchange.

Everything here may take seconds (a disk, a network folder, another window that writes), so the sheet asks
it beside the window. Refusals are `ValueError` or `OSError` with one sentence.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from app.windows.start_lists import SessionLine
from procedures.job import Customer, JobFact, State
from procedures.records.job_sheet import JobSheet


@dataclass(frozen=True, slots=True)
class JobLine:
    """A job as the list shows it. `key` is handed back; `outcome` is empty while it is under way."""

    key: str
    name: str
    unit: str
    opened: str
    complaint: str = ""
    reference: str = ""
    outcome: str = ""


@dataclass(frozen=True, slots=True)
class JobsFound:
    """The jobs, newest first, and a sentence for each that cannot be read."""

    lines: tuple[JobLine, ...] = ()
    troubles: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class JobPage:
    """A job as it stands now. `stamp` changes when anybody writes to it; `troubles` are sentences."""

    key: str
    name: str
    sheet: JobSheet = field(default_factory=JobSheet)
    customer: Customer = field(default_factory=Customer)
    troubles: tuple[str, ...] = ()
    stamp: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class SessionOfJob:
    """A session that belongs to a job; `line` is None where it is not on this computer."""

    session: str
    line: SessionLine | None = None


@dataclass(frozen=True, slots=True)
class StepTaken:
    """How long a step of a session took: a proposal for the labour."""

    title: str
    minutes: float


class JobShelf(Protocol):
    """The jobs of this computer."""

    def jobs(self) -> JobsFound:
        """All jobs."""
        ...

    def open_new(self, facts: Sequence[JobFact]) -> str:
        """Make a job of these facts; its key."""
        ...

    def page(self, key: str) -> JobPage:
        """Read a job."""
        ...

    def stamp(self, key: str) -> tuple[int, ...]:
        """What changes when anybody writes to the job; cheap."""
        ...

    def write(self, key: str, facts: Sequence[JobFact]) -> None:
        """Write facts down, all or none."""
        ...

    def change_customer(self, key: str, changes: Mapping[str, str]) -> None:
        """Write down some of who the customer is (`name`, `contact`, `words`), apart from all else."""
        ...

    def erase_customer(self, key: str) -> None:
        """Erase who the customer is."""
        ...

    def attach(self, key: str, picture: Path, words: str, state: State | None) -> None:
        """Keep a copy of a picture with the job."""
        ...

    def picture(self, key: str, file: str) -> Path:
        """Where a kept picture is."""
        ...

    def remove_dropped(self, key: str) -> None:
        """The sheet is closed: pictures that were taken back can be put back no more."""
        ...

    def file_session(self, key: str, session: str) -> None:
        """A session belongs to the job from now on."""
        ...

    def sessions(self, key: str) -> tuple[SessionOfJob, ...]:
        """The sessions that belong to the job, in the order in which they were filed."""
        ...

    def job_of(self, session: str) -> str:
        """The key of the job that a session belongs to; empty where there is none."""
        ...

    def step_times(self, session: str) -> tuple[StepTaken, ...]:
        """How long the steps of a session took."""
        ...

    def report(self, key: str, path: Path) -> str:
        """Write the report of a job or a session; what was written, in words."""
        ...

    def changed(self) -> None:
        """What was written is filed in the archive, in the background."""
        ...


class JobsKept(Protocol):
    """Whoever has the jobs of this computer."""

    @property
    def jobs(self) -> JobShelf | None:
        """The job sheets; None where there can be none."""
        ...
