"""Rules of the audio figures that no table gives: what is refused, what is said, what the search does."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.audio.capture import Capture
from procedures.analysis.audio import level
from procedures.analysis.audio.clipping import LevelSearch
from procedures.analysis.audio.distortion import distortion
from procedures.analysis.audio.fitness import CannotMeasure
from procedures.analysis.audio.hum import hum
from procedures.analysis.audio.intermodulation import modulation
from procedures.analysis.audio.orders import Order, Signal
from procedures.analysis.audio.residual import residual
from procedures.analysis.audio.response import exponential_sweep, stepped, swept, third_octaves
from procedures.analysis.audio.sine_fit import fit_sine
from procedures.analysis.audio.spectrum import spectrum
from procedures.analysis.audio.taking import figures
from procedures.analysis.audio.weighting import Weighting, noise

RATE = 48_000.0


def sine(hz: float, seconds: float = 1.0, amplitude: float = 1.0) -> np.ndarray:
    return amplitude * np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE)) / RATE)


@given(hz=st.floats(40.0, 20_000.0), amplitude=st.floats(1e-6, 1e3), phase=st.floats(0.0, 6.28))
def test_a_tone_has_its_level_and_frequency_wherever_it_lies(
    hz: float, amplitude: float, phase: float
) -> None:
    time = np.arange(48_000) / RATE
    found = spectrum(Capture(amplitude * np.sin(2 * np.pi * hz * time + phase), RATE)).strongest()
    assert found.volts == pytest.approx(amplitude / math.sqrt(2), rel=1e-6)
    assert found.hz == pytest.approx(hz, abs=2e-3)


@given(factor=st.floats(1e-3, 1e3))
def test_distortion_does_not_mind_the_level(factor: float) -> None:
    volts = sine(997.0) + 0.01 * sine(1994.0)
    assert distortion(Capture(factor * volts, RATE)).thd == pytest.approx(0.01, rel=1e-6)


def test_powers_add_up_to_the_mean_square() -> None:
    volts = np.random.default_rng(1).normal(size=200_000)
    lines = spectrum(Capture(volts, RATE))
    assert np.sum(lines.power) == pytest.approx(np.var(volts), rel=0.02)


def test_harmonics_under_the_noise_are_said_to_be_below_it() -> None:
    volts = sine(997.0) + np.random.default_rng(2).normal(0, 1e-2, 48_000)
    found = distortion(Capture(volts, RATE))
    assert found.below_floor or found.thd < 2 * found.thd_floor
    clean = distortion(Capture(sine(997.0) + 0.01 * sine(1994.0), RATE))
    assert not clean.below_floor


def test_what_lies_outside_the_band_is_missing_and_not_zero() -> None:
    """The third harmonic of 10 kHz is beyond 22 kHz, and of 15 kHz there is none at all."""
    order = Order(Signal.TONE, 1.0, 10_000.0, 0.1, drives=("left",))
    found = figures(order, Capture(sine(10_000.0), RATE, "left"))
    assert ("h2" in found, "h3" in found) == (True, False)
    order = Order(Signal.TONE, 1.0, 15_000.0, 0.1, drives=("left",))
    found = figures(order, Capture(sine(15_000.0), RATE, "left"))
    assert "volts" in found
    assert not {"thd", "thd_floor", "h2"} & found.keys()


def test_every_figure_says_its_conditions() -> None:
    found = distortion(Capture(sine(997.0) + 0.01 * sine(1994.0), RATE))
    said = found.noise_conditions.sentence()
    for part in ("over the total", "22 Hz to 22 kHz", "1 s at 48 kHz", "window"):
        assert part in said
    assert "over the fundamental" in found.conditions.sentence()


@pytest.mark.parametrize(
    ("capture", "sentence"),
    [
        (
            Capture(np.zeros(100), RATE, "left"),
            "the capture of left has 100 samples; record at least 1024, better a second or more.",
        ),
        (
            Capture(np.full(2000, np.nan), RATE, "left"),
            "the capture of left holds values that are no numbers; record it again.",
        ),
        (
            Capture(np.zeros(2000), RATE, "left", dropouts=2),
            "samples were lost 2 times in the capture of left; record it again with a longer buffer.",
        ),
        (
            Capture(np.clip(sine(997.0, amplitude=2.0), -1, 1), RATE, "", 1.0, 16),
            "32002 samples of the capture stand at the input's limit of 1 V; lower the input's gain or use a "
            "larger divider.",
        ),
        (Capture(np.zeros(4800), RATE), "there is no signal between 10 Hz and 24000 Hz."),
    ],
)
def test_what_cannot_be_measured_is_one_sentence(capture: Capture, sentence: str) -> None:
    with pytest.raises(CannotMeasure) as caught:
        distortion(capture)
    assert str(caught.value) == sentence


def test_a_tone_too_low_for_the_record_is_refused() -> None:
    with pytest.raises(CannotMeasure, match=r"50 Hz cannot be told apart in 0\.1 s"):
        hum(Capture(sine(50.0, 0.1), RATE), 50.0)


def test_hum_lines_are_found_and_hinted_at() -> None:
    volts = 1e-3 * sine(50.0, 2.0) + 3e-3 * sine(100.0, 2.0)
    volts += np.random.default_rng(3).normal(0, 1e-4, len(volts))
    found = hum(Capture(volts, RATE), 50.0)
    assert found.strongest is not None
    assert found.strongest.multiple == 2
    assert "ripple" in found.strongest.may_mean
    assert found.volts == pytest.approx(math.sqrt(1e-6 + 9e-6) / math.sqrt(2), rel=0.01)
    assert all(line.multiple in (1, 2) for line in found.lines)


def test_no_hum_is_no_line() -> None:
    found = hum(Capture(np.random.default_rng(4).normal(0, 1e-4, 96_000), RATE), 50.0)
    assert len(found.lines) <= 1  # a lobe of noise now and then stands out by chance


def test_a_missing_tone_is_said() -> None:
    volts = sine(7000.0) + np.random.default_rng(5).normal(0, 1e-4, 48_000)
    with pytest.raises(CannotMeasure, match="the tone at 60 Hz is missing"):
        modulation(Capture(volts, RATE))


def test_crossover_spikes_and_cut_tops_are_told_apart() -> None:
    clean = sine(997.3, 2.0)
    crossed = residual(Capture(np.sign(clean) * np.maximum(np.abs(clean) - 0.01, 0.0), RATE))
    cut = residual(Capture(np.clip(clean, -0.97, 0.97), RATE))
    assert crossed.crossing_share > 2 * cut.crossing_share
    assert cut.peaks_share > crossed.peaks_share
    at_peak = crossed.fundamental[np.argmin(np.abs(crossed.degrees - 90.0))]
    assert at_peak == pytest.approx(crossed.tone.amplitude, rel=1e-3)


def test_no_tone_is_no_sine_fit() -> None:
    with pytest.raises(CannotMeasure, match="no steady tone"):
        fit_sine(np.random.default_rng(6).normal(size=2000), 1.0, 0.2)


def test_thirds_have_the_ends_of_the_range() -> None:
    thirds = third_octaves()
    assert thirds[0] == pytest.approx(20.0, rel=0.01)
    assert thirds[-1] == pytest.approx(20_000.0, rel=0.01)
    assert 1000.0 in thirds
    assert len(thirds) == 31


def test_a_flat_amplifier_has_a_flat_response_both_ways() -> None:
    points = [(hz, Capture(10 * sine(hz, 0.5), RATE), 1 / math.sqrt(2)) for hz in (20.0, 1000.0, 20_000.0)]
    answer = stepped(points)
    assert answer.reference_gain == pytest.approx(10.0, rel=1e-6)
    assert answer.decibels == pytest.approx((0.0, 0.0, 0.0), abs=1e-3)
    sweep = exponential_sweep(10.0, 22_000.0, 1.0, RATE, 1.0)
    assert swept(sweep, Capture(10 * sweep, RATE)).worst(20.0, 20_000.0)[1] == pytest.approx(0.0, abs=1e-6)


def test_a_response_without_its_reference_is_refused() -> None:
    with pytest.raises(CannotMeasure, match="needs a tone at 1 kHz"):
        stepped([(50.0, Capture(sine(50.0), RATE), 1.0)])


def test_the_search_ends_between_two_close_levels() -> None:
    search = LevelSearch(0.01, -20.0, 0.0)
    while (level_db := search.next_db) is not None:
        search.feed(10.0 ** (level_db / 20.0), 0.001 if level_db < -3.3 else 0.05)
    assert search.volts_at_limit is not None
    assert 20 * math.log10(search.volts_at_limit) == pytest.approx(-3.3, abs=0.03)
    assert len(search.points) < 30


def test_the_search_does_not_take_low_level_noise_for_clipping() -> None:
    search = LevelSearch(0.01, -20.0, 0.0)
    while (level_db := search.next_db) is not None:
        search.feed(10.0 ** (level_db / 20.0), 0.05 if level_db < -15 or level_db > -5.5 else 0.001)
    assert search.volts_at_limit is not None
    assert 20 * math.log10(search.volts_at_limit) == pytest.approx(-5.5, abs=0.03)


@pytest.mark.parametrize(
    ("distortion_", "reason"),
    [
        (0.001, "the highest permitted level was reached below the limit"),
        (0.5, "the distortion was above the limit at every level"),
    ],
)
def test_a_search_without_answer_says_why(distortion_: float, reason: str) -> None:
    search = LevelSearch(0.01, -6.0, 0.0)
    while search.next_db is not None:
        search.feed(1.0, distortion_)
    assert search.volts_at_limit is None
    assert search.stopped_because == reason


def test_a_stopped_search_asks_for_nothing_more() -> None:
    search = LevelSearch(0.01, -6.0, 0.0)
    search.stop("the heatsink is hot")
    assert search.next_db is None
    with pytest.raises(ValueError, match="ended"):
        search.feed(1.0, 0.1)


def test_loads_that_do_not_differ_give_no_impedance() -> None:
    with pytest.raises(CannotMeasure, match="do not differ enough"):
        level.output_impedance(2.8, 8.0, 2.8, 8.0)


def test_a_difference_below_the_meters_is_not_resolved() -> None:
    assert not level.output_impedance(2.83, math.inf, 2.8299, 8.0).resolved
    assert level.output_impedance(2.83, math.inf, 2.80, 8.0).resolved


def test_the_offset_is_the_mean() -> None:
    assert level.offset_volts(Capture(0.012 + sine(1000.0), RATE)) == pytest.approx(0.012, abs=1e-9)


def test_a_load_of_nothing_takes_no_power() -> None:
    with pytest.raises(CannotMeasure, match="enter the measured resistance"):
        level.watts(10.0, 0.0)


def test_weighting_lowers_hum_and_says_its_name() -> None:
    capture = Capture(sine(100.0), RATE)
    weighted, plain = noise(capture, Weighting.A), noise(capture)
    assert weighted.volts < 0.2 * plain.volts
    assert str(weighted.weighting) == "A-weighted"
