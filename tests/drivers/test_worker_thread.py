"""The thin thread around the worker's core, and the laws that hold whatever fails."""

from __future__ import annotations

import threading
from collections.abc import Callable

from fake_instrument import FakeInstrument, FakeLink
from hypothesis import given, settings
from hypothesis import strategies as st
from stepped_worker import Bench

from drivers.clock import LifeClock, host_seconds
from drivers.errors import LinkError, LinkGarbled, LinkLost, LinkTimedOut
from drivers.meter import MeterSetup
from drivers.reading import Gap, MeterState, MeterStatus, Reading, RequestOutcome
from drivers.requests import PeriodRequest, RangeRequest
from drivers.scpi.meter import ScpiMeter
from drivers.worker import Fact, Worker, WorkerCore


class TestTheThread:
    """The thin thread around the core, in real time with an instrument in memory."""

    @staticmethod
    def until(condition: Callable[[], bool], tick: threading.Event) -> None:
        give_up = host_seconds() + 5.0
        while not condition():
            assert host_seconds() < give_up
            tick.wait(0.5)
            tick.clear()

    def test_it_reads_answers_requests_and_stops(self) -> None:
        clock = LifeClock()
        tick = threading.Event()
        posted: list[Fact] = []

        def post(fact: Fact) -> None:
            posted.append(fact)
            tick.set()

        instrument = FakeInstrument()
        core = WorkerCore(
            ScpiMeter("m", FakeLink(instrument), clock), clock, post, setup=MeterSetup(0.1), period_s=0.01
        )
        worker = Worker(core, clock)
        worker.start()
        self.until(lambda: sum(isinstance(fact, Reading) for fact in posted) >= 3, tick)
        worker.ask(RangeRequest("r1", 1.0))
        self.until(lambda: any(isinstance(fact, RequestOutcome) for fact in posted), tick)

        assert worker.stop()
        assert isinstance(posted[-1], MeterStatus)
        assert posted[-1].state is MeterState.STOPPED
        assert instrument.lines[-1] == "SYST:LOC"

    def test_it_stops_at_once_while_waiting_to_try_again(self) -> None:
        clock = LifeClock()
        tick = threading.Event()
        link = FakeLink(FakeInstrument())
        link.refusing = True
        core = WorkerCore(ScpiMeter("m", link, clock), clock, lambda fact: tick.set())
        worker = Worker(core, clock)
        worker.start()
        self.until(lambda: core.state is MeterState.WAITING, tick)

        assert worker.stop(1.0)

    def test_it_may_be_stopped_before_it_was_started(self) -> None:
        clock = LifeClock()
        worker = Worker(
            WorkerCore(ScpiMeter("m", FakeLink(FakeInstrument()), clock), clock, lambda fact: None), clock
        )

        assert worker.stop()


FAILURES = st.lists(
    st.sampled_from([None, None, None, LinkTimedOut, LinkGarbled, LinkLost]), min_size=0, max_size=60
)
OUTAGES = st.lists(st.tuples(st.floats(0.0, 50.0), st.floats(0.1, 20.0)), max_size=3)


@given(FAILURES, OUTAGES, st.floats(0.05, 3.0))
@settings(max_examples=25, deadline=None)
def test_whatever_fails_time_is_covered_once_and_polling_comes_back(
    failures: list[type[LinkError] | None], outages: list[tuple[float, float]], period_s: float
) -> None:
    """Readings and gaps follow one another without hole or overlap, and a healthy meter is polled again."""
    bench = Bench()
    bench.core.ask(PeriodRequest("p", period_s))
    bench.run(1.0)
    bench.link.failures = list(failures)
    for start_s, length_s in sorted(outages):
        bench.run(max(start_s, bench.clock.now()))
        bench.link.refusing, bench.link.is_open = True, False
        bench.run(bench.clock.now() + length_s)
        bench.link.refusing = False
    bench.link.failures.clear()
    bench.run(bench.clock.now() + 20.0 + period_s)

    covered_s = 0.0
    for fact in bench.posted:
        if isinstance(fact, Reading):
            assert fact.start_s >= covered_s
            covered_s = fact.end_s
        elif isinstance(fact, Gap):
            assert fact.start_s == covered_s
            assert fact.end_s >= fact.start_s
            covered_s = fact.end_s
    assert bench.core.state is MeterState.POLLING
    assert bench.of(Reading)[-1].end_s >= bench.clock.now() - period_s - 1e-6
