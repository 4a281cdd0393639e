"""Erasing who the customer is: their file, and the photographs that are marked as showing them.

Everything else of a job stays. What was exported or copied before is beyond this program.
"""

from __future__ import annotations

import os
from collections.abc import Collection
from datetime import UTC, datetime
from pathlib import Path

from app.records.job_folder import (
    IDENTITY,
    JOB_JOURNAL,
    Job,
    add_facts,
    alone,
    append_facts,
    open_job,
)
from app.records.job_pictures import photograph_file
from app.records.whole_file import force_names
from procedures.job import EntryKind, IdentityErased, Photographed, TakenBack
from procedures.records.codec import LineRefused
from procedures.records.job_journal import forgetful_line


def erase_customer(folder: Path) -> bool:
    """Erase who the customer is; False where there was nothing to erase. Measurements stay as they are.

    Photographs that are marked as showing the customer go too. The files' bytes are written over first; what
    the disk or a backup still holds is beyond this program. Raises JobUnreadable, OSError.
    """
    open_job(folder)
    with alone(folder):  # else a window that is writing it down would put it back
        erased = wipe(folder / f".{IDENTITY}.new")
        erased |= wipe(folder / IDENTITY)
    erased |= erase_customers_photographs(folder) > 0
    if erased:
        add_facts(folder, [IdentityErased(datetime.now(UTC))])
    return erased


def wipe(path: Path) -> bool:
    """Write over a file's bytes, then remove it; False where there is none. Raises OSError."""
    try:
        with open(path, "r+b") as file:
            file.write(b" " * os.fstat(file.fileno()).st_size)
            file.flush()
            os.fsync(file.fileno())
        path.unlink()
    except FileNotFoundError:
        return False
    return True


def customers_files(job: Job) -> frozenset[str]:
    """The photographs that were last said to show who the customer is, by their files; taken back or not."""
    newest = {one.file: one for one in job.journal.facts if isinstance(one, Photographed)}
    return frozenset(name for name, one in newest.items() if one.of_customer)


def erase_customers_photographs(folder: Path) -> int:
    """Erase the photographs that show who the customer is, and what was written below them; how many.

    The journal keeps when they were taken and taken back. Raises JobUnreadable, OSError.
    """
    files = customers_files(open_job(folder))
    if not files:
        return 0
    with alone(folder):
        count = sum(wipe(photograph_file(folder, name)) for name in sorted(files))
        shown = {one.file for one in open_job(folder).sheet.photographs} & files
        now = datetime.now(UTC)
        append_facts(folder, [TakenBack(now, EntryKind.PHOTOGRAPH, name) for name in sorted(shown)])
        path = folder / JOB_JOURNAL
        fresh = path.with_name(f".{path.name}.new")
        with open(fresh, "wb") as file:
            file.write(without_captions(path.read_bytes(), files))
            file.flush()
            os.fsync(file.fileno())
        os.replace(fresh, path)
        force_names(folder)
    return count


def without_captions(journal: bytes, files: Collection[str]) -> bytes:
    """A job's journal without what was written below these photographs; every other byte stays."""
    lines = journal.split(b"\n")
    for number, line in enumerate(lines):
        try:
            told = forgetful_line(line.decode("utf-8"), files)
        except (LineRefused, UnicodeDecodeError):
            continue  # no entry that could be read: it stays as it is
        if told is not None:
            lines[number] = told.encode("utf-8")
    return b"\n".join(lines)
