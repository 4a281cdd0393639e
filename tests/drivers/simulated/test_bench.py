"""The bench around one unit: hands, probes, truth, and the same course of things for the same seed."""

from __future__ import annotations

import threading
from dataclasses import astuple

import pytest

from drivers.clock import SteppedClock
from drivers.simulated.bench import Mains, SimulatedBench, Slip
from drivers.simulated.trimmer import Trimmer
from drivers.simulated.units import Knob, load_unit


def bench_with(name: str = "healthy", seed: int = 3) -> tuple[SteppedClock, SimulatedBench]:
    clock = SteppedClock(100.0)
    return clock, SimulatedBench(load_unit(name), clock, seed)


def after(clock: SteppedClock, seconds: float) -> None:
    clock.advance_to(clock.now() + seconds)


def test_a_unit_begins_cold_and_switched_off() -> None:
    _, bench = bench_with()
    truth = bench.truth()
    assert truth.mains is Mains.OFF
    assert truth.bias_volts == pytest.approx((0.0, 0.0), abs=1e-9)
    assert truth.sink_c == truth.room_c == 22.0
    assert truth.lid_on


def test_time_passes_for_the_unit_as_the_clock_goes() -> None:
    clock, bench = bench_with()
    bench.switch_mains(Mains.FULL)
    after(clock, 60.0)
    warm = bench.truth()
    assert warm.bias_volts[0] == pytest.approx(0.0096, rel=0.05)
    assert warm.sink_c > 22.1


def test_how_often_one_looks_changes_nothing() -> None:
    rare_clock, rare = bench_with()
    often_clock, often = bench_with()
    for clock, bench in ((rare_clock, rare), (often_clock, often)):
        bench.switch_mains(Mains.FULL)
        after(clock, 1.0)
    after(rare_clock, 30.0)
    while often_clock.now() < rare_clock.now():
        often_clock.advance_to(min(often_clock.now() + 0.37, rare_clock.now()))
        often.truth()
    assert astuple(rare.truth()) == astuple(often.truth())


def test_another_seed_is_another_course_of_chance() -> None:
    courses = []
    for seed in (1, 2):
        clock, bench = bench_with("draughty", seed)
        bench.switch_mains(Mains.FULL)
        after(clock, 100.0)
        courses.append(bench.truth().bias_volts)
    assert courses[0] != courses[1]


def test_clockwise_raises_the_reading_and_a_reversed_trimmer_lowers_it() -> None:
    clock, bench = bench_with("reversed_trimmer")
    bench.switch_mains(Mains.FULL)
    after(clock, 60.0)
    before = bench.truth().bias_volts
    assert bench.turn_trimmer("left", 15.0) == pytest.approx(15.0)
    assert bench.turn_trimmer("right", 15.0) == pytest.approx(15.0)
    now = bench.truth().bias_volts
    assert now[0] > 1.1 * before[0]
    assert now[1] < 0.9 * before[1]


def test_a_trimmer_stops_at_both_ends_and_says_how_far_it_went() -> None:
    _, bench = bench_with()
    whole = bench.turnable_degrees("left")
    bench.turn_trimmer("left", -9999.0)
    assert bench.truth().wiper[0] == 0.0
    assert bench.truth().knobs[0] == 0.0
    assert bench.turn_trimmer("left", 9999.0) == pytest.approx(whole)
    assert bench.truth().wiper[0] == 1.0
    assert bench.truth().knobs[0] == pytest.approx(1.0)


def test_turning_back_takes_up_the_play_first() -> None:
    trimmer = Trimmer(Knob(270.0, 4.0), 0.5, play_taken=1.0)
    trimmer.turn(27.0)
    assert trimmer.wiper == pytest.approx(0.6)
    trimmer.turn(-3.9)
    assert trimmer.wiper == pytest.approx(0.6)
    trimmer.turn(-2.8)
    assert trimmer.wiper == pytest.approx(0.59)


def test_the_series_lamp_takes_more_from_a_hungry_amplifier() -> None:
    rails = {}
    for name in ("healthy", "over_biased"):
        clock, bench = bench_with(name)
        bench.switch_mains(Mains.LAMP)
        after(clock, 60.0)
        rails[name] = bench.truth().rail
    assert rails["over_biased"] < 0.8
    assert 0.9 < rails["healthy"] < 1.0


