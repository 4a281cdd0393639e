"""A past session carried out again before one's eyes, at any speed.

The recorded inputs are fed to a new run in their order, so that the screen shows what it showed then: at
every moment only what had been measured by that moment. At its end, and before anything is played, the whole
session is shown.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

from app.bench.leads_in_time import LeadsInTime
from app.bench.marks import Marks
from app.bench.restoring import Restored, fill
from app.bench.snapshot import SnapshotStore
from app.bench.winding_bench import WindingBench
from app.windows.ports import BenchPicture
from drivers.clock import host_seconds
from procedures.assessment import Assessment, assess
from procedures.events import ChannelGap
from procedures.leads import Leads
from procedures.records.codec import Fact, is_input
from procedures.runner import Run

FEED_HOST_S = 0.025  # at most so long at a time, so that whoever draws is not held up


class ReplayBench(WindingBench):
    """See `app.windows.ports.Replayed`. Belongs to the thread that draws."""

    def __init__(
        self, restored: Restored, unit_name: str, seconds: Callable[[], float] = host_seconds
    ) -> None:
        super().__init__(restored, unit_name, 10.0, seconds)
        self._facts: list[Fact] = restored.session.journal.facts
        self._begin()
        self._fed = len(self._facts)

    @property
    def catching_up(self) -> bool:
        """Whether what is shown is still behind the position that was asked for."""
        if self._position_s >= self.length_s or self._fed >= len(self._facts):
            return False
        return self._moment(self._facts[self._fed]) <= self._position_s

    def seek(self, session_s: float) -> None:
        """Show another moment; for an earlier one the run begins anew."""
        before_s = self._position_s
        super().seek(session_s)
        if self._position_s < before_s:
            self._begin()

    def assessment(self, named: tuple[str, ...] | None = None) -> Assessment | None:
        """How practice went, as its record tells it. Raises ValueError where it was not practice.

        `named` is not kept: a record that is closed stays as it is.
        """
        return assess(self._whole.setup, self._whole.session.journal)

    def picture(self) -> BenchPicture:
        """The session as it stood at the position."""
        self._move()
        if self._position_s >= self.length_s:
            whole = super().picture()
            return dataclasses.replace(whole, serial=-1 - self._serial, speed=self._speed)
        self._feed()
        snapshot = self._store.newest()
        return BenchPicture(
            serial=self._serial,
            view=snapshot.view,
            setups=self._whole.setup.channels,
            traces=snapshot.traces,
            marks=self._past_marks.of(snapshot),
            meters=snapshot.meters,
            leads=snapshot.leads,
            unit_name=self._unit_name,
            practice=self._whole.setup.practice,
            review=True,
            speed=self._speed,
            folder=self._whole.session.folder,
        )

    def _begin(self) -> None:
        setup = self._whole.setup
        self._run = Run(setup)
        self._leads = LeadsInTime(Leads(setup.leads))
        self._store = SnapshotStore(self._run.view(), self._leads.now)
        self._past_marks = Marks(setup.procedure)
        self._fed = 0

    def _feed(self) -> None:
        """Feed what belongs before the position, as far as time allows."""
        began = host_seconds()
        fed: list[Fact] = []
        while self.catching_up and host_seconds() - began < FEED_HOST_S:
            fact = self._facts[self._fed]
            self._fed += 1
            fed.append(fact)
            if is_input(fact):
                self._run.feed(fact)  # type: ignore[arg-type]
        if fed:
            fill(self._store, fed, self._leads)
            self._store.publish(self._run.view(), self._leads.now, "")
            self._serial += 1

    @staticmethod
    def _moment(fact: Fact) -> float:
        return fact.until_s if isinstance(fact, ChannelGap) else fact.at_s
