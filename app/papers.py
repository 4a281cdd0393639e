"""What is written about amplifiers and jobs, for the window; see `app.windows.paper_ports.Papers`.

Refusals are `ValueError` or `OSError` with one sentence.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from app.settings import Settings


class LocalPapers:
    """The papers of this computer: beside the folder of sessions."""

    def __init__(self, root: Path, settings: Callable[[], Settings] = Settings) -> None:
        self._root = root
        self._settings = settings

    def left_before(self, model: str) -> tuple[float, ...]:
        """What channels of this model were left at before, in volts; none while the archive is away."""
        from app.records.archive_place import open_archive  # a quarter of a second that only this needs
        from app.records.history import left_before_volts

        try:
            archive = open_archive(self._settings().archive)
        except (OSError, ValueError):
            return ()
        try:
            return left_before_volts(archive, model)
        except OSError:
            return ()
        finally:
            archive.close()
