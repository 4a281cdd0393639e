"""What is written about amplifiers and jobs, for the window; see `app.windows.paper_ports.Papers`.

Refusals are `ValueError` or `OSError` with one sentence. What needs a database is imported where it is used:
it takes a quarter of a second, which the start has not got.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC
from pathlib import Path
from typing import TYPE_CHECKING

from app.amplifier_desk import AmplifierDesk
from app.amplifier_shelf import AmplifierShelf
from app.known_lists import local
from app.procedure_shelf import ProcedureShelf
from app.records.history_facts import ModelHistory, Visit, Wanted
from app.refusals import refusing
from app.settings import Settings
from app.windows.paper_ports import Laid, Recollection, WarmUps
from app.windows.start_lists import SessionLine

if TYPE_CHECKING:
    from app.records.archive import Archive


class LocalPapers(AmplifierDesk):
    """The papers of this computer: beside the folder of sessions."""

    def __init__(self, root: Path, settings: Callable[[], Settings] = Settings) -> None:
        shelf, own = AmplifierShelf(root.parent / "amplifiers"), ProcedureShelf(root.parent / "procedures")
        super().__init__(shelf, own)
        self._root = root
        self._settings = settings

    @contextlib.contextmanager
    def _archive(self) -> Iterator[Archive]:
        from app.records.archive_place import open_archive

        archive = open_archive(self._settings().archive)
        try:
            yield archive
        finally:
            archive.close()

    # --- before a job -----------------------------------------------------------------------------------

    def recollection(self, model: str, serial: str) -> Recollection | None:
        """See `app.windows.paper_ports.Papers`."""
        if not serial.strip():
            return None
        return lambda: self._warm_ups(serial, model)

    def practised(self, unit: str) -> Recollection | None:
        """See `app.windows.paper_ports.Papers`; which unit the lot has drawn must not be told by its past."""
        from app.practice_memory import practised_before
        from drivers.simulated.units import SURPRISE, load_unit

        if unit == SURPRISE:
            return None
        load_unit(unit)  # refused here rather than in a thread
        return lambda: practised_before(self._settings().archive, unit)

    def _warm_ups(self, serial: str, model: str) -> WarmUps:
        """None while the archive is away: the forecast does without."""
        from app.records.history import last_warm_up

        with contextlib.suppress(OSError, ValueError), self._archive() as archive:
            return last_warm_up(archive, serial, model=model)
        return ()

    def left_before(self, model: str) -> tuple[float, ...]:
        """What channels of this model were left at before, in volts; none while the archive is away."""
        from app.records.history import left_before_volts

        with contextlib.suppress(OSError, ValueError), self._archive() as archive:
            return left_before_volts(archive, model)
        return ()

    # --- looking back -----------------------------------------------------------------------------------

    @refusing
    def find(self, wanted: Wanted, *, file_first: bool = False) -> tuple[SessionLine, ...]:
        """The sessions of every bench that fit, newest first."""
        from app.records.history import find_visits

        with self._archive() as archive:
            if file_first:
                archive.file_missing(self._root, outdated=False)
            found = find_visits(archive, wanted)
            return tuple(_line(visit, visit.bench == archive.bench) for visit in found)

    @refusing
    def filed(self, key: str) -> SessionLine | None:
        """A session of this bench as the archive knows it."""
        from app.records.history import visit_of

        with self._archive() as archive:
            archive.file_missing(self._root, outdated=False)
            visit = visit_of(archive, key)
            return _line(visit, True) if visit is not None else None

    @refusing
    def outdated(self) -> int:
        """How many sessions of this bench are still to be filed anew."""
        with self._archive() as archive:
            return archive.outdated(self._root)

    @refusing
    def model_history(self, model: str, *, practice: bool) -> ModelHistory:
        """What a model did so far."""
        from app.records.history import model_history

        with self._archive() as archive:
            return model_history(archive, model, practice=practice)

    @refusing
    def laid(self, keys: Sequence[str]) -> tuple[Laid, ...]:
        """The traces of sessions of this bench, counted from their first power-on."""
        from app.bench.earlier import laid_traces
        from app.records.session_folder import find_session

        return tuple(laid_traces(find_session(self._root, key)) for key in keys)

    @refusing
    def take_in(self, path: Path) -> str:
        """Import a bundle; what was taken, in words."""
        from app.records.bundle import import_bundle

        taken = import_bundle(path, self._root)
        if not taken.new:
            said = f"This session was here already: {taken.session.name}. Nothing was changed."
        else:
            job = f", with its job {taken.job.name}" if taken.job is not None else ""
            said = f"Imported: {taken.session.name}{job}."
        return f"{said} {taken.note}".rstrip()


_PARTICULARS = re.compile(r" \([^()]*\)")


def _line(visit: Visit, here: bool) -> SessionLine:
    said = _PARTICULARS.sub("", visit.summary)  # one line: the figures stand in the session
    if visit.outcome and visit.outcome not in said:
        said = f"{visit.outcome}: {said}" if said else visit.outcome
    return SessionLine(
        key=visit.folder,
        title=visit.unit or "not named",
        started=local(visit.started_utc.replace(tzinfo=UTC)),
        procedure=" · ".join(filter(None, (visit.title, f"job {visit.job}" if visit.job else ""))),
        lasted_s=visit.lasted_s,
        outcome=said,
        finished=bool(visit.outcome),
        practice=visit.practice,
        here=here,
        serial=visit.serial,
        model=visit.model,
    )
