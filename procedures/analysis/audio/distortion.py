"""Total harmonic distortion, single harmonics, and distortion with noise.

THD is referred to the fundamental, THD+N to the total (both ways are in use, so each result says its own).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from drivers.audio.capture import Capture
from procedures.analysis.audio.spectrum import Spectrum, Tone, spectrum
from procedures.analysis.audio.windows import LOBE_BINS

BAND_HZ = (22.0, 22_000.0)
HARMONICS = 10


@dataclass(frozen=True, slots=True)
class Conditions:
    """What a figure was taken under; printed beside it."""

    formula: str
    low_hz: float
    high_hz: float
    window: str
    seconds: float
    rate_hz: float

    def sentence(self) -> str:
        """All of it in one line."""
        return (
            f"{self.formula}; {_hz(self.low_hz)} to {_hz(self.high_hz)}; {self.seconds:.3g} s at "
            f"{_hz(self.rate_hz)}, {self.window} window"
        )


def _hz(hz: float) -> str:
    return f"{hz / 1000.0:.5g} kHz" if hz >= 1000.0 else f"{hz:.5g} Hz"


@dataclass(frozen=True, slots=True)
class Distortion:
    """What a sine came out as.

    Attributes:
        fundamental: the tone itself.
        harmonics: the second, third … as rms volts, as far as they lie in the band.
        thd: root of the harmonics' squares over the fundamental; noise under the lines taken off. Not a
            number where no harmonic lies in the band.
        thd_floor: what the noise alone would have made of it: below this `thd` says nothing.
        thd_plus_noise: root of all but the fundamental over the total.
    """

    fundamental: Tone
    harmonics: tuple[Tone, ...]
    thd: float
    thd_floor: float
    thd_plus_noise: float
    conditions: Conditions
    noise_conditions: Conditions

    def order(self, number: int) -> float | None:
        """One harmonic as a fraction of the fundamental; None when it lies outside the band."""
        index = number - 2
        if not 0 <= index < len(self.harmonics):
            return None
        return self.harmonics[index].volts / self.fundamental.volts

    @property
    def below_floor(self) -> bool:
        """Whether the noise hides the harmonics."""
        return self.thd < self.thd_floor


def distortion(
    capture: Capture,
    *,
    band_hz: tuple[float, float] = BAND_HZ,
    near_hz: float | None = None,
    harmonics: int = HARMONICS,
) -> Distortion:
    """Measure the distortion of a capture that holds one tone.

    Raises:
        CannotMeasure: not fit for figures, or no tone in it.
    """
    return distortion_of(spectrum(capture), band_hz=band_hz, near_hz=near_hz, harmonics=harmonics)


def distortion_of(
    lines: Spectrum,
    *,
    band_hz: tuple[float, float] = BAND_HZ,
    near_hz: float | None = None,
    harmonics: int = HARMONICS,
) -> Distortion:
    """The same of a spectrum; raises CannotMeasure without a tone."""
    around = (10.0, None) if near_hz is None else (near_hz * 0.9, near_hz * 1.1)
    fundamental = lines.strongest(*around)
    low, high = band_hz[0], min(band_hz[1], lines.rate_hz / 2.0)
    found = _harmonics(lines, fundamental, high, harmonics)
    squares = sum(max(0.0, h.volts**2 - h.noise_volts**2) for h in found)
    noise = sum(h.noise_volts**2 for h in found)
    middle = round(fundamental.hz / lines.bin_hz)
    band = lines.bins(low, high)
    total = float(np.sum(lines.power[band]))
    lobe = slice(max(band.start, middle - LOBE_BINS), min(band.stop, middle + LOBE_BINS + 1))
    # Adding up the two sides, because the difference of two nearly equal sums would be rounding.
    rest = float(np.sum(lines.power[band.start : lobe.start]) + np.sum(lines.power[lobe.stop : band.stop]))
    seconds = lines.samples / lines.rate_hz
    made = Conditions(
        f"root of the squares of harmonics 2 to {len(found) + 1} over the fundamental",
        low,
        high,
        lines.window,
        seconds,
        lines.rate_hz,
    )
    with_noise = Conditions(
        "root of all but the fundamental's squares over the total",
        low,
        high,
        lines.window,
        seconds,
        lines.rate_hz,
    )
    return Distortion(
        fundamental,
        found,
        math.sqrt(squares) / fundamental.volts if found else math.nan,
        math.sqrt(noise) / fundamental.volts,
        math.sqrt(rest / total) if total > 0.0 else 0.0,
        made,
        with_noise,
    )


def _harmonics(lines: Spectrum, fundamental: Tone, high_hz: float, count: int) -> tuple[Tone, ...]:
    """The second and following harmonics inside the band and below half the rate."""
    found = []
    edge_hz = min(high_hz, lines.rate_hz / 2.0 - (LOBE_BINS + 1) * lines.bin_hz)
    for order in range(2, count + 2):
        hz = order * fundamental.hz
        if hz > edge_hz:
            break
        found.append(lines.tone(hz))
    return tuple(found)
