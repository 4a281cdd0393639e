"""Intermodulation of two tones: the modulation method (low and high, 4:1) and the difference-tone method.

Two formulas for the modulation method are in use and differ; both are given, each by its name.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from drivers.audio.capture import Capture
from procedures.analysis.audio.fitness import CannotMeasure
from procedures.analysis.audio.spectrum import Spectrum, spectrum


@dataclass(frozen=True, slots=True)
class Modulation:
    """Modulation of the high tone by the low one, as fractions of the high tone.

    Attributes:
        by_order: the sum of each pair of sidebands, orders combined by squares: what a demodulator reads.
        by_lines: root of the sum of all sidebands' squares.
        floor: what the noise alone would have made of `by_lines`.
    """

    low_hz: float
    high_hz: float
    by_order: float
    by_lines: float
    floor: float

    def sentence(self) -> str:
        """Which formula gave which figure."""
        return (
            f"{100 * self.by_order:.3g} % by the amplitude modulation of {self.high_hz:g} Hz (sideband pairs "
            f"added), {100 * self.by_lines:.3g} % by the root of the sidebands' squares"
        )


@dataclass(frozen=True, slots=True)
class Difference:
    """Difference-tone distortion, as fractions of the sum of both tones' voltages."""

    low_hz: float
    high_hz: float
    second: float
    third: float
    floor: float


def modulation(
    capture: Capture, low_hz: float = 60.0, high_hz: float = 7000.0, orders: int = 2
) -> Modulation:
    """Measure the sidebands about the high tone (SMPTE RP 120, DIN 45403 - recalled).

    Raises:
        CannotMeasure: not fit, a tone is missing, or the record is too short to part the sidebands.
    """
    lines = spectrum(capture)
    carrier = _required(lines, high_hz)
    _required(lines, low_hz)
    pairs, noise = [], 0.0
    for order in range(1, orders + 1):
        below, above = lines.tone(high_hz - order * low_hz), lines.tone(high_hz + order * low_hz)
        pairs.append((below.volts, above.volts))
        noise += below.noise_volts**2 + above.noise_volts**2
    return Modulation(
        low_hz,
        high_hz,
        math.sqrt(sum((a + b) ** 2 for a, b in pairs)) / carrier,
        math.sqrt(sum(a**2 + b**2 for a, b in pairs)) / carrier,
        math.sqrt(noise) / carrier,
    )


def difference(capture: Capture, low_hz: float = 19_000.0, high_hz: float = 20_000.0) -> Difference:
    """Measure the second-order product at the difference and the third-order pair beside the tones.

    Raises:
        CannotMeasure: not fit, a tone is missing, or the record is too short.
    """
    lines = spectrum(capture)
    tones = _required(lines, low_hz) + _required(lines, high_hz)
    second = lines.tone(high_hz - low_hz)
    third = [lines.tone(2 * low_hz - high_hz), lines.tone(2 * high_hz - low_hz)]
    noise = second.noise_volts**2 + sum(t.noise_volts**2 for t in third)
    return Difference(
        low_hz, high_hz, second.volts / tones, sum(t.volts for t in third) / tones, math.sqrt(noise) / tones
    )


def _required(lines: Spectrum, hz: float) -> float:
    tone = lines.tone(hz)
    if not tone.told_from_noise:
        raise CannotMeasure(f"the tone at {hz:g} Hz is missing; check what the generator plays.")
    return tone.volts
