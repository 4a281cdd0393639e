"""`archive …` and `history …` on the command line: filing, making anew, and finding."""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from app.filing_progress import FilingProgress
from app.records.archive import Archive, Filed
from app.records.archive_place import open_archive
from app.records.history import earlier_visits, find_visits, model_history
from app.records.history_facts import ModelHistory, Spread, Visit, Wanted
from app.records.job_history import JobVisit, find_jobs
from procedures.events import Outcome


def add_archive_options(made: argparse.ArgumentParser) -> None:
    """Add what may be asked of `archive`."""
    made.add_argument(
        "deed",
        choices=("where", "file", "rebuild"),
        help="where it is; file what is missing in it; make this bench's rows anew from the folders",
    )


def add_history_options(made: argparse.ArgumentParser) -> None:
    """Add what may be looked for."""
    made.add_argument("words", nargs="*", help="words that stand anywhere in a session or its job")
    made.add_argument("--serial", default="", help="the beginning of the unit's serial number")
    made.add_argument("--model", default="", help="the beginning of the model's name")
    made.add_argument("--reference", default="", help="the workshop's own word for the customer")
    made.add_argument("--job", default="", help="the job's number")
    made.add_argument("--result", default="", choices=["", *(one.value for one in Outcome)])
    made.add_argument("--since", type=_day, metavar="YYYY-MM-DD")
    made.add_argument("--until", type=_day_after, metavar="YYYY-MM-DD", help="this day included")
    made.add_argument("--most", type=int, default=50, help="how many, newest first")
    made.add_argument("--no-practice", action="store_true", help="leave the simulated bench out")
    made.add_argument("--unit", metavar="SERIAL", help="all visits of one unit")
    made.add_argument("--of-model", metavar="MODEL", help="what a model did so far, in figures")


def _day_after(text: str) -> datetime:
    """The end of a day: the next one's beginning by the calendar, for some days have 23 or 25 hours."""
    return _day(text, timedelta(days=1))


def _day(text: str, later: timedelta = timedelta()) -> datetime:
    try:
        begins = datetime.strptime(text, "%Y-%m-%d") + later
        return begins.astimezone().astimezone(UTC).replace(tzinfo=None)
    except (ValueError, OverflowError):
        raise argparse.ArgumentTypeError(f"{text!r} is no day; write it as 2026-01-31") from None


def carry_out_archive(chosen: argparse.Namespace, root: Path, address: str) -> int:
    """Do one deed with the archive; its exit code. Raises ArchiveAway, ArchiveAddressRefused."""
    archive = open_archive(address)
    try:
        if chosen.deed == "where":
            print(f"The archive is {archive.place}; this bench is {archive.bench} in it.")
            return 0
        do = archive.rebuild if chosen.deed == "rebuild" else archive.file_missing
        filed = do(root, FilingProgress())
    finally:
        archive.close()
    return _tell(filed)


def _tell(filed: Filed) -> int:
    for trouble in filed.troubles:
        print(trouble, file=sys.stderr)
    print(f"{filed.sessions} sessions and {filed.jobs} jobs were filed.")
    return 1 if filed.troubles else 0


def carry_out_history(chosen: argparse.Namespace, root: Path, address: str) -> int:
    """Find and show; 0 when something was found, else 1. Raises ArchiveAway, ArchiveAddressRefused."""
    archive = open_archive(address)
    try:
        archive.file_missing(root, FilingProgress())
        if chosen.of_model:
            return _show_model(archive, chosen.of_model, not chosen.no_practice)
        if chosen.unit:
            return _show(earlier_visits(archive, chosen.unit))
        wanted = Wanted(
            serial=chosen.serial,
            model=chosen.model,
            reference=chosen.reference,
            job=chosen.job,
            outcome=chosen.result,
            since=chosen.since,
            until=chosen.until,
            words=" ".join(chosen.words),
            practice=not chosen.no_practice,
            most=max(1, chosen.most),
        )
        return _show(find_visits(archive, wanted), find_jobs(archive, wanted))
    finally:
        archive.close()


def _show(visits: tuple[Visit, ...], jobs: tuple[JobVisit, ...] = ()) -> int:
    if not visits and not jobs:
        print("Nothing in the archive fits that.", file=sys.stderr)
        return 1
    for visit in visits:
        print(visit_line(visit))
    for job in jobs:
        print(job_line(job))
    return 0


def job_line(job: JobVisit) -> str:
    """One job in one line: when it was opened, name, unit, complaint, how it ended, where it is."""
    opened = job.opened_utc.replace(tzinfo=UTC).astimezone().strftime("%Y-%m-%d")
    complaint = " ".join(job.complaint.split())
    said = ". ".join(filter(None, (complaint.rstrip("."), job.outcome or "under way")))
    reference = f" for {job.reference}" if job.reference else ""
    return f"{opened}        job {job.name}{reference}: {job.unit or 'unit not named'}. {said} [{job.folder}]"


def visit_line(visit: Visit) -> str:
    """One visit in one line: when, which unit and job, what was done, how it ended, where it is."""
    began = visit.started_utc.replace(tzinfo=UTC).astimezone().strftime("%Y-%m-%d %H:%M")
    job = f", job {visit.job}" if visit.job else ""
    practice = " (practice)" if visit.practice else ""
    outcome = f"{visit.outcome}: {visit.summary}" if visit.outcome else visit.summary
    return f"{began}  {visit.unit}{job}: {visit.title}{practice}. {outcome} [{visit.folder}]"


def _show_model(archive: Archive, model: str, practice: bool) -> int:
    history = model_history(archive, model, practice=practice)
    if not history.sessions:
        print(f"The archive holds no session of the model {model!r}.", file=sys.stderr)
        return 1
    for line in model_lines(history):
        print(line)
    return 0


def model_lines(history: ModelHistory) -> list[str]:
    """What a model did so far, in words and figures."""
    without = f", {history.unnumbered} sessions without a serial number" if history.unnumbered else ""
    of = f"{history.sessions} sessions of {history.units} units{without}"
    lines = [f"{history.model}: {of} (least, quartiles, most)"]
    lines += [f"  {c}, as left: {_figures(s, 1e3, 'mV')}" for c, s in history.as_left.items()]
    lines += [f"  {c}, drift from 1 min to rest: {_figures(s, 100, '%')}" for c, s in history.drift.items()]
    lines += [f"  {c}, settled after: {_figures(s, 1 / 60, 'min')}" for c, s in history.settled_s.items()]
    lines += [f"  {kind}: in {many} sessions" for kind, many in history.faults]
    return lines


def _figures(of: Spread, factor: float, unit: str) -> str:
    told = (of.least, of.lower, of.median, of.upper, of.most)
    return f"{'  '.join(f'{value * factor:.2f}' for value in told)} {unit} (n = {of.count})"
