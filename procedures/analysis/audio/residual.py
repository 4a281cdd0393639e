"""The residual: what is left of one period when the fundamental is taken out, and what its shape may tell.

With little bias the gain of an output stage falls where the signal crosses zero; with much of it both halves
conduct there and the gain rises until one of them leaves the work. The sign of the residual at the crossings
tells the two apart: `Residual.crossing_gain`.
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
_BEND_DEGREES = 30.0


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
    def crossing_gain(self) -> float:
        """Whether the gain falls (below zero) or rises at the crossings; from about -1 to 1, 0 for neither.

        The residual of a change of gain is the change itself times the signal. Straight through, it is odd
        about the crossing, with the sign of the change on the way up; behind a loop whose help falls with
        frequency it is the derivative of that, even, with the same sign. The larger of the two counts.
        """
        if self.rms == 0.0:
            return 0.0
        up = (self.degrees + 180.0) % 360.0 - 180.0
        down = self.degrees - 180.0
        # On the way down everything stands upside down.
        parts = [(up, self.volts), (down, -self.volts)]
        even = odd = 0.0
        for angle, volts in parts:
            near = np.abs(angle) < _BEND_DEGREES
            turn = np.pi * angle[near] / _BEND_DEGREES
            even += 0.5 * float(np.mean(volts[near] * np.cos(0.5 * turn)))
            odd += 0.5 * float(np.mean(volts[near] * np.sin(turn)))
        return (even if abs(even) > abs(odd) else odd) / self.rms

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
