"""A session's folder written as a CSV table without holding anybody up."""

from __future__ import annotations

from pathlib import Path

from app.apart import apart
from app.records.export_csv import export
from app.records.session_folder import JOURNAL, open_session

APART_BYTES = 500_000  # a tenth of a second of work; more of it would be felt in the window


def export_session(folder: Path, path: Path) -> str:
    """Write its readings; a sentence that says what was written. For a thread beside the window.

    One that is not short is written in a process of its own. Raises OSError, ValueError with one sentence.
    """
    journal = folder / JOURNAL
    if journal.is_file() and journal.stat().st_size > APART_BYTES:
        return apart(_exported, folder, path)
    return _exported(folder, path)


def _exported(folder: Path, path: Path) -> str:
    session = open_session(folder)
    return export(path, session.entries, practice=session.journal.header.practice)
