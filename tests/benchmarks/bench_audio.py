"""How true the audio figures are, and what they cost beside the bare transform.

Every tone lies off the bins. The naive way in the same run is a Hann window, or no window at all.
"""

from __future__ import annotations

import math
import statistics
import time
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from drivers.audio.capture import Capture
from procedures.analysis.audio.clipping import LevelSearch
from procedures.analysis.audio.distortion import distortion, distortion_of
from procedures.analysis.audio.response import exponential_sweep, stepped, swept, third_octaves
from procedures.analysis.audio.sine_fit import fit_harmonics
from procedures.analysis.audio.spectrum import spectrum

RATE = 48_000.0
LENGTH = 65_536
FULL = 10 ** (-0.9 / 20.0)


def run(seed: int) -> dict[str, Any]:
    """All figures of one seed."""
    rng = np.random.default_rng(seed)
    return {
        "harmonics at -100 dB, 24 bit": _harmonics(rng),
        "THD+N floor": _floors(rng),
        "response": _response(rng),
        "power at 1 %": _power(rng),
        "cost of 2^18 points": _cost(rng),
    }


def _quantised(volts: NDArray[np.float64], bits: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """Samples of a converter with triangular dither of two steps from peak to peak, full scale 1 V."""
    step = 2.0 ** (1 - bits)
    dither = rng.uniform(-0.5, 0.5, len(volts)) + rng.uniform(-0.5, 0.5, len(volts))
    return np.asarray(np.round(volts / step + dither) * step)


def _harmonics(rng: np.random.Generator) -> dict[str, Any]:
    lobes, squares, naive = [], [], []
    time_s = np.arange(LENGTH) / RATE
    for _ in range(40):
        hz = rng.uniform(900.0, 1100.0)
        volts = FULL * np.sin(2 * np.pi * hz * time_s + rng.uniform(0, 6))
        for order in range(2, 6):
            volts += FULL * 1e-5 * np.sin(2 * np.pi * order * hz * time_s + rng.uniform(0, 6))
        volts = _quantised(volts, 24, rng)
        found = distortion(Capture(volts, RATE), harmonics=4)
        lobes.append(20 * math.log10(found.thd) - 20 * math.log10(2e-5))
        fitted = np.abs(fit_harmonics(volts, RATE, found.fundamental.hz, 5))
        squares.append(20 * math.log10(float(np.linalg.norm(fitted[1:]) / fitted[0])) - 20 * math.log10(2e-5))
        bare = np.abs(np.fft.rfft(volts))
        at = [round(order * hz * LENGTH / RATE) for order in range(1, 6)]
        naive.append(
            20 * math.log10(float(np.linalg.norm(bare[at[1:]]) / bare[at[0]])) - 20 * math.log10(2e-5)
        )
    worst = max(abs(x) for x in lobes)
    return {
        "worst error, spectrum, dB": worst,
        "worst error, least squares, dB": max(abs(x) for x in squares),
        "worst error, no window (naive), dB": max(abs(x) for x in naive),
        "wanted, dB": 0.01,
        "met": worst <= 0.01,
    }


def _floors(rng: np.random.Generator) -> dict[str, Any]:
    rows: dict[str, Any] = {}
    for rate in (48_000.0, 192_000.0):
        for bits in (16, 24):
            time_s = np.arange(LENGTH) / rate
            hz = rng.uniform(900.0, 1100.0)
            volts = _quantised(FULL * np.sin(2 * np.pi * hz * time_s), bits, rng)
            lines, hann = spectrum(Capture(volts, rate)), spectrum(Capture(volts, rate), "Hann")
            # Closed form: dither and rounding make 3/12 of a step squared, spread to half the rate.
            step = 2.0 ** (1 - bits)
            in_band = min(22_000.0, rate / 2) / (rate / 2)
            theory = 10 * math.log10(step**2 / 4.0 * in_band / (FULL**2 / 2.0))
            got = 20 * math.log10(distortion_of(lines).thd_plus_noise)
            rows[f"{bits} bit, {rate / 1000:g} kHz"] = {
                "found, dB": got,
                "theory, dB": theory,
                "Hann window (naive), dB": 20 * math.log10(distortion_of(hann).thd_plus_noise),
                "met": abs(got - theory) <= 0.5,
            }
    return rows


def _response(rng: np.random.Generator) -> dict[str, Any]:
    """A first-order high pass at 8 Hz and low pass at 60 kHz, noise 80 dB down."""

    def true_gain(hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        return np.asarray(1.0 / (1.0 + 8.0 / (1j * np.maximum(hz, 1e-9))) / (1.0 + 1j * hz / 60_000.0))

    rate = 192_000.0
    noise = 1e-4
    points = []
    time_s = np.arange(round(0.25 * rate)) / rate
    for hz in third_octaves():
        gain = complex(true_gain(np.array([hz]))[0])
        volts = abs(gain) * np.sin(2 * np.pi * hz * time_s + np.angle(gain)) + rng.normal(
            0, noise, len(time_s)
        )
        points.append((hz, Capture(volts, rate), 1.0 / math.sqrt(2.0)))
    answer = stepped(points)
    truth = 20 * np.log10(np.abs(true_gain(np.array(answer.hz))) / abs(true_gain(np.array([1000.0]))[0]))
    worst = float(np.max(np.abs(np.array(answer.decibels) - truth)))
    sweep = np.concatenate([exponential_sweep(10.0, 24_000.0, 3.0, rate, 1.0), np.zeros(round(0.5 * rate))])
    lines = np.fft.rfft(sweep)
    out = np.fft.irfft(lines * true_gain(np.fft.rfftfreq(len(sweep), 1 / rate)), len(sweep))
    quick = swept(sweep, Capture(out + rng.normal(0, noise, len(out)), rate), answer.hz)
    return {
        "worst error, stepped tones, dB": worst,
        "worst error, sweep, dB": float(np.max(np.abs(np.array(quick.decibels) - truth))),
        "wanted, dB": 0.01,
        "met": worst <= 0.01,
    }


def _clipped_distortion(drive: float) -> float:
    """Closed form: THD of a sine of peak `drive` clipped at 1, referred to the total for THD+N."""
    if drive <= 1.0:
        return 0.0
    c = 1.0 / drive
    a = math.asin(c)
    b1 = 2 / math.pi * (a + c * math.sqrt(1 - c * c))
    mean = 2 / math.pi * ((a - math.sin(a) * math.cos(a)) / 2 + c * c * (math.pi / 2 - a))
    return math.sqrt(max(0.0, 1.0 - b1 * b1 / (2.0 * mean)))


def _power(rng: np.random.Generator) -> dict[str, Any]:
    rate, errors, steps = 192_000.0, [], []
    time_s = np.arange(LENGTH) / rate
    for _ in range(12):
        hz, ceiling = rng.uniform(950.0, 1050.0), rng.uniform(25.0, 60.0)
        search = LevelSearch(0.01, -20.0, 6.0)
        while (level := search.next_db) is not None:
            drive = 10.0 ** (level / 20.0) * ceiling
            volts = np.clip(drive * np.sin(2 * np.pi * hz * time_s), -ceiling, ceiling)
            volts += rng.normal(0.0, 1e-4, LENGTH)
            found = distortion(Capture(volts, rate), band_hz=(22.0, 95_000.0))
            search.feed(float(np.std(volts)), found.thd_plus_noise)
        drive = float(optimize.brentq(lambda x: _clipped_distortion(x) - 0.01, 1.0001, 1.5, xtol=1e-12))
        c = 1.0 / drive
        a = math.asin(c)
        square = 2 / math.pi * ((a - math.sin(a) * math.cos(a)) / 2 + c * c * (math.pi / 2 - a))
        truth = square * (drive * ceiling) ** 2
        assert search.volts_at_limit is not None
        errors.append(search.volts_at_limit**2 / truth - 1.0)
        steps.append(len(search.points))
    worst = max(abs(e) for e in errors)
    return {
        "worst error, %": 100 * worst,
        "measurements": statistics.mean(steps),
        "wanted, %": 0.3,
        "met": worst <= 0.003,
    }


def _cost(rng: np.random.Generator) -> dict[str, Any]:
    volts = np.sin(2 * np.pi * 997.3 * np.arange(2**18) / RATE) + rng.normal(0, 1e-5, 2**18)
    capture = Capture(volts, RATE)
    distortion(capture)
    ours, bare = [], []
    for _ in range(15):
        start = time.perf_counter()
        np.fft.rfft(volts)
        middle = time.perf_counter()
        distortion(capture)
        bare.append(middle - start)
        ours.append(time.perf_counter() - middle)
    ratio = statistics.median(ours) / statistics.median(bare)
    return {
        "analysis, ms": 1000 * statistics.median(ours),
        "bare transform, ms": 1000 * statistics.median(bare),
        "ratio": ratio,
        "wanted": 4.0,
        "met": ratio <= 4.0,
    }
