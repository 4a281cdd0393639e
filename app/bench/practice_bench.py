"""The simulated bench with its record: what the hands did, the unit's truth, and how the practice went."""

from __future__ import annotations

import contextlib

from app.bench.live_bench import BenchParts, LiveBench
from app.bench.practice_unit import SimulatedHands
from app.records.session_folder import open_session
from procedures.assessment import Assessment, assess
from procedures.records.practised import Diagnosis, HandMoved, UnitTruth


class PracticeBench(LiveBench):
    """A live bench whose unit is simulated; see `app.windows.assessment_sheet.Practised`."""

    def __init__(self, parts: BenchParts, hands: SimulatedHands) -> None:
        super().__init__(parts)
        self._simulated = hands
        self._truth: UnitTruth | None = None
        hands.keep = self._keep
        self._keep("speed", "", hands.speed)
        self.on_leave(self._keep_truth)

    def _keep(self, deed: str, subject: str, amount: float) -> None:
        self.conductor.post(HandMoved(self.session_s(), deed, subject, amount))

    def assessment(self, named: tuple[str, ...] | None = None) -> Assessment | None:
        """How the practice went, once the run has ended; None before. Raises OSError, ValueError.

        `named` is what the person thinks was the matter; it is kept in the record.
        """
        if self.conductor.ended is None:
            return None
        if self._truth is None:
            self._truth = self._simulated.truth(self.session_s())
            self.conductor.post(self._truth)
        journal = open_session(self.record.folder).journal
        if named is not None:
            said = Diagnosis(self.session_s(), named)
            self.conductor.post(said)
            journal.practised.append(said)
        return assess(self.setup, journal, self._truth)

    def _keep_truth(self) -> None:
        """For whoever asks how it went afterwards; a full disk costs that, and nothing else."""
        if self._truth is None:
            self._truth = self._simulated.truth(self.session_s())
            with contextlib.suppress(OSError):
                self.record.append([self._truth])
