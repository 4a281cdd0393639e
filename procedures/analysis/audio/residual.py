"""The residual: what is left of one period when the fundamental is taken out, and what its shape may tell.

Spikes at the crossings of zero grow with too little bias; a shape that follows the signal's level with a step
in gain where one transistor of the pair leaves the work grows with much of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivers.audio.capture import Capture
from procedures.analysis.audio.sine_fit import Sine, fit_sine
from procedures.analysis.audio.spectrum import spectrum

POINTS = 360
_CROSSING_DEGREES = 20.0


@dataclass(frozen=True, slots=True, eq=False)
class Residual:
    """One period, averaged over all of the capture.

    Attributes:
        degrees: shape (POINTS,), 0 where the fundamental crosses zero upwards.
        fundamental: shape (POINTS,), volts.
        volts: shape (POINTS,), what is left, noise averaged down.
        tone: the fundamental that was taken out.
    """

    degrees: NDArray[np.float64]
    fundamental: NDArray[np.float64]
    volts: NDArray[np.float64]
    tone: Sine

    @property
    def rms(self) -> float:
        """Root mean square of the averaged residual, volts."""
        return float(np.sqrt(np.mean(self.volts**2)))

    @property
    def crossing_share(self) -> float:
        """Share of the residual's power within 20 degrees of the zero crossings (0 to 1; 0.22 if even)."""
        away = np.abs((self.degrees + 90.0) % 180.0 - 90.0)
        power = self.volts**2
        total = float(np.sum(power))
        return float(np.sum(power[away <= _CROSSING_DEGREES]) / total) if total > 0.0 else 0.0

    @property
    def peaks_share(self) -> float:
        """Share of the residual's power within 30 degrees of the two peaks: large when the tops are cut."""
        away = np.abs((self.degrees % 180.0) - 90.0)
        power = self.volts**2
        total = float(np.sum(power))
        return float(np.sum(power[away <= 30.0]) / total) if total > 0.0 else 0.0


def residual(capture: Capture) -> Residual:
    """Average the period and take the fundamental out.

    Raises:
        CannotMeasure: not fit, no tone, or too few periods for a spectrum.
    """
    near = spectrum(capture).strongest().hz
    tone = fit_sine(capture.volts, capture.rate_hz, near)
    time = np.arange(len(capture.volts)) / capture.rate_hz
    angle = 2.0 * np.pi * tone.hz * time + tone.phase
    left = capture.volts - tone.offset - tone.amplitude * np.cos(angle)
    # From cosine to sine: zero degrees is the crossing upwards.
    degrees = np.degrees(angle) + 90.0
    place = np.floor(degrees % 360.0 * POINTS / 360.0).astype(np.int64) % POINTS
    counts = np.bincount(place, minlength=POINTS)
    sums = np.bincount(place, weights=left, minlength=POINTS)
    centre = (np.arange(POINTS) + 0.5) * 360.0 / POINTS
    filled = counts > 0
    mean = np.interp(centre, centre[filled], sums[filled] / counts[filled], period=360.0)
    return Residual(centre, tone.amplitude * np.sin(np.radians(centre)), mean, tone)
