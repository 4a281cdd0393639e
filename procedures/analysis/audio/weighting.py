"""Weightings of noise: A (IEC 61672-1), C, and the curve of ITU-R BS.468-4; noise and signal to noise.

The curve of BS.468-4 is applied to rms values; its quasi-peak meter is not imitated, and the result says so.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from drivers.audio.capture import Capture
from procedures.analysis.audio.distortion import BAND_HZ
from procedures.analysis.audio.spectrum import Spectrum, spectrum

# IEC 61672-1, Annex: pole frequencies; they follow from 1 kHz, 10^1.5, 10^3.9 and 10^2.45 Hz.
_POLES_HZ = (20.598997, 107.65265, 737.86223, 12194.217)


class Weighting(StrEnum):
    """How frequencies are weighted."""

    NONE = "unweighted"
    A = "A-weighted"
    C = "C-weighted"
    BS468 = "ITU-R BS.468 curve, rms"


def _a(hz: NDArray[np.float64]) -> NDArray[np.float64]:
    f1, f2, f3, f4 = (pole**2 for pole in _POLES_HZ)
    square = hz**2
    return f4 * square**2 / ((square + f1) * np.sqrt((square + f2) * (square + f3)) * (square + f4))


def _c(hz: NDArray[np.float64]) -> NDArray[np.float64]:
    f1, f4 = _POLES_HZ[0] ** 2, _POLES_HZ[3] ** 2
    square = hz**2
    return f4 * square / ((square + f1) * (square + f4))


def _bs468(hz: NDArray[np.float64]) -> NDArray[np.float64]:
    # The rational approximation of the recommendation's network; with +18.246 dB it lies within
    # 0.046 dB of every point of the table.
    h1 = -4.737338981378384e-24 * hz**6 + 2.043828333606125e-15 * hz**4 - 1.363894795463638e-7 * hz**2 + 1.0
    h2 = 1.306612257412824e-19 * hz**5 - 2.118150887518656e-11 * hz**3 + 5.559488023498642e-4 * hz
    return 1.246332637532143e-4 * hz / np.sqrt(h1**2 + h2**2)


_CURVES: dict[Weighting, Callable[[NDArray[np.float64]], NDArray[np.float64]]] = {
    Weighting.A: lambda hz: _a(hz) / _a(np.array([1000.0])),
    Weighting.C: lambda hz: _c(hz) / _c(np.array([1000.0])),
    Weighting.BS468: lambda hz: 10.0 ** (18.246265 / 20.0) * _bs468(hz),
    Weighting.NONE: np.ones_like,
}


def weight(hz: NDArray[np.float64], weighting: Weighting) -> NDArray[np.float64]:
    """Amplitude factors at some frequencies, 1 at 1 kHz; same shape."""
    return _CURVES[weighting](np.asarray(hz, dtype=np.float64))


@dataclass(frozen=True, slots=True)
class Noise:
    """The rms noise of a band under a weighting, in volts."""

    volts: float
    weighting: Weighting
    low_hz: float
    high_hz: float
    seconds: float


def noise(
    capture: Capture, weighting: Weighting = Weighting.NONE, band_hz: tuple[float, float] = BAND_HZ
) -> Noise:
    """Measure the noise and hum of a capture without signal; raises CannotMeasure when it is not fit."""
    return noise_of(spectrum(capture), weighting, band_hz)


def noise_of(
    lines: Spectrum, weighting: Weighting = Weighting.NONE, band_hz: tuple[float, float] = BAND_HZ
) -> Noise:
    """The same of a spectrum."""
    high = min(band_hz[1], lines.rate_hz / 2.0)
    band = lines.bins(band_hz[0], high)
    factors = weight(lines.hz[band], weighting)
    volts = math.sqrt(float(np.sum(lines.power[band] * factors**2)))
    return Noise(volts, weighting, band_hz[0], high, lines.samples / lines.rate_hz)
