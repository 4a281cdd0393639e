"""`export` and `import` on the command line: a session for other programs, paper and benches."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from app.records.bundle import import_bundle, write_bundle
from app.records.export_csv import export
from app.records.export_tables import write_json, write_parquet, write_xlsx
from app.records.job_folder import Job, jobs_root, list_jobs
from app.records.session_folder import Session, find_session, open_session

_WRITERS = {"json": write_json, "xlsx": write_xlsx, "parquet": write_parquet}


def add_export_options(made: argparse.ArgumentParser) -> None:
    """Add which files are wanted."""
    made.add_argument("session")
    made.add_argument("--csv", type=Path, help="the file for the readings")
    made.add_argument("--decimal-comma", action="store_true", help="decimal commas and semicolons in the CSV")
    made.add_argument("--png", type=Path, help="the file for the picture")
    made.add_argument("--svg", type=Path, help="the file for the picture, to be enlarged at will")
    made.add_argument("--json", type=Path, help="the file for all that was recorded")
    made.add_argument("--xlsx", type=Path, help="the file for a workbook (needs the extra `tables`)")
    made.add_argument("--parquet", type=Path, help="the file for a Parquet table (needs the extra `tables`)")
    made.add_argument("--bundle", type=Path, help="one zip for another bench: session, job and amplifier")
    made.add_argument("--with-customer", action="store_true", help="with who the customer is, in the bundle")


def carry_out_export(chosen: argparse.Namespace, root: Path) -> int:
    """Write what is wanted; the readings as CSV where nothing is. Raises OSError, ValueError."""
    session = open_session(find_session(root, chosen.session))
    for problem in session.journal.problems:
        print(problem, file=sys.stderr)
    wanted = ("csv", "png", "svg", "bundle", *_WRITERS)
    table: Path | None = chosen.csv
    if not any(getattr(chosen, name) for name in wanted):
        table = Path(f"{session.folder.name}.csv")
    if table is not None:
        print(export(table, session.entries, chosen.decimal_comma))
    for name, write in _WRITERS.items():
        path: Path | None = getattr(chosen, name)
        if path is not None:
            print(f"{write(path, session)} rows were written to {path}.")
    if chosen.png is not None or chosen.svg is not None:
        _draw(chosen, session)
    if chosen.bundle is not None:
        job = job_of(root, session)
        count = write_bundle(chosen.bundle, session, job, customer=chosen.with_customer)
        print(f"{count} files were packed into {chosen.bundle}.")
    return 0


def _draw(chosen: argparse.Namespace, session: Session) -> None:
    from app.reports.session_picture import write_session_png, write_session_svg

    if chosen.png is not None:
        write_session_png(chosen.png, session)
        print(f"The traces were drawn in {chosen.png}.")
    if chosen.svg is not None:
        write_session_svg(chosen.svg, session)
        print(f"The traces were drawn in {chosen.svg}.")


def job_of(root: Path, session: Session) -> Job | None:
    """The newest job that a session is filed under, if any."""
    jobs, _ = list_jobs(jobs_root(root))
    return next((job for job in jobs if session.journal.header.session in job.sheet.sessions), None)


def carry_out_import(chosen: argparse.Namespace, root: Path) -> int:
    """Take bundles in. Raises BundleRefused, OSError."""
    for path in chosen.bundle:
        taken = import_bundle(path, root)
        print(f"{taken.session}{'' if taken.new else ' was here already'}")
        if taken.job is not None:
            print(f"its job: {taken.job}")
    return 0
