"""A file stands in for a meter: its rows come when their time has come, and bad ones are named."""

from __future__ import annotations

from pathlib import Path

import pytest

from drivers.clock import SteppedClock
from drivers.errors import LinkRefused, MeterRefused
from drivers.meter import MeterSetup
from drivers.reading import Gap, GapReason, MeterState, MeterStatus, Reading, Unit
from drivers.replayed import ReplayedMeter, read_file
from drivers.worker import Fact, WorkerCore

GOOD = "elapsed [s],left bias [mV],heatsink [\xb0C]\n0,10.0,21.0\n1,10.5,\n2,11.0,22.0\n"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "trace.csv"


def test_columns_and_units_come_from_the_header(path: Path) -> None:
    path.write_text(GOOD, encoding="utf-8")
    found = read_file(path)

    assert found.inputs == ("left bias", "heatsink")
    assert found.units == (Unit.VOLT, Unit.CELSIUS)
    assert list(found.times_s) == [0.0, 1.0, 2.0]
    assert found.rows == ([0.01, 21.0], [0.0105, None], [0.011, 22.0])
    assert (found.bad, found.problems) == (0, ())


def test_rows_come_when_their_time_has_come(path: Path) -> None:
    path.write_text(GOOD, encoding="utf-8")
    clock = SteppedClock(100.0)
    meter = ReplayedMeter("file", path, clock)
    meter.connect(0.0)
    meter.configure(MeterSetup(), 0.0)

    assert [fact.end_s for fact in meter.read(0.0)] == [100.0, 100.0]
    clock.advance_to(100.5)
    assert meter.read(0.0) == ()
    clock.advance_to(102.0)
    facts = meter.read(0.0)
    assert [type(fact) for fact in facts] == [Reading, Reading, Reading]
    with pytest.raises(LinkRefused, match="ended"):
        meter.read(0.0)


def test_a_blank_is_a_gap_where_a_reading_should_have_come(path: Path) -> None:
    """Not where two meters take turns in the rows; an overload is one whenever it stands there."""
    turns = [f"{n},{'' if n % 2 else 13},{14 if n % 2 and not 20 < n < 26 else ''}" for n in range(40)]
    turns[30] = "30,OL,"
    path.write_text("\n".join(["s,a [mV],b [mV]", *turns]), encoding="utf-8")
    clock = SteppedClock()
    meter = ReplayedMeter("file", path, clock)
    meter.connect(0.0)
    meter.configure(MeterSetup(), 0.0)
    clock.advance_to(100.0)

    gaps = [fact for fact in meter.read(0.0) if isinstance(fact, Gap)]

    assert [(gap.input, gap.end_s) for gap in gaps if gap.reason is GapReason.NO_READING] == [
        ("b", 22.0),
        ("b", 25.0),
    ]
    assert [(gap.input, gap.end_s) for gap in gaps if gap.reason is GapReason.OVERLOAD] == [("a", 30.0)]


def test_bad_rows_are_counted_and_the_first_is_named(path: Path) -> None:
    path.write_text(GOOD + "3,x,1\n4,1\n1.5,1,1\nnan,1,1\n,1,1\n\n5,12.0,22.0\n", encoding="utf-8")
    meter = ReplayedMeter("file", path, SteppedClock())
    meter.connect(0.0)
    facts = meter.configure(MeterSetup(), 0.0)

    assert len(read_file(path).rows) == 6
    assert facts.notes == ("4 rows could not be used whole; line 5: 'x' is no value of left bias",)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("elapsed [s],a [mV]\n", "no reading"),
        ("elapsed [s],a [mV]\nx,y\n", "line 2"),
    ],
)
def test_a_useless_file_is_refused_with_its_name(path: Path, text: str, words: str) -> None:
    path.write_text(text, encoding="utf-8")
    with pytest.raises(MeterRefused, match=words) as problem:
        read_file(path)

    assert str(path) in str(problem.value)


def test_it_runs_in_a_worker_and_says_when_it_has_ended(path: Path) -> None:
    path.write_text(GOOD, encoding="utf-8")
    clock = SteppedClock()
    posted: list[Fact] = []
    core = WorkerCore(ReplayedMeter("file", path, clock), clock, posted.append, period_s=0.5)
    due_s = core.advance(0.0)
    while due_s < 10.0:
        clock.advance_to(due_s)
        due_s = core.advance(due_s)

    assert sum(isinstance(fact, Reading) for fact in posted) == 5
    last = [fact for fact in posted if isinstance(fact, MeterStatus)][-1]
    assert (last.state, "ended" in last.detail) == (MeterState.WAITING, True)
