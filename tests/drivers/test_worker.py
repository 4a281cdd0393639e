"""The worker's rules, in stepped time: schedule, strikes, waiting, identity, gaps, requests."""

from __future__ import annotations

import itertools
import math

import pytest
from fake_instrument import IDENTITY
from stepped_worker import Bench

from drivers.errors import LinkGarbled, LinkLost, LinkTimedOut
from drivers.reading import Gap, GapReason, MeterState, MeterStatus, Reading, RequestOutcome
from drivers.requests import InputsRequest, PeriodRequest, RangeRequest


@pytest.fixture
def bench() -> Bench:
    return Bench()


def test_it_connects_sets_up_and_polls(bench: Bench) -> None:
    bench.run(0.0)

    assert bench.states() == [
        MeterState.CONNECTING,
        MeterState.IDENTIFYING,
        MeterState.CONFIGURING,
        MeterState.POLLING,
    ]
    assert bench.of(MeterStatus)[-1].identity == IDENTITY
    assert "100 mV" in bench.of(MeterStatus)[-1].detail
    assert bench.core.facts is not None


def test_it_reads_once_a_period_on_absolute_times(bench: Bench) -> None:
    bench.run(10.0)

    assert [reading.end_s for reading in bench.of(Reading)] == [float(second) for second in range(11)]
    assert bench.of(Gap) == []


def test_missed_slots_are_skipped_and_never_made_up_for(bench: Bench) -> None:
    bench.run(2.0)
    bench.clock.advance_to(7.3)
    bench.run(9.0)

    assert [reading.end_s for reading in bench.of(Reading)] == [0.0, 1.0, 2.0, 7.3, 8.0, 9.0]


def test_a_time_out_is_a_gap_and_the_next_reading_is_on_time(bench: Bench) -> None:
    bench.run(2.0)
    bench.link.failures = [LinkTimedOut]
    bench.run(4.0)

    (gap,) = bench.of(Gap)
    assert (gap.start_s, gap.end_s, gap.reason) == (2.0, 3.0, GapReason.TIMED_OUT)
    assert [reading.end_s for reading in bench.of(Reading)] == [0.0, 1.0, 2.0, 4.0]
    assert bench.states()[-2:] == [MeterState.RESYNCING, MeterState.POLLING]
    assert bench.link.opened == 1


def test_a_garbled_reply_is_a_gap_with_what_came(bench: Bench) -> None:
    bench.run(1.0)
    bench.instrument.reading = lambda: "+1.0E-02,+2.0E-02"
    bench.run(2.0)

    (gap,) = bench.of(Gap)
    assert gap.reason is GapReason.GARBLED
    assert "2 fields" in gap.detail


def test_the_third_failure_in_a_row_opens_anew(bench: Bench) -> None:
    bench.run(1.0)
    bench.link.failures = [LinkTimedOut, None, LinkTimedOut, None, LinkTimedOut]
    bench.run(3.9)
    assert bench.link.opened == 1
    bench.run(5.0)

    assert bench.link.opened == 2
    assert bench.states()[-1] is MeterState.POLLING


def test_two_failures_with_a_good_reading_between_do_not_add_up(bench: Bench) -> None:
    bench.run(1.0)
    bench.link.failures = [LinkTimedOut, None, None] * 5
    bench.run(30.0)

    assert bench.link.opened == 1


def test_a_failed_resynchronisation_counts_as_a_strike(bench: Bench) -> None:
    bench.run(1.0)
    bench.link.failures = [LinkTimedOut, LinkTimedOut, LinkGarbled]
    bench.run(3.0)

    assert bench.link.opened == 2
    assert bench.states()[-1] is MeterState.POLLING


def test_a_lost_connection_is_opened_again(bench: Bench) -> None:
    bench.run(1.0)
    bench.link.failures = [LinkLost]
    bench.run(4.0)

    assert bench.link.opened == 2
    assert bench.of(Gap)[0].reason is GapReason.LOST
    assert bench.of(Reading)[-1].end_s > 3.0


