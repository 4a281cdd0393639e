"""The worker and the simulated meters together, in stepped time: set up, read in order, faults survived."""

from __future__ import annotations

import pytest

from drivers.clock import SteppedClock
from drivers.meter import MeterSetup
from drivers.reading import Gap, MeterState, Reading
from drivers.requests import RangeRequest
from drivers.scpi.meter import ScpiMeter
from drivers.simulated.faults import Fault, FaultKind, FaultScript, Rule
from drivers.simulated.laboratory import Laboratory, Manner
from drivers.simulated.multimeter import MODELS
from drivers.worker import Fact, WorkerCore


class Bench:
    """One simulated meter under a worker."""

    def __init__(self, model: str = "6120", script: FaultScript | None = None) -> None:
        self.clock = SteppedClock()
        self.laboratory = Laboratory(
            "healthy",
            self.clock,
            manner=Manner.IN_PROCESS,
            model=model,
            scripts={"left": script} if script else None,
        )
        self.posted: list[Fact] = []
        self.core = WorkerCore(
            ScpiMeter("left", self.laboratory.link("left"), self.clock),
            self.clock,
            self.posted.append,
            setup=MeterSetup(0.1),
            period_s=1.0,
            jitter=lambda: 0.5,
        )

    def run(self, until_s: float) -> None:
        due_s = self.core.advance(self.clock.now())
        while due_s <= until_s:
            self.clock.advance_to(due_s)
            due_s = self.core.advance(self.clock.now())

    def readings(self) -> list[Reading]:
        return [fact for fact in self.posted if isinstance(fact, Reading)]


@pytest.mark.parametrize("model", sorted(MODELS))
def test_every_model_is_set_up_with_nothing_left_unconfirmed(model: str) -> None:
    bench = Bench(model)
    bench.run(5.0)
    facts = bench.core.facts

    assert facts is not None
    assert (facts.dialect, facts.unconfirmed, facts.notes) == ("full", (), ())
    assert (facts.range_volts, facts.integration_s) == (0.1, 0.2)
    assert len(bench.readings()) == 6
    assert bench.laboratory.instruments["left"].settings.auto_zero


def test_every_accepted_value_is_one_that_was_measured_then() -> None:
    chance = [
        Rule(Fault(kind), matching="READ", probability=0.03)
        for kind in FaultKind
        if kind is not FaultKind.NUL
    ]
    bench = Bench(script=FaultScript(chance, seed=4))
    bench.run(600.0)
    measured = {(each.end_s, float(each.text)) for each in bench.laboratory.instruments["left"].measured}

    assert len(bench.readings()) > 200
    assert any(isinstance(fact, Gap) for fact in bench.posted)
    assert all((reading.end_s, reading.value) in measured for reading in bench.readings())


def test_a_power_cycle_is_noticed_and_everything_set_again() -> None:
    bench = Bench()
    bench.run(5.0)
    instrument = bench.laboratory.instruments["left"]
    instrument.power_cycle()
    bench.laboratory.link("left").close()
    bench.run(12.0)

    assert bench.core.state is MeterState.POLLING
    assert instrument.settings.range_volts == 0.1
    assert not instrument.settings.auto_range
    assert bench.readings()[-1].end_s > 10.0


def test_a_request_for_another_range_reaches_the_instrument() -> None:
    bench = Bench()
    bench.run(3.0)
    bench.core.ask(RangeRequest("r1", 1.0))
    bench.run(6.0)

    assert bench.laboratory.instruments["left"].settings.range_volts == 1.0
    assert bench.readings()[-1].end_s == 6.0
