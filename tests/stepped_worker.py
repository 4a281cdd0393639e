"""A worker's core on an instrument in memory, stepped from due moment to due moment."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeVar

from fake_instrument import FakeInstrument, FakeLink

from drivers.clock import SteppedClock
from drivers.meter import MeterSetup
from drivers.reading import MeterState, MeterStatus
from drivers.scpi.meter import ScpiMeter
from drivers.worker import Fact, WorkerCore

F = TypeVar("F")


@dataclass
class Bench:
    """A core, its instrument, and what it posted; `run` steps time from due moment to due moment."""

    instrument: FakeInstrument = field(default_factory=FakeInstrument)
    posted: list[Fact] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.link = FakeLink(self.instrument)
        self.clock = SteppedClock(0.0)
        self.core = WorkerCore(
            ScpiMeter("left meter", self.link, self.clock),
            self.clock,
            self.posted.append,
            setup=MeterSetup(0.1),
            period_s=1.0,
            jitter=lambda: 0.5,
        )
        self.steps = 0

    def run(self, until_s: float) -> None:
        due_s = self.core.advance(self.clock.now())
        while due_s <= until_s:
            self.steps += 1
            assert self.steps < 20_000, "the core is asking to be called again and again"
            self.clock.advance_to(due_s)
            due_s = self.core.advance(self.clock.now())
        self.clock.advance_to(until_s)

    def of(self, kind: type[F]) -> list[F]:
        return [fact for fact in self.posted if isinstance(fact, kind)]

    def states(self) -> list[MeterState]:
        return [status.state for status in self.of(MeterStatus)]
