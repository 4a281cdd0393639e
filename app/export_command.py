"""`export` and `import` on the command line: a session for other programs, paper and benches."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from app.records.bundle import import_bundle, write_bundle
from app.records.export_csv import export
from app.records.export_tables import write_json, write_parquet, write_xlsx
from app.records.job_folder import Job, customer_of, job_of, jobs_root
from app.records.session_folder import Session, find_session, open_session
from app.settings import Settings
from procedures.records.codec import LineRefused

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
    made.add_argument("--bundle", type=Path, help="one zip for another bench: session, job, traces, report")
    made.add_argument("--with-customer", action="store_true", help="with who the customer is, in the bundle")


def carry_out_export(chosen: argparse.Namespace, root: Path, settings: Settings) -> int:
    """Write what is wanted; the readings as CSV where nothing is. Raises OSError, ValueError."""
    session = open_session(find_session(root, chosen.session))
    for problem in session.journal.problems:
        print(problem, file=sys.stderr)
    wanted = ("csv", "png", "svg", "bundle", *_WRITERS)
    table: Path | None = chosen.csv
    if not any(getattr(chosen, name) for name in wanted):
        table = Path(f"{session.folder.name}.csv")
    if table is not None:
        print(export(table, session.entries, chosen.decimal_comma, practice=session.journal.header.practice))
    for name, write in _WRITERS.items():
        path: Path | None = getattr(chosen, name)
        if path is not None:
            print(f"{write(path, session)} rows were written to {path}.")
    if chosen.png is not None or chosen.svg is not None:
        _draw(chosen, session)
    if chosen.bundle is not None:
        job = job_of(jobs_root(root), session.journal.header.session)
        more = _papers(session, job, settings, chosen.with_customer)
        count = write_bundle(chosen.bundle, session, job, customer=chosen.with_customer, more=more)
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


def _papers(session: Session, job: Job | None, settings: Settings, with_customer: bool) -> dict[str, bytes]:
    """Traces and service report for a bundle; what cannot be made is said and left out of it."""
    from app.reports.gathering import MISSING, Visit, Wanted, write_report
    from app.reports.session_picture import write_session_png, write_session_svg

    names = ("traces.png", "traces.svg", "report.pdf", "report.html")
    with TemporaryDirectory(prefix="warmtrim-", ignore_cleanup_errors=True) as place:
        png, svg, pdf, html = (Path(place, name) for name in names)
        try:
            write_session_png(png, session)
            write_session_svg(svg, session)
            customer = customer_of(job.folder) if job is not None and with_customer else None
            visit = Visit((session,), job, customer)
            for said in write_report(visit, settings, Wanted(), pdf=pdf, html=html):
                if said.startswith(MISSING):
                    print(said, file=sys.stderr)
        except (OSError, ValueError, LineRefused) as refused:
            print(f"The bundle goes without what could not be drawn: {refused}", file=sys.stderr)
        return {path.name: path.read_bytes() for path in (png, svg, pdf, html) if path.is_file()}


def carry_out_import(chosen: argparse.Namespace, root: Path) -> int:
    """Take bundles in. Raises BundleRefused, OSError."""
    for path in chosen.bundle:
        taken = import_bundle(path, root)
        print(f"{taken.session}{'' if taken.new else ' was here already'}")
        if taken.note:
            print(taken.note)
        if taken.job is not None:
            print(f"its job: {taken.job}")
    return 0
