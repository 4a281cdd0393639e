"""How a simulated unit warmed up in earlier practice, for the forecast of the next: never of a real unit."""

from __future__ import annotations

import contextlib

from procedures.analysis.remembered import RememberedWarmUp


def practised_before(archive_chosen: str, unit: str) -> tuple[RememberedWarmUp, ...]:
    """Its last undisturbed warm-up by channel; none while the archive is away, or where there was none.

    Args:
        archive_chosen: the archive that the settings choose.
        unit: the name of a simulated unit.

    Raises:
        UnitRefused: there is no such unit.
    """
    from app.records.archive_place import open_archive
    from app.records.history import last_warm_up
    from drivers.simulated.units import load_unit

    known = load_unit(unit)
    with (
        contextlib.suppress(OSError, ValueError),
        contextlib.closing(open_archive(archive_chosen)) as archive,
    ):
        return last_warm_up(archive, known.serial, model=known.model, practice=True)
    return ()
