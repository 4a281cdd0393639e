"""Frequency response: stepped tones as the answer, an exponential sweep as the quick look.

Each tone of the stepped way is fitted by least squares at its known frequency in its own capture. The sweep
is evaluated by plain spectral division: a window on an impulse response would cost the lowest octave.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivers.audio.capture import Capture
from procedures.analysis.audio.fitness import CannotMeasure, require_fit
from procedures.analysis.audio.sine_fit import fit_harmonics

REFERENCE_HZ = 1000.0


def third_octaves(low_hz: float = 20.0, high_hz: float = 20_000.0) -> tuple[float, ...]:
    """Exact third-octave frequencies of IEC 61260-1, 1000 * 10^(n/10), with the ends of the range itself."""
    first, last = math.ceil(10 * math.log10(low_hz / 1000.0)), math.floor(10 * math.log10(high_hz / 1000.0))
    inner = [1000.0 * 10.0 ** (n / 10.0) for n in range(first, last + 1)]
    ends = [end for end in (low_hz, high_hz) if all(abs(end / hz - 1.0) > 0.02 for hz in inner)]
    return tuple(sorted([*inner, *ends]))


@dataclass(frozen=True, slots=True)
class Response:
    """Gain at some frequencies in dB re 1 kHz, and the gain at 1 kHz itself as a factor."""

    hz: tuple[float, ...]
    decibels: tuple[float, ...]
    reference_gain: float
    method: str

    def at(self, hz: float) -> float:
        """The value at a frequency, straight between neighbours on a logarithmic axis."""
        return float(np.interp(math.log(hz), np.log(self.hz), self.decibels))

    def worst(self, low_hz: float, high_hz: float) -> tuple[float, float]:
        """The frequency and value farthest from 0 dB in a band.

        Raises:
            CannotMeasure: no point lies in the band.
        """
        inside = [(f, d) for f, d in zip(self.hz, self.decibels, strict=True) if low_hz <= f <= high_hz]
        if not inside:
            raise CannotMeasure(f"no point of the response lies between {low_hz:g} and {high_hz:g} Hz.")
        return max(inside, key=lambda point: abs(point[1]))


def stepped(points: Sequence[tuple[float, Capture, float]]) -> Response:
    """The response from one capture a tone: (frequency, output, rms volts at the input).

    Raises:
        CannotMeasure: a capture is not fit, 1 kHz is missing, or a tone was not driven.
    """
    gains: list[tuple[float, float]] = []
    for hz, capture, drive in points:
        require_fit(capture)
        if not drive > 0.0:
            raise CannotMeasure(f"the drive at {hz:g} Hz is zero; the gain cannot be told.")
        amplitude = abs(fit_harmonics(capture.volts, capture.rate_hz, hz, 1)[0])
        gains.append((hz, amplitude / math.sqrt(2.0) / drive))
    gains.sort()
    reference = [gain for hz, gain in gains if abs(hz / REFERENCE_HZ - 1.0) < 0.01]
    if not reference or not reference[0] > 0.0:
        raise CannotMeasure("the response needs a tone at 1 kHz that reaches the output.")
    return Response(
        tuple(hz for hz, _ in gains),
        tuple(20.0 * math.log10(max(gain, 1e-300) / reference[0]) for _, gain in gains),
        reference[0],
        "stepped tones, least squares",
    )


def exponential_sweep(
    low_hz: float, high_hz: float, seconds: float, rate_hz: float, amplitude: float
) -> NDArray[np.float64]:
    """A sweep whose frequency grows by equal ratios in equal times, its ends eased, shape (n,), volts."""
    time = np.arange(round(seconds * rate_hz)) / rate_hz
    ratio = math.log(high_hz / low_hz)
    phase = 2.0 * math.pi * low_hz * seconds / ratio * (np.exp(time * ratio / seconds) - 1.0)
    sweep = amplitude * np.sin(phase)
    ease = max(2, round(0.005 * rate_hz))
    ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(ease) / ease)
    sweep[:ease] *= ramp
    sweep[-ease:] *= ramp[::-1]
    return sweep


def swept(stimulus: NDArray[np.float64], capture: Capture, hz: Sequence[float] | None = None) -> Response:
    """The quick response: output spectrum over input spectrum, smoothed over a sixth of an octave.

    Capture and stimulus must start together and be of one length; pad the stimulus with silence for the tail.

    Raises:
        CannotMeasure: lengths differ, or the capture is not fit.
    """
    require_fit(capture)
    if len(stimulus) != len(capture.volts):
        raise CannotMeasure(
            f"the sweep has {len(stimulus)} samples and the capture {len(capture.volts)}; they must be equal."
        )
    sent, got = np.fft.rfft(stimulus), np.fft.rfft(capture.volts)
    bin_hz = capture.rate_hz / len(stimulus)
    wanted = tuple(hz) if hz is not None else third_octaves()
    cross, power = got * np.conj(sent), np.abs(sent) ** 2

    def gain(centre: float) -> float:
        first = max(1, round(centre * 2.0 ** (-1 / 12) / bin_hz))
        last = min(len(power), max(first + 1, round(centre * 2.0 ** (1 / 12) / bin_hz) + 1))
        part = slice(first, last)
        # Mean of |H|², each bin by the drive it had: phase turning inside the band must not cancel.
        seen = np.abs(cross[part]) ** 2 / np.maximum(power[part], 1e-300)
        return float(np.sqrt(np.sum(seen) / np.sum(power[part])))

    reference = gain(REFERENCE_HZ)
    if not reference > 0.0:
        raise CannotMeasure("nothing of the sweep reached the capture; check the connections.")
    return Response(
        wanted,
        tuple(20.0 * math.log10(max(gain(f), 1e-300) / reference) for f in wanted),
        reference,
        "exponential sweep, spectral division",
    )
