"""An overload is answered by a higher range before anything else."""

from __future__ import annotations

import pytest
from bench_double import ScriptedAnalysis

from drivers.reading import GapReason, MeterState
from procedures.events import (
    Action,
    ChannelGap,
    ChannelReading,
    Event,
    Input,
    LeadMoved,
    MeterChanged,
    Request,
    RequestClosed,
    SegmentOpened,
    Supply,
    Tick,
)
from procedures.leads import Lead
from procedures.library import shipped_procedures
from procedures.ranging import range_for
from procedures.runner import Run
from procedures.setup import RunSetup


def _run(typed: bool = False) -> Run:
    leads = [] if typed else [Lead("meter", "1", "left bias")]
    setup = RunSetup.build(shipped_procedures()["watch"], leads=leads, typed=["left bias"] if typed else [])
    run = Run(setup, ScriptedAnalysis(setup.channels))
    run.feed(Tick(0.0))
    return run


def _overload(at_s: float) -> Input:
    return ChannelGap(at_s, at_s + 0.2, "left bias", GapReason.OVERLOAD)


def _asked(said: tuple[Event, ...]) -> list[float | str]:
    return [e.parameters["range_volts"] for e in said if isinstance(e, Request) and e.action is Action.RANGE]


def test_an_overload_asks_for_the_next_range_once() -> None:
    """The answer is waited for."""
    run = _run()

    assert _asked(run.feed(_overload(1.0))) == [1.0]
    assert _asked(run.feed(_overload(2.0))) == []


def test_an_overload_on_the_higher_range_asks_for_a_higher_one_still() -> None:
    """Until there is a value that alarms can judge."""
    run = _run()
    run.feed(_overload(1.0))
    run.feed(RequestClosed(1.5, "request 1", True))

    assert _asked(run.feed(_overload(2.0))) == [10.0]


def test_a_refused_range_is_not_asked_for_again() -> None:
    """The meter has said no; the alarm for the lead says the rest."""
    run = _run()
    run.feed(_overload(1.0))
    run.feed(RequestClosed(1.5, "request 1", False, "a fixed-range meter"))

    assert _asked(run.feed(_overload(2.0))) == []


@pytest.mark.parametrize(
    "change",
    [
        MeterChanged(3.0, "meter", MeterState.IDENTIFYING),
        LeadMoved(3.0, "another", "1", "left bias"),
        SegmentOpened(3.0, "cut off", 60.0, Supply.MAINS),
    ],
)
def test_a_refused_range_is_asked_for_again_of_a_meter_that_was_reached_anew(change: Input) -> None:
    """Or of another one: a fuse, a cable or a button may have been the reason."""
    run = _run()
    run.feed(_overload(1.0))
    run.feed(RequestClosed(1.5, "request 1", False, "the meter is in local"))
    run.feed(MeterChanged(2.0, "an unconcerned one", MeterState.IDENTIFYING))
    assert _asked(run.feed(_overload(2.5))) == []
    run.feed(change)

    assert _asked(run.feed(_overload(4.0))) == [1.0]
    assert _asked(run.feed(_overload(5.0))) == []


def test_a_meter_that_is_lost_each_time_it_is_asked_is_left_alone_at_last() -> None:
    """Else it would lose its readings to a range that it has not."""
    run, asked = _run(), 0
    for turn in range(6):
        asked += len(_asked(run.feed(_overload(10.0 * turn + 1.0))))
        run.feed(RequestClosed(10.0 * turn + 2.0, f"request {turn + 1}", False, "timed out"))
        run.feed(MeterChanged(10.0 * turn + 3.0, "meter", MeterState.WAITING))

    assert asked == 3


def test_a_reading_that_fits_again_asks_for_the_lower_range() -> None:
    """After half a minute well inside it, for the resolution's sake."""
    run = _run()
    run.feed(_overload(1.0))
    run.feed(RequestClosed(1.5, "request 1", True))
    asked = [_asked(run.feed(ChannelReading(2.0 + n, "left bias", 0.02))) for n in range(32)]

    assert [at for at, ranges in enumerate(asked) if ranges] == [30]
    assert asked[30] == [0.1]


def test_nothing_is_asked_of_a_person_who_types() -> None:
    """A typed channel has no range."""
    assert _asked(_run(typed=True).feed(_overload(1.0))) == []


@pytest.mark.parametrize(
    ("target_volts", "range_volts"),
    [(None, 0.1), (0.0135, 0.1), (0.033, 0.1), (0.205, 1.0), (0.5, 10.0), (60.0, 100.0)],
)
def test_the_first_range_leaves_room_for_what_is_found_high(
    target_volts: float | None, range_volts: float
) -> None:
    """Three times the target still reads."""
    assert range_for(target_volts) == range_volts
