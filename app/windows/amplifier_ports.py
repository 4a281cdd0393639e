"""What the window needs of the files that amplifiers are described in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from app.data_files import CheckedFile
from procedures.amplifier import Amplifier


@dataclass(frozen=True, slots=True)
class AmplifierSource:
    """The entries of an amplifier's file, and where they come from.

    `path` is the file, where there is one; `shipped` is true of one that came with the program, which is
    never written to. `name` is maker and model as they stand in the file, empty where it cannot be used.
    """

    entries: Mapping[str, Any]
    path: Path | None = None
    shipped: bool = False
    name: str = ""


class AmplifierFiles(Protocol):
    """Data files, checked and kept. Refusals are ValueError or OSError with one sentence."""

    def check(self, path: Path) -> CheckedFile:
        """All that is wrong with a data file."""
        ...

    def broken(self) -> tuple[Path, ...]:
        """The workshop's own amplifiers and procedures that cannot be used."""
        ...

    def known(self, key: str) -> AmplifierSource:
        """The entries of a known amplifier; of an unknown one, those that a new one begins with."""
        ...

    def from_file(self, path: Path) -> AmplifierSource:
        """The entries of a file, whatever is wrong with them. Raises ValueError where it is no TOML."""
        ...

    def taken(self, amplifier: Amplifier, source: AmplifierSource) -> Path | None:
        """Another file in which an amplifier of this name stands, and which saving would replace."""
        ...

    def draft_of(self, source: AmplifierSource) -> Mapping[str, Any] | None:
        """What was kept as a draft of it; None where there is none."""
        ...

    def keep_draft(self, source: AmplifierSource, contents: Mapping[str, Any]) -> None:
        """Keep what cannot be used yet, in a file that is never loaded as an amplifier."""
        ...

    def drop_draft(self, source: AmplifierSource) -> None:
        """The draft is not wanted any more."""
        ...

    def keep(self, amplifier: Amplifier, source: AmplifierSource) -> AmplifierSource:
        """Write an amplifier among the workshop's own; where it stands now."""
        ...
