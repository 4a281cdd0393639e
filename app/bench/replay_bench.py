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
from app.bench.review_bench import ReviewBench
from app.bench.snapshot import SnapshotStore
from app.windows.ports import BenchPicture
from drivers.clock import host_seconds
from procedures.assessment import Assessment, assess
from procedures.events import ChannelGap
from procedures.leads import Leads
from procedures.records.codec import Fact, is_input
from procedures.runner import Run

FEED_HOST_S = 0.025  # at most so long at a time, so that whoever draws is not held up


class ReplayBench(ReviewBench):
    """See `app.windows.ports.Replayed`. Belongs to the thread that draws."""

    def __init__(
        self, restored: Restored, unit_name: str, seconds: Callable[[], float] = host_seconds
    ) -> None:
        super().__init__(restored, unit_name)
        self._whole = restored
        self._facts: list[Fact] = restored.session.journal.facts
        self._seconds = seconds
        self._speed = 10.0
        self._playing = False
        self._position_s = restored.last_s
        self._looked_s = seconds()
        self._serial = 0
        self._begin()
        self._fed = len(self._facts)

    # --- controls -----------------------------------------------------------------------------------

    @property
    def length_s(self) -> float:
        """Session seconds from the first to the last fact."""
        return self._whole.last_s

    @property
    def position_s(self) -> float:
        """The session second that is shown."""
        return self._position_s

    @property
    def playing(self) -> bool:
        """Whether it goes on by itself."""
        return self._playing

    @property
    def speed(self) -> float:
        """Session seconds a second."""
        return self._speed

    @property
    def catching_up(self) -> bool:
        """Whether what is shown is still behind the position that was asked for."""
        if self._position_s >= self.length_s or self._fed >= len(self._facts):
            return False
        return self._moment(self._facts[self._fed]) <= self._position_s

    def play(self, playing: bool) -> None:
        """Go on, or hold. At the end it begins anew."""
        if playing and self._position_s >= self.length_s:
            self.seek(0.0)
        self._playing = playing
        self._looked_s = self._seconds()
        self._serial += 1

    def seek(self, session_s: float) -> None:
        """Show another moment."""
        wanted = min(max(0.0, session_s), self.length_s)
        if wanted < self._position_s:
            self._begin()
        self._position_s = wanted
        self._looked_s = self._seconds()
        self._serial += 1

    def set_speed(self, speed: float) -> None:
        """Session seconds a second, from here on."""
        self._move()
        self._speed = speed
        self._serial += 1

    def assessment(self, named: tuple[str, ...] | None = None) -> Assessment | None:
        """How practice went, as its record tells it. Raises ValueError where it was not practice.

        `named` is not kept: a record that is closed stays as it is.
        """
        return assess(self._whole.setup, self._whole.session.journal)

    # --- what is shown ------------------------------------------------------------------------------

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

    def _move(self) -> None:
        now = self._seconds()
        if self._playing:
            self._position_s = min(self.length_s, self._position_s + (now - self._looked_s) * self._speed)
            self._playing = self._position_s < self.length_s
            self._serial += 1
        self._looked_s = now

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
