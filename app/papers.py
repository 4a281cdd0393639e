"""What is written about amplifiers and jobs, for the window; see `app.windows.paper_ports.Papers`.

Refusals are `ValueError` or `OSError` with one sentence.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from app.amplifier_desk import AmplifierDesk
from app.amplifier_shelf import AmplifierShelf
from app.settings import Settings
from app.windows.paper_ports import Recollection, WarmUps


class LocalPapers(AmplifierDesk):
    """The papers of this computer: beside the folder of sessions."""

    def __init__(self, root: Path, settings: Callable[[], Settings] = Settings) -> None:
        super().__init__(AmplifierShelf(root.parent / "amplifiers"))
        self._root = root
        self._settings = settings

    def recollection(self, model: str, serial: str) -> Recollection | None:
        """See `app.windows.paper_ports.Papers`."""
        if not serial.strip():
            return None
        return lambda: self._warm_ups(serial, model, practice=False)

    def practised(self, unit: str) -> Recollection | None:
        """See `app.windows.paper_ports.Papers`; which unit the lot has drawn must not be told by its past."""
        from drivers.simulated.units import SURPRISE, load_unit

        if unit == SURPRISE:
            return None
        known = load_unit(unit)
        return lambda: self._warm_ups(known.serial, known.model, practice=True)

    def _warm_ups(self, serial: str, model: str, *, practice: bool) -> WarmUps:
        """None while the archive is away: the forecast does without."""
        from app.records.archive_place import open_archive  # a quarter of a second that only this needs
        from app.records.history import last_warm_up

        try:
            archive = open_archive(self._settings().archive)
        except (OSError, ValueError):
            return ()
        try:
            return last_warm_up(archive, serial, model=model, practice=practice)
        except OSError:
            return ()
        finally:
            archive.close()

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
