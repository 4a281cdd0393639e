"""Photographs of a job: kept, and their files removed once they were taken back.

A photograph that was taken back can be put back until its file is removed; the journal keeps that it was
there and that it was taken back. Not here: those that are erased with the customer (`erasing`).
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from app.records.attachments import ATTACHMENTS, AttachmentRefused, attach
from app.records.job_folder import Job, alone, append_facts, open_job
from procedures.job import Photographed, State

# How PNG, JPEG, GIF, BMP, TIFF and WebP begin (PNG: W3C, 5.2; the others: recalled - check before quoting).
_BEGINS = (b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff", b"GIF8", b"BM", b"II*\0", b"MM\0*", b"RIFF")


def require_picture_file(path: Path) -> None:
    """Refuse what does not begin as a picture does. Raises AttachmentRefused; unreadable files come later."""
    try:
        with open(path, "rb") as file:
            begins = file.read(16)
    except (OSError, ValueError):
        return  # attaching says why
    if not begins.startswith(_BEGINS):
        raise AttachmentRefused(
            f"{path.name}: this is no picture that can be shown; attach a PNG or JPEG file"
        )


def add_photograph(
    folder: Path, source: Path, words: str = "", state: State | None = None, of_customer: bool = False
) -> Job:
    """Keep a picture with a job. Raises AttachmentRefused, JobUnreadable, OSError."""
    open_job(folder)
    with alone(folder):  # so that nobody removes the file before it is named
        kept = attach(folder, source)
        append_facts(folder, [Photographed(datetime.now(UTC), kept.name, words, state, of_customer)])
    return open_job(folder)


def photograph_file(folder: Path, file: str) -> Path:
    """Where a photograph is kept; never outside the job's own folder."""
    return folder / ATTACHMENTS / Path(file).name


def remove_dropped(folder: Path) -> int:
    """Remove the files of photographs that were taken back and that nothing names any more; how many.

    Nothing is removed from a job with damaged lines: one of them may name the file.
    Raises JobUnreadable, OSError.
    """
    open_job(folder)
    with alone(folder):
        job = open_job(folder)
        if job.journal.problems:
            return 0
        named = {one.file for one in job.sheet.photographs}
        once = {one.file for one in job.journal.facts if isinstance(one, Photographed)}
        there = [path for name in sorted(once - named) if (path := photograph_file(folder, name)).is_file()]
        for path in there:
            path.unlink()
    return len(there)
