"""The plans of the verification fed with figures by hand: what follows from a floor, a rating, nothing."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable, Mapping
from typing import Any

import pytest

from drivers.reading import Unit
from procedures.analysis.audio.fitness import CannotMeasure
from procedures.events import (
    Answer,
    AudioMeasured,
    Outcome,
    RecordedValue,
    Request,
    RequestClosed,
    Tick,
    Verdict,
)
from procedures.leads import Leads
from procedures.library import shipped_amplifiers
from procedures.ratings import PowerRating, Ratings
from procedures.steps.signal import SignalStep
from procedures.steps.signal_path import ALLOWED, PATH_FINDING
from procedures.steps.signal_plans import plan
from procedures.steps.signal_setting import Ask, Play, Rest, Setting, gains_of
from procedures.steps.sitting import Sitting

RATED = Ratings(
    power=(PowerRating(watts=50.0, load_ohm=8.0),),
    distortion_percent=0.02,
    gain_db=28.0,
    sensitivity_millivolts=800.0,
    signal_to_noise_db=100.0,
    crosstalk_db=-60.0,
)
Answering = Callable[[Play], Mapping[str, Mapping[str, float]]]


def carried_out(
    measure: str, answering: Answering, ratings: Ratings = RATED, outputs: tuple[str, ...] = ("left",)
) -> tuple[str, dict[str, Verdict], dict[str, RecordedValue], list[Any]]:
    """Outcome word, verdicts and values by name, and every wish."""
    sitting = Sitting(channels={}, watcher=None, leads=Leads(()))  # type: ignore[arg-type]
    for output in outputs:
        sitting.record(f"gain, {output}", None, 28.0, Unit.DECIBEL)
    setting = Setting("A", outputs, 8.0, True, 8.0, 0.01, 5.0, ratings)
    going, wishes, result = plan(measure, setting, sitting), [], None
    try:
        while True:
            wish = going.send(result)
            wishes.append(wish)
            result = answering(wish) if isinstance(wish, Play) else None
    except StopIteration as over:
        word: str = over.value[0]
    return (
        word,
        {verdict.subject: verdict for verdict in sitting.verdicts},
        {kept.name: kept for kept in sitting.recorded},
        wishes,
    )


def silence(**figures: float) -> Answering:
    given = {"noise_volts": 1e-4, "noise_a_volts": 5e-5, "noise_468_volts": 1e-4, "hum_volts": 1e-5}
    return lambda _: {"left": given | {"offset_volts": 1e-3} | figures}


def test_noise_well_above_the_set_ups_own_is_judged() -> None:
    # Closed form: 20 V (50 W into 8 ohm) over 50 uV is 112.04 dB.
    word, verdicts, recorded, _ = carried_out("noise", silence(setup_noise_a_volts=1e-5))
    assert word == "passed"
    assert verdicts["signal to noise, left"].value == pytest.approx(112.04, abs=0.01)
    assert "floor" not in verdicts["signal to noise, left"].reason
    assert recorded["noise by the curve of BS.468, rms, left"].value == 1e-4


def test_noise_in_the_floor_of_the_set_up_is_said_to_be_below() -> None:
    _, verdicts, _, _ = carried_out("noise", silence(setup_noise_a_volts=5e-5))
    assert "below the floor of this set-up: it may be quieter" in verdicts["signal to noise, left"].reason


def test_a_floor_that_hides_the_rating_is_no_failure_of_the_amplifier() -> None:
    word, verdicts, _, _ = carried_out("noise", silence(noise_a_volts=1e-3, setup_noise_a_volts=9e-4))
    found = verdicts["signal to noise, left"]
    assert (word, found.outcome) == ("not measured", Outcome.NOT_MEASURED)
    assert "the recorder's own noise hides it" in found.reason


def test_the_same_noise_from_the_amplifier_fails() -> None:
    word, _, _, _ = carried_out("noise", silence(noise_a_volts=1e-3, setup_noise_a_volts=1e-5))
    assert word == "failed"


@pytest.mark.parametrize("measure", ["noise", "distortion", "modulation", "difference tones"])
def test_no_figure_is_not_measured_and_never_a_pass_or_a_failure(measure: str) -> None:
    word, verdicts, _, _ = carried_out(measure, lambda _: {})
    assert word == "not measured"
    assert {verdict.outcome for verdict in verdicts.values()} == {Outcome.NOT_MEASURED}


def test_distortion_below_the_set_ups_own_reads_as_below() -> None:
    tone = {"thd": 1e-5, "thd_floor": 1e-6, "thd_plus_noise": 1e-4, "setup_thd": 3e-5}
    _, verdicts, _, _ = carried_out("distortion", lambda _: {"left": tone})
    found = verdicts["distortion at 1 W, left"]
    assert found.value == pytest.approx(3e-3)
    assert "below the floor of this set-up" in found.reason


def test_crosstalk_under_the_noise_is_said_to_be_below() -> None:
    def answer(wish: Play) -> Mapping[str, Mapping[str, float]]:
        (driven,) = wish.order.drives
        other = "right" if driven == "left" else "left"
        return {driven: {"volts": 5.0}, other: {"volts": 1e-6, "floor_volts": 2e-6}}

    _, verdicts, recorded, _ = carried_out("crosstalk", answer, outputs=("left", "right"))
    assert "below the floor" in verdicts["crosstalk left to right, 1 kHz"].reason
    assert recorded["crosstalk right to left, 10 kHz"].value == pytest.approx(20 * math.log10(2e-6 / 5.0))


# Closed form: 20 V for 50 W into 8 ohm over the gain.
@pytest.mark.parametrize(("gain", "outcome"), [(25.0, Outcome.PASSED), (21.0, Outcome.FAILED)])
def test_sensitivity_is_judged_where_it_is_rated(gain: float, outcome: Outcome) -> None:
    def answer(wish: Play) -> Mapping[str, Mapping[str, float]]:
        return {"left": {"volts": gain * wish.order.volts}}

    _, verdicts, _, _ = carried_out("gain", answer)
    found = verdicts["input for rated power, left"]
    assert found.outcome is outcome
    assert found.value == pytest.approx(20.0 / gain)


def test_loads_and_sink_rest_behind_every_stretch_near_full_power() -> None:
    def answer(wish: Play) -> Mapping[str, Mapping[str, float]]:
        volts = 25.0 * wish.order.volts
        return {"left": {"total_volts": volts, "thd_plus_noise": 0.001 if volts < 22.0 else 0.05}}

    word, verdicts, _, wishes = carried_out("power", answer)
    assert word == "passed"
    assert verdicts["power into 8 Ω, left"].value == pytest.approx(22.0**2 / 8.0, rel=0.02)
    near = [i for i, wish in enumerate(wishes) if isinstance(wish, Play) and 25 * wish.order.volts > 10.1]
    assert near
    assert all(isinstance(wishes[i + 1], Rest) for i in near[:-1])
    assert isinstance(wishes[0], Ask)
    assert "hot" in wishes[0].caution


# --- levels by a multimeter -------------------------------------------------------------------------------


def metered(**declared: float) -> Answering:
    return lambda wish: {wish.at: {"ac_volts": 20.0} | declared}


def test_a_level_inside_the_declared_bandwidth_is_kept_with_it() -> None:
    band = {"ac_low_hz": 20.0, "ac_high_hz": 1e5, "ac_true_rms": 1.0, "ac_of_reading": 0.01}
    word, _, recorded, wishes = carried_out("level", metered(**band))
    assert word == "recorded"
    power = recorded["power at 1000 Hz, left"]
    assert power.value == pytest.approx(50.0)
    # Closed form: twice 1 % of the reading and 1 % of the load, as the root of their squares.
    assert float(power.conditions["uncertainty"]) == pytest.approx(50.0 * math.hypot(0.02, 0.01), rel=0.01)
    assert power.conditions["bandwidth"] == "20 to 100000 Hz"
    (play,) = [wish for wish in wishes if isinstance(wish, Play)]
    # Closed form: 10 dB below 20 V, over a gain of 28 dB.
    assert play.order.volts == pytest.approx(20.0 / math.sqrt(10.0) / 10 ** (28.0 / 20.0))


def test_outside_the_declared_bandwidth_nothing_is_kept() -> None:
    word, _, recorded, _ = carried_out("level", metered(ac_low_hz=40.0, ac_high_hz=400.0))
    assert word == "not measured"
    assert recorded["level at 1000 Hz, left"].value is None
    assert recorded["level at 1000 Hz, left"].reason == (
        "outside the meter's declared bandwidth, 40 to 400 Hz"
    )
    assert "power at 1000 Hz, left" not in recorded


def test_an_undeclared_bandwidth_and_response_mark_the_figure() -> None:
    word, verdicts, recorded, _ = carried_out("level", metered())
    kept = recorded["level at 1000 Hz, left"].conditions
    assert (word, verdicts) == ("recorded", {})
    assert "may read low" in kept["bandwidth"]
    assert kept["responding"] == "not declared"


def test_a_meter_that_averages_is_right_for_a_sine_alone() -> None:
    _, _, recorded, _ = carried_out("level", metered(ac_high_hz=1e5, ac_true_rms=0.0))
    assert recorded["level at 1000 Hz, left"].conditions["responding"] == "average: right for a sine alone"


# --- the ramp ---------------------------------------------------------------------------------------------


def test_a_ramp_ends_where_the_output_falls_away() -> None:
    def answer(wish: Play) -> Mapping[str, Mapping[str, float]]:
        volts = 25.0 * wish.order.volts
        opened = volts > 15.0
        return {
            "left": {"total_volts": 0.01 if opened else volts, "thd_plus_noise": 1.0 if opened else 0.001}
        }

    word, verdicts, _, wishes = carried_out("power", answer)
    reason = verdicts["power into 8 Ω, left"].reason
    assert word == "failed"
    assert "the output fell away there: the protection may have acted" in reason
    assert "and more" not in reason
    assert max(25.0 * wish.order.volts for wish in wishes if isinstance(wish, Play)) < 15.0 * 1.13
    assert len([wish for wish in wishes if isinstance(wish, Play)]) < 8


def test_a_ramp_says_how_far_it_may_go_and_how_long_it_may_take() -> None:
    def answer(wish: Play) -> Mapping[str, Mapping[str, float]]:
        volts = 25.0 * wish.order.volts
        return {"left": {"total_volts": volts, "thd_plus_noise": 0.001 if volts < 22.0 else 0.05}}

    _, _, _, wishes = carried_out("power", answer)
    assert "each rated for 100 W" in wishes[0].text  # twice the 50 W that are rated
    left = [wish.left_s for wish in wishes if isinstance(wish, Play)]
    assert all(one is not None for one in left)
    assert left == sorted(left, reverse=True)
    each_s = 0.5 + 0.2 + 5.0
    assert left[-1] >= each_s
    for index, one in enumerate(left):
        assert one >= (len(left) - index) * each_s - 1e-9


def test_a_load_that_raises_the_output_is_no_output_impedance() -> None:
    """Never zero ohm, and no damping factor without end: the two were not driven alike."""

    def answering(play: Play) -> Mapping[str, Mapping[str, float]]:
        return {"left": {"volts": 2.8 if math.isinf(play.order.load_ohm) else 2.9}}

    word, verdicts, recorded, _ = carried_out("damping", answering)
    assert word == "not measured"
    assert recorded["output impedance, left"].value is None
    assert "read more with the load than without" in verdicts["output impedance, left"].reason


def test_crosstalk_without_a_figure_of_the_driven_output_is_not_measured() -> None:
    word, verdicts, _, _ = carried_out("crosstalk", lambda _: {}, outputs=("left", "right"))
    assert word == "not measured"
    assert {one.outcome for one in verdicts.values()} == {Outcome.NOT_MEASURED}


def test_one_output_alone_has_no_crosstalk() -> None:
    assert carried_out("crosstalk", lambda _: {"left": {"volts": 1.0}})[0] == "not measured"


def test_an_output_without_figures_has_not_fallen_away() -> None:
    """Nothing is said of a protection or a fuse where only the bench gave nothing."""
    _, verdicts, _, _ = carried_out("power", lambda _: {"left": {}})
    assert verdicts["power into 8 Ω, left"].reason.endswith("no figure came from the audio bench")


def test_nobody_plays_louder_while_nothing_comes_back() -> None:
    """A recorder that is not connected must not lead to full power."""
    going = gains_of(Setting("A", ("left",), 8.0, True, 8.0, 0.01, 5.0, RATED))
    played, result = [], None
    with contextlib.suppress(CannotMeasure):
        while True:
            wish = going.send(result)
            assert isinstance(wish, Play)
            played.append(wish.order.volts)
            result = {"left": {"volts": 2e-4}}
    assert 0.0 < max(played) < 0.1


def test_what_is_no_number_is_kept_as_missing() -> None:
    sitting = Sitting(channels={}, watcher=None, leads=Leads(()))  # type: ignore[arg-type]
    kept = sitting.record("THD+N at 1 W, left", None, math.nan, Unit.PERCENT)
    assert (kept.value, kept.reason) == (None, "no figure came of it")


def test_nothing_is_played_by_itself_once_the_power_was_away() -> None:
    """A rest is not waited out into the next tone: a person says when to measure again."""
    rated = shipped_amplifiers()["Kestrow K-40"]
    sitting = Sitting(channels={}, watcher=None, leads=Leads(()), amplifier=rated)  # type: ignore[arg-type]
    sitting.findings[PATH_FINDING] = ALLOWED
    sitting.record("gain, left", None, 28.0, Unit.DECIBEL)
    line = SignalStep(id="a", title="A", kind="signal", measure="distortion", outputs=("left",))
    conduct = line.open(sitting)
    conduct.begin()
    conduct.answer("ready", Answer(1.0, "a", "ready"))
    (played,) = [one for one in sitting.outbox if isinstance(one, Request)]
    figures = {"volts": 20.0, "thd": 1e-4, "thd_floor": 1e-5, "thd_plus_noise": 2e-4}
    conduct.feed(AudioMeasured(2.0, played.id, "left", figures))
    conduct.feed(RequestClosed(2.0, played.id, True))
    assert conduct.deadline_s() is not None  # it rests
    conduct.lose_power()
    sitting.take_time(60.0)
    conduct.feed(Tick(60.0))

    assert [one.id for one in sitting.outbox if isinstance(one, Request)] == [played.id]
    assert conduct.deadline_s() is None
