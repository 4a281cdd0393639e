"""The last session of the same unit, as far as its traces can be laid beside those of now."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from pathlib import Path

from app.bench.long_review import recall
from app.bench.snapshot import Trace
from app.records.session_folder import list_sessions
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
        switched = (
            fact.at_s
            for fact in restored.session.journal.facts
            if isinstance(fact, SupplyChanged) and fact.supply is not Supply.OFF
        )
        on_s = next(switched, None)
        if on_s is not None:
            began = past.header.started_utc.astimezone().strftime("%Y-%m-%d")
            return Earlier(began, restored.store.newest().traces, on_s)
    return None
