"""A past session shown as a bench: everything can be looked at, nothing goes on any more."""

from __future__ import annotations

from pathlib import Path

from app.bench.audio.signals import past_signals
from app.bench.marks import Marks
from app.bench.restoring import Restored
from app.records.exporting import export_session
from app.records.session_folder import name_session
from app.windows.ports import BenchPicture, PracticeControls
from procedures.events import Supply
from procedures.job import Naming, UnitName


class ReviewBench:
    """See `app.windows.ports.BenchPort`; what a person does at a bench has no effect on the past."""

    def __init__(self, restored: Restored, unit_name: str) -> None:
        self._restored = restored
        self._unit_name = unit_name
        self._marks = Marks(restored.setup.procedure)
        for taken in restored.session.journal.taken_back:
            self._marks.withdraw(taken.noted_s)
        self._picture: BenchPicture | None = None

    @property
    def practice(self) -> PracticeControls | None:
        """The simulated unit is gone."""
        return None

    def picture(self) -> BenchPicture:
        """The session as it stood at its end."""
        if self._picture is None:
            restored = self._restored
            snapshot = restored.store.newest()
            self._picture = BenchPicture(
                serial=snapshot.serial,
                view=snapshot.view,
                setups=restored.setup.channels,
                traces=snapshot.traces,
                marks=self._marks.of(snapshot),
                meters=snapshot.meters,
                leads=snapshot.leads,
                unit_name=self._unit_name,
                practice=restored.setup.practice,
                review=True,
                folder=restored.session.folder,
                trouble=snapshot.trouble,
                signals=past_signals(restored.session.journal.facts, restored.setup.amplifier),
            )
        return self._picture

    def name(self, unit: str, job: str) -> None:
        """File the session under a unit and a job, afterwards. Raises OSError."""
        name_session(self._restored.session.folder, Naming(UnitName(model=unit), job=job))
        self._unit_name = unit or self._unit_name
        self._picture = None

    def export_csv(self, path: Path) -> str:
        """Write the readings; a sentence that says what was written. Raises OSError."""
        return export_session(self._restored.session.folder, path)

    def leave_open(self) -> None:
        """A past session is open already."""
        self.leave()

    def leave(self) -> None:
        """Nothing is open."""

    def press_next(self) -> None:
        """No effect."""

    def answer(self, question: str, choice: str, text: str = "") -> None:
        """No effect."""

    def read_off(self, channel: str, text: str) -> None:
        """No effect."""

    def unchanged(self, channel: str) -> None:
        """No effect."""

    def move_lead(self, meter: str, meter_input: str, channel: str | None) -> None:
        """No effect."""

    def supply(self, supply: Supply) -> None:
        """No effect."""

    def lid(self, fitted: bool) -> None:
        """No effect."""

    def driven(self, driven: bool) -> None:
        """No effect."""

    def note(self, text: str, channel: str | None = None) -> None:
        """No effect."""

    def undo_note(self) -> str:
        """Nothing is taken back from a record."""
        return ""

    def acknowledge(self, alarm: str) -> None:
        """No effect."""

    def pause(self, paused: bool) -> None:
        """No effect."""

    def away(self, away: bool) -> None:
        """No effect."""

    def stop(self, reason: str) -> None:
        """No effect."""
