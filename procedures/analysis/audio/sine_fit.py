"""Least-squares sines: the four-parameter fit of IEEE 1057, and harmonics of a known frequency.

An answer that owes nothing to any window, so it checks the spectrum's.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from procedures.analysis.audio.fitness import CannotMeasure

_ROUNDS = 30


@dataclass(frozen=True, slots=True)
class Sine:
    """`offset + amplitude * cos(2 pi hz t + phase)`: t in seconds from the first sample, phase in radians."""

    hz: float
    amplitude: float
    phase: float
    offset: float
    residual_rms: float


def fit_sine(volts: NDArray[np.float64], rate_hz: float, near_hz: float) -> Sine:
    """Fit frequency, amplitude, phase and offset, from a frequency that is right to a fraction of a bin.

    Raises:
        CannotMeasure: the fit does not come to rest on one frequency.
    """
    time = np.arange(len(volts)) / rate_hz
    omega = 2.0 * np.pi * near_hz
    cosine, sine, _ = _linear_fit(volts, time, omega)
    for _ in range(_ROUNDS):
        cos, sin = np.cos(omega * time), np.sin(omega * time)
        slope = time * (-cosine * sin + sine * cos)
        columns = np.column_stack([cos, sin, np.ones_like(time), slope])
        # The slope's column is far larger than the others for low frequencies; lstsq alone would drop it.
        scale = np.linalg.norm(columns, axis=0)
        scale[scale == 0.0] = 1.0
        answer = np.linalg.lstsq(columns / scale, volts, rcond=None)[0] / scale
        cosine, sine, _, change = (float(x) for x in answer)
        omega += change
        if not (np.isfinite(omega) and abs(omega / (2.0 * np.pi) - near_hz) < rate_hz / 2.0):
            break
        if abs(change) < 1e-13 * max(abs(omega), 1.0):
            break
    if np.isfinite(omega) and abs(change) < 1e-9 * max(abs(omega), 1.0):
        found = _as_sine(volts, time, omega)
        # Noise alone gives the best of all sines about 2 ln(n) times the share of one of n parts.
        if found.amplitude**2 > 40.0 * found.residual_rms**2 / len(volts):
            return found
    raise CannotMeasure(f"no steady tone was found near {near_hz:.4g} Hz; is the generator on?")


def _linear_fit(
    volts: NDArray[np.float64], time: NDArray[np.float64], omega: float
) -> tuple[float, float, float]:
    columns = np.column_stack([np.cos(omega * time), np.sin(omega * time), np.ones_like(time)])
    cosine, sine, offset = np.linalg.lstsq(columns, volts, rcond=None)[0]
    return float(cosine), float(sine), float(offset)


def _as_sine(volts: NDArray[np.float64], time: NDArray[np.float64], omega: float) -> Sine:
    cosine, sine, offset = _linear_fit(volts, time, omega)
    left = volts - offset - cosine * np.cos(omega * time) - sine * np.sin(omega * time)
    return Sine(
        omega / (2.0 * np.pi),
        float(np.hypot(cosine, sine)),
        float(np.arctan2(-sine, cosine)),
        offset,
        float(np.sqrt(np.mean(left**2))),
    )


def fit_harmonics(
    volts: NDArray[np.float64], rate_hz: float, hz: float, count: int
) -> NDArray[np.complex128]:
    """Complex peak amplitudes of the fundamental and its harmonics, shape (count,), [0] the fundamental.

    Harmonics at or above half the rate are zero.
    """
    orders = [n for n in range(1, count + 1) if n * hz < 0.499 * rate_hz]
    angle = 2.0 * np.pi * hz * np.arange(len(volts)) / rate_hz
    step, turning = np.exp(1j * angle), np.exp(1j * angle)
    columns = [np.ones(len(volts))]
    for _ in orders:
        columns += [turning.real.copy(), turning.imag.copy()]
        turning = turning * step
    basis = np.column_stack(columns)
    # The columns are almost orthogonal over many periods: the normal equations lose nothing and are fast.
    answer = np.linalg.solve(basis.T @ basis, basis.T @ volts)
    found = np.zeros(count, dtype=np.complex128)
    for index, order in enumerate(orders):
        found[order - 1] = answer[1 + 2 * index] - 1j * answer[2 + 2 * index]
    return found