def test_everything_is_set_up_anew_after_reconnecting(bench: Bench) -> None:
    bench.run(1.0)
    bench.instrument.switch_on()
    bench.link.failures = [LinkLost]
    bench.run(4.0)

    assert float(bench.instrument.settings["VOLT:DC:RANG"]) == 0.1
    assert bench.instrument.settings["SAMP:COUN"] == "1"


def test_waiting_doubles_up_to_five_seconds(bench: Bench) -> None:
    bench.link.refusing = True
    bench.run(0.0)
    tries: list[float] = []
    connect = bench.core.meter.connect

    def connecting(deadline: float) -> str:
        tries.append(bench.clock.now())
        return connect(deadline)

    bench.core.meter.connect = connecting  # type: ignore[method-assign]
    bench.run(40.0)

    waits = [round(later - earlier, 9) for earlier, later in zip([0.0, *tries], tries, strict=False)]
    assert waits[:7] == [0.2, 0.4, 0.8, 1.6, 3.2, 5.0, 5.0]


def test_while_away_the_silence_is_reported_without_holes(bench: Bench) -> None:
    bench.run(2.0)
    bench.link.refusing = True
    bench.link.failures = [LinkLost]
    bench.run(60.0)

    gaps = bench.of(Gap)
    assert gaps[0].start_s == 2.0
    assert all(later.start_s == earlier.end_s for earlier, later in itertools.pairwise(gaps))
    assert max(gap.end_s - gap.start_s for gap in gaps) < 3.001
    assert gaps[-1].end_s >= 57.0


def test_a_meter_that_was_never_there_is_reported_from_the_start(bench: Bench) -> None:
    bench.link.refusing = True
    bench.run(20.0)

    assert bench.of(Gap)[0].start_s == 0.0
    assert bench.of(Gap)[-1].end_s >= 17.0


def test_the_same_refusal_is_told_once_and_after_five_minutes_with_advice(bench: Bench) -> None:
    bench.link.refusing = True
    bench.run(290.0)
    assert bench.states() == [MeterState.CONNECTING, MeterState.WAITING]
    bench.run(400.0)

    assert bench.states() == [MeterState.CONNECTING, MeterState.WAITING, MeterState.WAITING]
    assert "five minutes" in bench.of(MeterStatus)[-1].detail


def test_retry_now_does_not_wait(bench: Bench) -> None:
    bench.link.refusing = True
    bench.run(60.0)
    bench.link.refusing = False
    bench.core.retry_now()
    bench.core.advance(bench.clock.now())

    assert bench.core.state is MeterState.CONFIGURING


class TestAnotherInstrumentAtTheAddress:
    @pytest.fixture
    def swapped(self, bench: Bench) -> Bench:
        bench.run(1.0)
        bench.instrument.identity = "INVENTED,MODEL 2,0009,1.0"
        bench.link.failures = [LinkLost]
        bench.run(30.0)
        return bench

    def test_it_stops_and_says_so(self, swapped: Bench) -> None:
        status = swapped.of(MeterStatus)[-1]

        assert status.state is MeterState.STOPPED
        assert "another instrument" in status.detail
        assert status.identity == "INVENTED,MODEL 2,0009,1.0"
        assert max(reading.end_s for reading in swapped.of(Reading)) == 1.0

    def test_the_silence_is_still_reported(self, swapped: Bench) -> None:
        assert swapped.of(Gap)[-1].end_s >= 27.0

    def test_it_is_said_once(self, swapped: Bench) -> None:
        assert swapped.states().count(MeterState.STOPPED) == 1

    def test_it_goes_on_when_the_one_from_before_is_back(self, swapped: Bench) -> None:
        swapped.instrument.identity = IDENTITY
        swapped.run(40.0)

        assert swapped.states()[-1] is MeterState.POLLING
        assert swapped.of(Reading)[-1].end_s > 30.0


