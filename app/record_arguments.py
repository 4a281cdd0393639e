"""What may be asked of the records on the command line: the options of each such command."""

from __future__ import annotations

import argparse
from collections.abc import Callable

from app.archive_command import add_archive_options, add_history_options
from app.job_command import add_job_options
from app.report_command import add_report_options

Add = Callable[[str, str], argparse.ArgumentParser]


def add_record_commands(add: Add) -> None:
    """Add every command that is about what was recorded."""
    check = add("verify", "check a session's digest and completeness, and recompute all its verdicts")
    check.add_argument("session", nargs="+", help="a session's name, the beginning of it, or a folder")
    add_archive_options(add("archive", "the searchable archive of this bench's sessions and jobs"))
    add_history_options(add("history", "find sessions by unit, job, date, result or words"))
    add_report_options(add("report", "write the service report or the measurement sheet, as PDF or HTML"))
    add_job_options(add("job", "a repair visit: open, show and fill in its sheet"), type(check))
