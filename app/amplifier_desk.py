"""Amplifier files for the window: opened with all that is wrong with them, and kept among the workshop's own.

Refusals are `ValueError` or `OSError` with one sentence.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from app.amplifier_drafts import draft_file, drop_draft, keep_draft, read_draft
from app.amplifier_shelf import AmplifierShelf, amplifier_entries
from app.data_files import CheckedFile, check_file, read_text
from app.procedure_shelf import ProcedureShelf
from app.refusals import telling
from app.windows.amplifier_ports import AmplifierSource
from procedures.amplifier import Amplifier
from procedures.checking import FileProblems, checked_entries, entries_of


class AmplifierDesk:
    """The shelf of amplifiers, as `app.windows.amplifier_ports.AmplifierFiles` asks for it."""

    def __init__(self, shelf: AmplifierShelf, procedures: ProcedureShelf | None = None) -> None:
        self._shelf = shelf
        self._procedures = procedures

    def check(self, path: Path) -> CheckedFile:
        """All that is wrong with a data file."""
        return check_file(path)

    def broken(self) -> tuple[Path, ...]:
        """The workshop's own files that cannot be used."""
        own = self._procedures.paths() if self._procedures is not None else []
        return (*self._shelf.broken(), *(path for path in own if not check_file(path).fine))

    def known(self, key: str) -> AmplifierSource:
        """The entries of a known amplifier; of an unknown one, those that a new one begins with."""
        own = self._shelf.file_of(key)
        if own is not None:
            return self.from_file(own)
        shipped = self._shelf.all().get(key)
        if shipped is None:
            return AmplifierSource({"format": 1, "channel": [{"name": "left bias"}, {"name": "right bias"}]})
        return AmplifierSource(amplifier_entries(shipped), shipped=True, name=shipped.name)

    def from_file(self, path: Path) -> AmplifierSource:
        """The entries of a file, whatever is wrong with them."""
        try:
            entries = entries_of(read_text(path), path.name)
        except FileProblems as refusal:
            raise ValueError(str(refusal)) from None
        return AmplifierSource(entries, path, name=_name(entries))

    def taken(self, amplifier: Amplifier, source: AmplifierSource) -> Path | None:
        """Another file in which an amplifier of this name stands, and which saving would replace."""
        there = self._shelf.file_of(amplifier.name)
        return None if there is None or (source.path is not None and _same(there, source.path)) else there

    def draft_of(self, source: AmplifierSource) -> Mapping[str, Any] | None:
        """What was kept as a draft of it; None where there is none."""
        return read_draft(self._draft(source))

    @telling
    def keep_draft(self, source: AmplifierSource, contents: Mapping[str, Any]) -> None:
        """Keep what cannot be used yet, in a file that is never loaded as an amplifier."""
        keep_draft(self._draft(source), contents)

    def drop_draft(self, source: AmplifierSource) -> None:
        """The draft is not wanted any more."""
        drop_draft(self._draft(source))

    def _draft(self, source: AmplifierSource) -> Path:
        return draft_file(self._shelf.folder, source.path.name if source.path is not None else source.name)

    def keep(self, amplifier: Amplifier, source: AmplifierSource) -> AmplifierSource:
        """Write an amplifier among the workshop's own; where it stands now.

        A file of the workshop's that could not be used, or that is called the same, is replaced; an amplifier
        that was given another name is a new file.
        """
        over = source.path if source.path is not None and source.name in ("", amplifier.name) else None
        self._shelf.keep(amplifier, over)
        return AmplifierSource(
            amplifier_entries(amplifier), self._shelf.file_of(amplifier.name), name=amplifier.name
        )


def _same(one: Path, other: Path) -> bool:
    return one.resolve() == other.resolve()


def _name(entries: dict[str, Any]) -> str:
    """Maker and model of entries that can be used; empty of others."""
    try:
        return checked_entries(entries, "", Amplifier).name
    except FileProblems:
        return ""
