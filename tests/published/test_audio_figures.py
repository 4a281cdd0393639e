"""Distortion, windows, weightings, intermodulation and sine fits against published and closed-form values."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from scipy import signal as scipy_signal

from drivers.audio.capture import Capture
from procedures.analysis.audio import level
from procedures.analysis.audio.distortion import distortion
from procedures.analysis.audio.intermodulation import difference, modulation
from procedures.analysis.audio.sine_fit import fit_sine
from procedures.analysis.audio.weighting import Weighting, noise, weight
from procedures.analysis.audio.windows import (
    COEFFICIENTS,
    LOBE_BINS,
    SEVEN_TERM,
    window,
)

DATA = Path(__file__).parent / "data"
RATE = 192_000.0


def tone(hz: float, seconds: float = 1.0, rate: float = RATE, amplitude: float = 1.0) -> np.ndarray:
    time = np.arange(round(seconds * rate)) / rate
    return amplitude * np.sin(2.0 * np.pi * hz * time + 0.3)


def band_limited(amplitudes: dict[int, float], hz: float, rate: float, seconds: float = 1.3) -> np.ndarray:
    """A sum of sines below half the rate: order to peak amplitude."""
    time = np.arange(round(seconds * rate)) / rate
    total = np.zeros_like(time)
    for order, amplitude in amplitudes.items():
        if order * hz < rate / 2.0:
            total += amplitude * np.sin(2.0 * np.pi * order * hz * time)
    return total


@pytest.mark.parametrize(
    ("rate", "percent"),
    # Closed form: odd harmonics 1/n of 997 Hz below half the rate; all of them make 48.3426 %.
    [(48_000.0, 46.1388), (96_000.0, 47.2531), (192_000.0, 47.8009)],
)
def test_a_band_limited_square_has_the_distortion_of_its_harmonics(rate: float, percent: float) -> None:
    square = band_limited({n: 1.0 / n for n in range(1, 200, 2)}, 997.0, rate)
    found = distortion(Capture(square, rate), band_hz=(20.0, rate / 2.0), harmonics=100)
    assert 100 * found.thd == pytest.approx(percent, abs=1e-3)


def test_a_square_within_twenty_kilohertz() -> None:
    # Closed form: odd harmonics 3 to 19 of 997 Hz (20 kHz limit).
    square = band_limited({n: 1.0 / n for n in range(1, 200, 2)}, 997.0, 192_000.0)
    found = distortion(Capture(square, 192_000.0), band_hz=(20.0, 20_000.0), harmonics=30)
    assert 100 * found.thd == pytest.approx(45.6860, abs=1e-3)


def test_a_triangle() -> None:
    # Closed form: sqrt(pi^4/96 - 1) = 12.1153 %; 95 harmonics of 997 Hz fit under 96 kHz and lack 0.0001 %.
    orders = {n: (-1.0) ** ((n - 1) // 2) / n**2 for n in range(1, 97, 2)}
    found = distortion(Capture(band_limited(orders, 997.0, RATE), RATE), band_hz=(20.0, 96e3), harmonics=100)
    assert 100 * found.thd == pytest.approx(12.1153, abs=2e-3)


@pytest.mark.parametrize(
    ("level_", "percent"),
    # Closed form of a hard-clipped unit sine: a = asin c, b1 = 2/pi (a + c sqrt(1-c²)),
    # ms = 2/pi ((a - sin a cos a)/2 + c² (pi/2 - a)), THD = sqrt(2 ms / b1² - 1).
    [(0.99, 0.28618), (0.95, 1.92401), (0.9, 4.21993), (0.8, 8.97858), (0.5, 23.29381)],
)
def test_a_clipped_sine(level_: float, percent: float) -> None:
    clipped = np.clip(tone(97.0, 4.0), -level_, level_)
    found = distortion(Capture(clipped, RATE), band_hz=(20.0, 96e3), harmonics=800)
    assert 100 * found.thd == pytest.approx(percent, rel=2e-3)


@pytest.mark.parametrize(
    ("zone", "percent"),
    # Closed form of a unit sine through a dead zone d: the signature of too little bias.
    [(0.001, 0.061561), (0.01, 0.616476), (0.05, 3.10334), (0.1, 6.26751), (0.2, 12.84149)],
)
def test_a_dead_zone(zone: float, percent: float) -> None:
    sine = tone(97.0, 4.0)
    crossed = np.sign(sine) * np.maximum(np.abs(sine) - zone, 0.0)
    found = distortion(Capture(crossed, RATE), band_hz=(20.0, 96e3), harmonics=800)
    assert 100 * found.thd == pytest.approx(percent, rel=3e-3)


def test_a_polynomial_splits_into_its_harmonics() -> None:
    # Closed form: y = x + .02 x² + .01 x³ of a unit sine: H1 1.0075, H2 .01, H3 .0025, THD 1.023103 %.
    sine = tone(997.0)
    found = distortion(Capture(sine + 0.02 * sine**2 + 0.01 * sine**3, RATE), harmonics=5)
    assert found.fundamental.volts * math.sqrt(2) == pytest.approx(1.0075, rel=1e-6)
    assert 100 * found.thd == pytest.approx(1.023103, rel=1e-5)
    assert found.order(2) == pytest.approx(0.01 / 1.0075, rel=1e-5)
    assert found.order(3) == pytest.approx(0.0025 / 1.0075, rel=1e-5)


@pytest.mark.parametrize("hz", [1000.0, 46.0 * 48_000.0 / 65_536.0 * 30.0])
def test_two_harmonics_read_the_same_wherever_the_tone_lies(hz: float) -> None:
    # Closed form: sqrt(.01² + .005²) = -39.03090 dB.
    time = np.arange(65_536) / 48_000.0
    volts = sum(a * np.sin(2 * np.pi * k * hz * time + k) for k, a in ((1, 1.0), (2, 0.01), (3, 0.005)))
    found = distortion(Capture(np.asarray(volts), 48_000.0), harmonics=4)
    assert 20 * math.log10(found.thd) == pytest.approx(-39.03090, abs=1e-4)


@pytest.mark.parametrize(("bits", "ratio_db"), [(8, 49.93), (16, 98.09)])
def test_quantising_leaves_the_textbook_noise(bits: int, ratio_db: float) -> None:
    # Closed form: 6.0206 N + 1.7609 dB for a full-scale sine.
    step = 2.0 ** (1 - bits)
    volts = np.round(tone(997.1234, 2.0, amplitude=1.0 - step) / step) * step
    found = distortion(Capture(volts, RATE), band_hz=(0.0, RATE / 2))
    assert -20 * math.log10(found.thd_plus_noise) == pytest.approx(ratio_db, abs=0.2)


@pytest.mark.parametrize(
    ("name", "gain", "enbw", "scalloping"),
    # Harris 1978, Table 1, recomputed to four digits (it prints 1.78 dB for Hamming; the sum gives 1.75).
    [
        ("rectangular", 1.0, 1.0, 3.92),
        ("Hann", 0.5, 1.5, 1.42),
        ("Hamming", 0.54, 1.3628, 1.75),
        ("Blackman", 0.42, 1.7268, 1.10),
        ("four-term Blackman-Harris", 0.35875, 2.0044, 0.83),
        ("Nuttall", 0.36358, 1.9761, 0.85),
        ("flat-top", 0.21558, 3.7702, 0.01),
    ],
)
def test_windows_have_their_published_figures(name: str, gain: float, enbw: float, scalloping: float) -> None:
    shape = window(name, 4096)
    half_a_bin = np.exp(-1j * np.pi * np.arange(4096) / 4096)
    assert shape.mean() == pytest.approx(gain, abs=5e-6)
    assert np.mean(shape**2) / shape.mean() ** 2 == pytest.approx(enbw, abs=5e-5)
    lost = abs(np.sum(shape * half_a_bin)) / np.sum(shape)
    assert -20.0 * math.log10(lost) == pytest.approx(scalloping, abs=6e-3)


def test_windows_equal_those_of_a_reference_library() -> None:
    # Reference: scipy.signal.windows.general_cosine, periodic.
    for name, coefficients in COEFFICIENTS.items():
        reference = scipy_signal.windows.general_cosine(1000, coefficients, sym=False)
        assert np.allclose(window(name, 1000), reference, atol=1e-12)


def test_the_window_for_figures_hides_its_side_lobes() -> None:
    # Albrecht 2001: highest side lobe of the seven-term window -180 dB - recalled; found here by transform.
    length, pad = 512, 64
    lines = np.abs(np.fft.rfft(window(SEVEN_TERM, length), length * pad))
    assert 20 * math.log10(lines[LOBE_BINS * pad :].max() / lines[0]) < -179.0


def _rows(name: str) -> list[list[float]]:
    with open(DATA / name, newline="", encoding="utf-8") as file:
        return [[float(cell) for cell in row] for row in list(csv.reader(file))[1:]]


def test_a_and_c_weighting_keep_to_the_standards_table() -> None:
    # IEC 61672-1:2013, table of nominal thirds, at the exact frequencies 1000 * 10^(n/10).
    for n, _nominal, a, c, _z in _rows("iec_61672_1_2013_A_C_weighting.csv"):
        hz = np.array([1000.0 * 10.0 ** (n / 10.0)])
        assert 20 * math.log10(weight(hz, Weighting.A)[0]) == pytest.approx(a, abs=0.0505)
        assert 20 * math.log10(weight(hz, Weighting.C)[0]) == pytest.approx(c, abs=0.0505)


def test_the_bs468_curve_keeps_to_its_table() -> None:
    # ITU-R BS.468-4, Table 1.
    for hz, decibels in _rows("itu_r_bs468_4_weighting.csv"):
        assert 20 * math.log10(weight(np.array([hz]), Weighting.BS468)[0]) == pytest.approx(
            decibels, abs=0.05
        )


def test_white_noise_weighted_by_a() -> None:
    # Computed from the curve's integral: -2.05 dB re unweighted for 20 Hz to 20 kHz.
    white = np.random.default_rng(5).normal(size=20 * 48_000)
    capture = Capture(white, 48_000.0)
    band = (20.0, 20_000.0)
    ratio = noise(capture, Weighting.A, band).volts / noise(capture, Weighting.NONE, band).volts
    assert 20 * math.log10(ratio) == pytest.approx(-2.05, abs=0.05)


def test_the_two_formulas_of_the_modulation_method_differ() -> None:
    # Closed form: 60 Hz and 7 kHz 4:1, a = .8, b = .2, y = x + .02 x² + .01 x³:
    # pairs added 3.30815 %, root of squares 2.33921 %.
    time = np.arange(round(2 * RATE)) / RATE
    x = 0.8 * np.sin(2 * np.pi * 60 * time) + 0.2 * np.sin(2 * np.pi * 7000 * time)
    found = modulation(Capture(x + 0.02 * x**2 + 0.01 * x**3, RATE))
    assert 100 * found.by_order == pytest.approx(3.30815, abs=2e-4)
    assert 100 * found.by_lines == pytest.approx(2.33921, abs=2e-4)


def test_difference_tones() -> None:
    # Closed form: 19 and 20 kHz, a = b = .5, same polynomial: d2 0.497203 %, d3 0.186451 %.
    time = np.arange(round(2 * RATE)) / RATE
    x = 0.5 * np.sin(2 * np.pi * 19_000 * time) + 0.5 * np.sin(2 * np.pi * 20_000 * time)
    found = difference(Capture(x + 0.02 * x**2 + 0.01 * x**3, RATE))
    assert 100 * found.second == pytest.approx(0.497203, abs=2e-5)
    assert 100 * found.third == pytest.approx(0.186451, abs=2e-5)


def test_the_four_parameter_sine_fit() -> None:
    # IEEE 1057 method; values reproduced with two independent fits of the same draw.
    n = np.arange(1000)
    volts = (
        0.1
        + 1.5 * np.cos(2 * np.pi * 0.0123456 * n + 0.7)
        + 1e-3 * np.random.default_rng(1).normal(size=1000)
    )
    found = fit_sine(volts, 1.0, 0.01235)
    assert found.hz == pytest.approx(0.01234561301, abs=1e-11)
    assert found.amplitude == pytest.approx(1.50001772, abs=1e-8)
    assert found.phase == pytest.approx(0.69999991, abs=1e-8)
    assert found.offset == pytest.approx(0.09994731, abs=1e-8)
    assert found.residual_rms == pytest.approx(9.84898e-4, abs=1e-9)


@pytest.mark.parametrize(
    ("volts", "ohm", "watts"),
    [(28.2843, 8.0, 100.0), (20.0, 8.0, 50.0), (10.0, 4.0, 25.0), (2.8284, 8.0, 1.0)],
)
def test_power(volts: float, ohm: float, watts: float) -> None:
    # Closed form: V²/R.
    assert level.watts(volts, ohm) == pytest.approx(watts, rel=2e-5)


def test_levels_in_decibels() -> None:
    # Closed form: 0 dBu is sqrt(0.6) V; 0 dBV is +2.2185 dBu; 28.2843 V is 29.031 dBV and 31.249 dBu.
    assert level.decibels(1.0, level.DBU_VOLTS) == pytest.approx(2.2185, abs=1e-4)
    assert level.decibels(28.2843, 1.0) == pytest.approx(29.031, abs=1e-3)
    assert level.decibels(28.2843, level.DBU_VOLTS) == pytest.approx(31.249, abs=1e-3)
    assert pytest.approx(1.22765, abs=1e-5) == level.DBU_VOLTS * 10 ** (4 / 20)


@pytest.mark.parametrize(
    ("loaded", "ohm", "factor"), [(2.815920, 0.04, 200.0), (2.795062, 0.1, 80.0), (2.663529, 0.5, 16.0)]
)
def test_damping_factor_from_no_load_and_eight_ohm(loaded: float, ohm: float, factor: float) -> None:
    # Closed form: Zout = RL (V0/V1 - 1), DF = RL/Zout, 2.83 V without load.
    found = level.output_impedance(2.83, math.inf, loaded, 8.0)
    assert found.ohm == pytest.approx(ohm, rel=1e-4)
    assert found.damping_factor == pytest.approx(factor, rel=1e-4)
