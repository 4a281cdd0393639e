"""The workshop's own procedures and routes: one TOML file each, in a folder of their own.

Only what they are called is read here, without loading what carries them out; a file is loaded and checked
completely when it is begun.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

from procedures.library import Heading


class ProcedureShelf:
    """A folder of procedure files beside what ships."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def paths(self) -> list[Path]:
        """The files, in the order of their names."""
        return sorted(self._folder.glob("*.toml")) if self._folder.is_dir() else []

    def headings(self) -> tuple[tuple[Path, Heading], ...]:
        """What each file calls itself; one that says nothing that could be read is called after its file."""
        return tuple((path, _heading(path)) for path in self.paths())


def _heading(path: Path) -> Heading:
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        table = {}
    said = {key: table.get(key) for key in ("id", "title", "purpose")}
    words = {key: value if isinstance(value, str) else "" for key, value in said.items()}
    return Heading(words["id"] or path.stem, words["title"] or path.stem, words["purpose"])
