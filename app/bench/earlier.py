"""The last session of the same unit, as far as its traces can be laid beside those of now."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from pathlib import Path

from app.bench.long_review import recall
from app.bench.restoring import Restored
from app.bench.snapshot import Trace
from app.records.session_folder import list_sessions
from app.windows.paper_ports import Laid
from procedures.events import Supply, SupplyChanged
from procedures.records.codec import LineRefused


@dataclass(frozen=True, slots=True)
class Earlier:
    """Traces of a past session; `power_on_s` is the session second of its first power-on."""

    began: str
    traces: tuple[Trace, ...]
    power_on_s: float

    def aligned(self, power_on_s: float) -> tuple[Trace, ...]:
        """The traces as if that power-on had been the one of now."""
        shift_s = power_on_s - self.power_on_s
        return tuple(dataclasses.replace(t, seconds=t.seconds + shift_s) for t in self.traces)


def earlier_session(folder: Path | None, unit_name: str) -> Earlier | None:
    """The newest other session of this amplifier and serial with a power-on in it; None where there is none.

    Reads whole journals: for a thread of its own.
    """
    if folder is None or not unit_name.strip():
        return None
    wanted = unit_name.strip().casefold()
    for past in list_sessions(folder.parent):
        if past.folder == folder or past.header is None or past.unit.strip().casefold() != wanted:
            continue
        try:
            restored = recall(past.folder)
        except (OSError, ValueError, LineRefused):
            continue  # what cannot be read is told where sessions are listed
        on_s = _power_on_s(restored)
        if on_s is not None:
            began = past.header.started_utc.astimezone().strftime("%Y-%m-%d")
            return Earlier(began, restored.store.newest().traces, on_s)
    return None


def _power_on_s(restored: Restored) -> float | None:
    """The session second of the first power-on; None where nobody said so."""
    facts = restored.session.journal.facts
    on = (f.at_s for f in facts if isinstance(f, SupplyChanged) and f.supply is not Supply.OFF)
    return next(on, None)


def laid_traces(folder: Path) -> Laid:
    """A session's traces, counted from its first power-on. Raises SessionUnreadable, LineRefused, OSError."""
    restored = recall(folder)
    header, naming = restored.session.journal.header, restored.session.journal.naming
    on_s = _power_on_s(restored)
    traces = restored.store.newest().traces
    return Laid(
        title=str(naming.unit) if naming is not None and str(naming.unit) else header.unit,
        began=header.started_utc.astimezone().strftime("%Y-%m-%d"),
        traces=tuple(dataclasses.replace(t, seconds=t.seconds - (on_s or 0.0)) for t in traces),
        from_power_on=on_s is not None,
        practice=header.practice,
    )
