"""A session that is begun for a job: it names the job, and the job lists it, from the first second on.

Measuring never waits for a form: what is in the way of filing is noted at the bench, which goes on.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from app.bench.live_bench import LiveBench
from app.records.job_folder import Job, add_facts, file_session, find_job, jobs_root, open_job
from procedures.job import Filled, SheetField, UnitName

_NAMES = (SheetField.MAKER, SheetField.MODEL, SheetField.SERIAL)


def job_meant(sessions_root: Path, key: str) -> Job | None:
    """The job that a session is to be begun for; None where none is meant. Raises JobUnreadable."""
    return open_job(find_job(jobs_root(sessions_root), key)) if key else None


def file_begun(job: Job | None, bench: LiveBench, unit: UnitName | None = None) -> None:
    """File a session under its job and name it after both.

    Args:
        job: The job; None: nothing is done.
        bench: The bench with the session, just opened.
        unit: What is on the bench. What of it nobody has written on the sheet yet is written there. None:
            the bench has a name of its own, or the unit is the one of the sheet.
    """
    if job is None:
        return
    sheet = job.sheet
    try:
        if unit is not None:
            known = zip(_NAMES, (unit.maker, unit.model, unit.serial), strict=True)
            missing = [(line, said) for line, said in known if said and not sheet.text(line)]
            add_facts(job.folder, [Filled(datetime.now(UTC), *one) for one in missing])
        file_session(job.folder, bench.record.folder.parent, bench.record.folder.name)
        bench.name(unit or bench.picture().unit_name or sheet.unit, job.name)
    except (OSError, ValueError) as refused:
        bench.note(f"Not filed under job {job.name}: {refused}")
