"""`report` on the command line: the service report or the measurement sheet of a session or a job."""

from __future__ import annotations

import argparse
from datetime import date
from pathlib import Path

from app.settings import CalibrationDue, Letterhead, Settings
from app.settings_file import SettingsFile


def add_report_options(made: argparse.ArgumentParser) -> None:
    """Add what is to be written, and what stands at its head from now on."""
    made.add_argument("session", metavar="SESSION_OR_JOB", help="a session or a job")
    made.add_argument("--pdf", type=Path, help="the PDF file; named after the session where nothing is said")
    made.add_argument("--html", type=Path, help="the file for a browser")
    made.add_argument("--sheet", action="store_true", help="the bias result alone, on one page")
    made.add_argument("--bench", action="store_true", help="the bench's own version, with everything")
    made.add_argument("--paper", choices=("A4", "Letter"), help="the size of the paper, from now on")
    made.add_argument("--workshop", help="the workshop's name at the head, from now on")
    made.add_argument("--address", help="its address; a bar | begins a new line; from now on")
    made.add_argument("--picture", help="its picture, a PNG or JPEG file; from now on")
    made.add_argument(
        "--calibration",
        nargs=2,
        action="append",
        default=[],
        metavar=("IDENTITY", "DATE"),
        help="when an instrument is due again (its identity, or the beginning of it); from now on",
    )
    made.add_argument("--certificate", default="", help="the number of its certificate; with --calibration")


def carry_out_report(
    chosen: argparse.Namespace, settings: Settings, settings_file: Path, sessions_root: Path
) -> int:
    """Write it and say what was written. Raises OSError, ValueError."""
    from app.reports.gathering import Wanted, find_visit, write_report

    told = {
        "name": chosen.workshop,
        "address": chosen.address.replace("|", "\n") if chosen.address is not None else None,
        "picture": chosen.picture,
        "paper": chosen.paper,
    }
    new = {key: value for key, value in told.items() if value is not None}
    if new:
        letterhead = Letterhead.model_validate({**settings.letterhead.model_dump(), **new})
        changed = settings.model_copy(update={"letterhead": letterhead})
    else:
        changed = settings
    for identity, day in chosen.calibration:
        due = CalibrationDue(identity=identity, due=_date(day), certificate=chosen.certificate)
        changed = changed.calibrated(due)
    if changed != settings:
        SettingsFile(settings_file, settings).keep(changed)
        settings = changed
    visit = find_visit(sessions_root, chosen.session)
    pdf: Path | None = chosen.pdf
    if pdf is None and chosen.html is None:
        kind = "sheet" if chosen.sheet else "bench-report" if chosen.bench else "report"
        pdf = Path(f"{visit.folder_name or Path(chosen.session).name}-{kind}.pdf")
    wanted = Wanted(sheet=chosen.sheet, bench=chosen.bench)
    for sentence in write_report(visit, settings, wanted, pdf=pdf, html=chosen.html):
        print(sentence)
    return 0


def _date(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text!r} is no date: write year, month and day as 2027-03-31") from None