def test_taking_the_lid_off_cools_the_unit() -> None:
    sinks = []
    for lid_on in (True, False):
        clock, bench = bench_with()
        bench.switch_mains(Mains.FULL)
        bench.move_lid(lid_on)
        after(clock, 1200.0)
        sinks.append(bench.truth().sink_c)
    assert sinks[1] < sinks[0] - 1.0


@pytest.mark.parametrize("seed", range(6))
def test_a_slipped_probe_kills_a_channel_or_the_fuse(seed: int) -> None:
    clock, bench = bench_with(seed=seed)
    bench.switch_mains(Mains.FULL)
    after(clock, 10.0)
    outcome = bench.slip_probe("right")
    after(clock, 5.0)
    truth = bench.truth()
    assert truth.bias_volts[1] == 0.0
    if outcome is Slip.DAMAGED:
        assert truth.dead == (False, True)
        assert truth.bias_volts[0] > 0.005
    else:
        assert outcome is Slip.FUSE
        assert truth.fuse_blown
        assert truth.bias_volts[0] == 0.0


def test_a_slip_with_the_power_off_does_no_harm() -> None:
    _, bench = bench_with()
    assert bench.slip_probe("left") is Slip.NOTHING
    assert bench.truth().dead == (False, False)


def test_drive_lifts_the_reading_far_above_any_bias() -> None:
    clock, bench = bench_with()
    bench.switch_mains(Mains.FULL)
    after(clock, 10.0)
    bench.apply_drive(10.0, 8.0)
    assert bench.truth().driven
    assert min(bench.truth().bias_volts) > 0.15
    bench.apply_drive(0.0)
    assert max(bench.truth().bias_volts) < 0.02


def test_probes_touch_what_they_were_moved_to() -> None:
    clock, bench = bench_with()
    assert bench.probes_on("left") is None
    bench.move_probes("left", "right offset")
    assert bench.probes_on("left") == "right offset"
    bench.lift_probe("left", 2.0)
    assert bench.probes_on("left") is None
    after(clock, 2.0)
    assert bench.probes_on("left") == "right offset"
    bench.move_probes("left", None)
    assert bench.probes_on("left") is None


def test_an_interval_gives_the_mean_and_the_present_gives_the_present() -> None:
    clock, bench = bench_with()
    bench.switch_mains(Mains.FULL)
    after(clock, 5.0)
    start_s = clock.now()
    values = []
    for _ in range(20):
        values.append(bench.truth().bias_volts[0])
        after(clock, 0.1)
    now = bench.truth().bias_volts[0]
    mean = bench.volts("left bias", start_s, clock.now())
    assert mean == pytest.approx(sum(values) / 20, rel=1e-4)
    assert values[0] < mean < now
    assert bench.volts("left bias", clock.now(), clock.now()) == now


def test_what_cannot_be_is_refused_in_words() -> None:
    _, bench = bench_with()
    with pytest.raises(ValueError, match="there are left and right"):
        bench.turn_trimmer("middle", 1.0)
    with pytest.raises(ValueError, match="no test point 'speaker'"):
        bench.move_probes("left", "speaker")
    with pytest.raises(ValueError, match="cannot be turned"):
        bench.turn_trimmer("left", float("nan"))
    with pytest.raises(ValueError, match="cannot be"):
        bench.apply_drive(-1.0)


def test_several_threads_may_look_and_act_at_once() -> None:
    clock, bench = bench_with()
    bench.switch_mains(Mains.FULL)
    problems: list[BaseException] = []

    def work(channel: str) -> None:
        try:
            for turn in range(50):
                bench.turn_trimmer(channel, 1.0 if turn % 2 else -1.0)
                bench.volts(f"{channel} bias", clock.now() - 1.0, clock.now())
                bench.truth()
        except BaseException as problem:
            problems.append(problem)

    threads = [threading.Thread(target=work, args=(channel,)) for channel in ("left", "right", "left")]
    for thread in threads:
        thread.start()
    for _ in range(40):
        after(clock, 0.5)
        bench.truth()
    for thread in threads:
        thread.join(10.0)
    assert not problems
    assert bench.truth().bias_volts[0] > 0.005