class TestRequests:
    def test_a_range_is_changed_between_readings(self, bench: Bench) -> None:
        bench.run(1.0)
        bench.core.ask(RangeRequest("r1", 1.0))
        bench.run(2.0)

        assert bench.of(RequestOutcome) == [RequestOutcome("r1", 1.0, True)]
        assert bench.core.facts is not None
        assert bench.core.facts.range_volts == 1.0
        assert bench.of(Reading)[-1].end_s == 2.0

    def test_a_refused_range_leaves_the_old_one(self, bench: Bench) -> None:
        bench.run(1.0)
        bench.core.ask(RangeRequest("r1", 5000.0))
        bench.run(3.0)

        (outcome,) = bench.of(RequestOutcome)
        assert not outcome.done
        assert "5000 V" in outcome.detail
        assert float(bench.instrument.settings["VOLT:DC:RANG"]) == 0.1
        assert bench.of(Reading)[-1].end_s == 3.0

    def test_the_period_is_changed(self, bench: Bench) -> None:
        bench.run(2.0)
        bench.core.ask(PeriodRequest("r1", 0.5))
        bench.run(3.0)

        assert bench.of(RequestOutcome)[-1].done
        assert [reading.end_s for reading in bench.of(Reading)][-3:] == [2.0, 2.5, 3.0]

    def test_a_period_the_meter_cannot_keep_is_said(self, bench: Bench) -> None:
        bench.run(2.0)
        bench.core.ask(PeriodRequest("r1", 0.01))
        bench.run(2.0)

        assert "needs" in bench.of(RequestOutcome)[-1].detail

    @pytest.mark.parametrize("period_s", [0.0, -1.0, math.nan, math.inf])
    def test_a_senseless_period_is_refused(self, bench: Bench, period_s: float) -> None:
        bench.run(2.0)
        bench.core.ask(PeriodRequest("r1", period_s))
        bench.run(4.0)

        assert not bench.of(RequestOutcome)[-1].done
        assert bench.of(Reading)[-1].end_s == 4.0

    def test_unknown_inputs_are_refused(self, bench: Bench) -> None:
        bench.run(1.0)
        bench.core.ask(InputsRequest("r1", ("101", "102")))
        bench.run(2.0)

        assert not bench.of(RequestOutcome)[-1].done
        assert bench.of(Reading)[-1].end_s == 2.0

    def test_what_needs_the_meter_is_refused_while_it_is_away(self, bench: Bench) -> None:
        bench.link.refusing = True
        bench.run(10.0)
        bench.core.ask(RangeRequest("r1", 1.0))
        bench.core.ask(PeriodRequest("r2", 0.5))
        bench.run(11.0)

        assert [(each.request_id, each.done) for each in bench.of(RequestOutcome)] == [
            ("r1", False),
            ("r2", True),
        ]

    def test_what_is_open_at_the_end_is_refused(self, bench: Bench) -> None:
        bench.run(1.0)
        bench.core.ask(RangeRequest("r1", 1.0))
        bench.core.stop()

        assert not bench.of(RequestOutcome)[-1].done


def test_a_slow_schedule_keeps_the_connection_alive(bench: Bench) -> None:
    bench.run(0.0)
    bench.core.ask(PeriodRequest("r1", 300.0))
    bench.run(1.0)
    bench.instrument.lines.clear()
    bench.run(299.0)

    assert bench.instrument.lines == ["*IDN?"] * 5
    assert len(bench.of(Gap)) == 0


def test_stopping_gives_the_front_panel_back(bench: Bench) -> None:
    bench.run(1.0)
    bench.core.stop()

    assert bench.instrument.lines[-1] == "SYST:LOC"
    assert bench.states()[-1] is MeterState.STOPPED


def test_an_unexpected_problem_does_not_end_the_watch(bench: Bench) -> None:
    bench.run(1.0)

    def broken(line: str) -> str | None:
        raise ZeroDivisionError("a defect")

    take, bench.instrument.take = bench.instrument.take, broken  # type: ignore[method-assign]
    bench.run(1.5)
    bench.core.advance(2.0)
    bench.instrument.take = take  # type: ignore[method-assign]
    bench.run(10.0)

    assert any("unexpected problem" in status.detail for status in bench.of(MeterStatus))
    assert bench.of(Reading)[-1].end_s > 8.0
