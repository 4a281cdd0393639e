"""A session's folder written as a CSV table without holding anybody up."""

from __future__ import annotations

from pathlib import Path

from app.apart import apart
from app.records.export_csv import export
from app.records.session_folder import is_long, open_session


def export_session(folder: Path, path: Path) -> str:
    """Write its readings; a sentence that says what was written. For a thread beside the window.

    A long session is written in a process of its own. Raises OSError, ValueError with one sentence.
    """
    return apart(_exported, folder, path) if is_long(folder) else _exported(folder, path)


def _exported(folder: Path, path: Path) -> str:
    return export(path, open_session(folder).entries)
