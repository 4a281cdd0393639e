"""What may be asked of the records on the command line: the options of each such command."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import Protocol


class Add(Protocol):
    """Adds a command; its options once it is the chosen one."""

    def __call__(
        self, name: str, words: str, options: Callable[[argparse.ArgumentParser], None] | None = None
    ) -> argparse.ArgumentParser:
        """The command's parser."""
        ...


def add_record_commands(add: Add) -> None:
    """Add every command that is about what was recorded."""
    check = add("verify", "check a session's digest and completeness, and recompute all its verdicts")
    check.add_argument("session", nargs="+", help="a session's name, the beginning of it, or a folder")
    add("archive", "the searchable archive of this bench's sessions and jobs", _archive)
    add("history", "find sessions by unit, job, date, result or words", _history)
    add("report", "write the service report or the measurement sheet, as PDF or HTML", _report)
    add("job", "a repair visit: open, show and fill in its sheet", _job)


def _archive(made: argparse.ArgumentParser) -> None:
    from app.archive_command import add_archive_options

    add_archive_options(made)


def _history(made: argparse.ArgumentParser) -> None:
    from app.archive_command import add_history_options

    add_history_options(made)


def _report(made: argparse.ArgumentParser) -> None:
    from app.report_command import add_report_options

    add_report_options(made)


def _job(made: argparse.ArgumentParser) -> None:
    from app.job_command import add_job_options

    add_job_options(made, type(made))
