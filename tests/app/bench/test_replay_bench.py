"""Winding a recorded session; recorded here on the simulated bench in stepped time."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.bench.opening import SimulatedChoice, open_simulated
from app.bench.replay_bench import ReplayBench
from app.bench.restoring import Restored, restore
from app.records.session_folder import open_session
from app.settings import Settings
from app.windows.ports import BenchPort, Replayed
from drivers.clock import SteppedClock
from procedures.events import Supply
from procedures.library import shipped_procedures


class Seconds:
    def __init__(self) -> None:
        self.now = 50.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def recorded(session_root: Path) -> Restored:
    """Two minutes of watching, the mains switched on after ten seconds."""
    bench = open_simulated(
        SimulatedChoice(), shipped_procedures()["watch"], session_root, SteppedClock(), Settings()
    )
    assert bench.practice is not None
    turns = bench.turns()
    turns.run(lambda: False, 10.0)
    bench.practice.switch(Supply.MAINS)
    bench.supply(Supply.MAINS)
    turns.run(lambda: False, 110.0)
    bench.note("warm now")
    turns.run(lambda: False, 1.0)
    bench.leave()
    return restore(open_session(bench.record.folder))


@pytest.fixture
def seconds() -> Seconds:
    return Seconds()


@pytest.fixture
def bench(recorded: Restored, seconds: Seconds) -> ReplayBench:
    return ReplayBench(recorded, "Kestrow K-40", seconds)


def look_until_there(bench: ReplayBench) -> None:
    """Look as a screen does, until what is shown has caught up."""
    for _ in range(1000):
        bench.picture()
        if not bench.catching_up:
            return
    raise AssertionError("the replay never caught up")


def test_it_is_a_bench_that_can_be_wound(bench: ReplayBench) -> None:
    """The window needs both faces."""
    port: BenchPort = bench
    assert isinstance(port, Replayed)


def test_at_first_the_whole_session_is_shown(bench: ReplayBench, recorded: Restored) -> None:
    """Looking back begins with all of it."""
    picture = bench.picture()
    assert picture.review
    assert bench.position_s == recorded.last_s
    assert max(t.seconds[-1] for t in picture.traces) > 115.0


def test_only_what_had_been_measured_by_then_is_shown(bench: ReplayBench) -> None:
    """At half a minute there are no readings and no notes of later."""
    bench.seek(30.0)
    look_until_there(bench)
    picture = bench.picture()
    assert all(t.seconds[-1] <= 30.0 for t in picture.traces)
    assert [m.kind for m in picture.marks if m.kind == "note"] == []
    assert picture.view.supply is Supply.MAINS


def test_before_the_switch_the_amplifier_is_off(bench: ReplayBench) -> None:
    """Winding back takes things back."""
    bench.seek(100.0)
    look_until_there(bench)
    bench.seek(5.0)
    look_until_there(bench)
    assert bench.picture().view.supply is Supply.OFF


def test_playing_goes_at_its_speed_and_ends(bench: ReplayBench, seconds: Seconds) -> None:
    """Ten seconds at tenfold speed are a hundred of the session."""
    bench.play(True)
    assert bench.position_s == 0.0
    bench.set_speed(10.0)
    seconds.now += 4.0
    look_until_there(bench)
    assert bench.position_s == pytest.approx(40.0)

    bench.play(False)
    seconds.now += 10.0
    look_until_there(bench)
    assert bench.position_s == pytest.approx(40.0)

    bench.play(True)
    seconds.now += 100.0
    look_until_there(bench)
    assert bench.position_s == bench.length_s
    assert not bench.playing


def test_a_picture_changes_only_when_something_moved(bench: ReplayBench, seconds: Seconds) -> None:
    """A held replay costs no frames."""
    bench.seek(30.0)
    look_until_there(bench)
    before = bench.picture().serial
    seconds.now += 5.0
    assert bench.picture().serial == before
    bench.seek(31.0)
    assert bench.picture().serial != before


def test_what_is_shown_at_the_end_is_what_was_shown_then(bench: ReplayBench, recorded: Restored) -> None:
    """The replayed run says the same as the restored one just before the end."""
    bench.seek(recorded.last_s - 0.001)
    look_until_there(bench)
    there, whole = bench.picture(), recorded.store.newest()
    assert [c.channel for c in there.view.channels] == [c.channel for c in whole.view.channels]
    for one, other in zip(there.traces, whole.traces, strict=True):
        assert len(one.values) >= len(other.values) - 2
        assert one.values[-1] == pytest.approx(other.values[len(one.values) - 1])


def test_a_past_practice_says_how_it_went(bench: ReplayBench, recorded: Restored) -> None:
    """From its record alone; what is named afterwards is not written into a closed record."""
    before = (recorded.session.folder / "journal.jsonl").read_bytes()
    went = bench.assessment(("hums",))
    assert went is not None
    assert went.hands_kept
    assert {one.channel for one in went.left} == {"left bias", "right bias"}
    assert not went.anything_named
    assert (recorded.session.folder / "journal.jsonl").read_bytes() == before
