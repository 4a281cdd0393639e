"""Hum: the lines at the mains frequency and its multiples, and what each may come from.

What a line may mean is a hint for the next look, never a finding.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from drivers.audio.capture import Capture
from procedures.analysis.audio.spectrum import Tone, spectrum

MULTIPLES = 10


@dataclass(frozen=True, slots=True)
class HumLine:
    """One multiple of the mains frequency."""

    multiple: int
    tone: Tone

    @property
    def may_mean(self) -> str:
        """Where such a line often comes from (common practice, no source)."""
        return line_may_mean(self.multiple)


def line_may_mean(multiple: int) -> str:
    """Where a line at a multiple of the mains often comes from (common practice, no source)."""
    if multiple == 1:
        return "may be an earth loop, a magnetic field or an open screen"
    if multiple == 2:
        return "may be ripple of the supply: reservoir capacitor, rectifier, or load on a rail"
    if multiple % 2 == 0:
        return "may be charging pulses of the rectifier reaching a signal return"
    return "may be a field of the transformer, saturated or close"


@dataclass(frozen=True, slots=True)
class Hum:
    """All lines that stand out of the noise, and their sum, in volts rms."""

    mains_hz: float
    lines: tuple[HumLine, ...]
    volts: float

    @property
    def strongest(self) -> HumLine | None:
        """The largest line; None where none stands out."""
        return max(self.lines, key=lambda line: line.tone.volts, default=None)


def hum(capture: Capture, mains_hz: float) -> Hum:
    """Find the lines of the mains in a capture without signal.

    A record of a second or more is needed at 50 Hz, or the lines run into each other.

    Raises:
        CannotMeasure: the capture is not fit, or too short.
    """
    lines = spectrum(capture)
    found = []
    for multiple in range(1, MULTIPLES + 1):
        if multiple * mains_hz > 0.45 * capture.rate_hz:
            break
        tone = lines.tone(multiple * mains_hz)
        if tone.told_from_noise:
            found.append(HumLine(multiple, tone))
    return Hum(mains_hz, tuple(found), math.sqrt(sum(line.tone.volts**2 for line in found)))
