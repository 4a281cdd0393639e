"""The power spectrum of a capture, and the tones in it.

One windowed transform serves all figures. Powers are in V² and add up to the mean square, so the power of a
tone is the sum over its lobe (Parseval), right wherever it lies between two bins.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy
from numpy.typing import NDArray

from drivers.audio.capture import Capture
from procedures.analysis.audio.fitness import CannotMeasure, require_fit
from procedures.analysis.audio.windows import LOBE_BINS, SEVEN_TERM, window

_FLANK = 3 * LOBE_BINS
"""Bins on each side of a lobe from which the noise beside it is taken."""


@dataclass(frozen=True, slots=True)
class Tone:
    """One line of the spectrum: its frequency, rms value, and the noise that passes for it."""

    hz: float
    volts: float
    noise_volts: float

    @property
    def told_from_noise(self) -> bool:
        """Whether the line stands out: 9 dB over the noise in its lobe, which chance hardly reaches."""
        return self.volts**2 > 8.0 * self.noise_volts**2


@dataclass(frozen=True, slots=True, eq=False)
class Spectrum:
    """Power per bin in V², shape (n // 2 + 1,), of a capture of n samples under a window."""

    power: NDArray[np.float64]
    rate_hz: float
    samples: int
    window: str = SEVEN_TERM

    @property
    def bin_hz(self) -> float:
        """The distance between two bins."""
        return self.rate_hz / self.samples

    @property
    def hz(self) -> NDArray[np.float64]:
        """The frequency of each bin."""
        return np.arange(len(self.power), dtype=np.float64) * self.bin_hz

    def bins(self, low_hz: float, high_hz: float) -> slice:
        """The bins of a band, both ends included, never those of the window's lobe around zero."""
        first = max(LOBE_BINS + 1, int(np.ceil(low_hz / self.bin_hz - 1e-9)))
        last = min(len(self.power) - 1, int(np.floor(high_hz / self.bin_hz + 1e-9)))
        return slice(first, max(first, last + 1))

    def band_volts(self, low_hz: float, high_hz: float) -> float:
        """The rms value of all that lies in a band."""
        return float(np.sqrt(np.sum(self.power[self.bins(low_hz, high_hz)])))

    def tone(self, near_hz: float) -> Tone:
        """The line at a known frequency.

        Raises:
            CannotMeasure: the frequency lies outside what the record can show.
        """
        return self._tone_at(near_hz / self.bin_hz, near_hz)

    def strongest(self, low_hz: float = 10.0, high_hz: float | None = None) -> Tone:
        """The strongest line of a band, its frequency from the middle of its lobe.

        Raises:
            CannotMeasure: nothing is there, or the record is too short to show it apart from zero.
        """
        band = self.bins(low_hz, high_hz if high_hz is not None else self.rate_hz / 2.0)
        powers = self.power[band]
        if powers.size == 0 or not float(powers.max()) > 0.0:
            raise CannotMeasure(f"there is no signal between {low_hz:g} Hz and {self.rate_hz / 2.0:g} Hz.")
        peak = band.start + int(np.argmax(powers))
        return self._tone_at(self._middle(peak), None)

    def _middle(self, peak: int) -> float:
        """The middle of the power of the lobe around a bin, in bins."""
        lobe = slice(max(0, peak - LOBE_BINS), min(len(self.power), peak + LOBE_BINS + 1))
        powers = self.power[lobe]
        return float(np.sum(np.arange(lobe.start, lobe.stop) * powers) / np.sum(powers))

    def _tone_at(self, place: float, hz: float | None) -> Tone:
        middle = round(place)
        if middle <= 2 * LOBE_BINS or middle + LOBE_BINS >= len(self.power):
            raise CannotMeasure(
                f"{place * self.bin_hz:.4g} Hz cannot be told apart in {self.samples / self.rate_hz:.3g} s "
                f"at {self.rate_hz:g} samples a second; record longer, or at a higher rate."
            )
        lobe = slice(middle - LOBE_BINS, middle + LOBE_BINS + 1)
        power = float(np.sum(self.power[lobe]))
        noise = (2 * LOBE_BINS + 1) * self.noise_per_bin(middle)
        where = hz if hz is not None else place * self.bin_hz
        return Tone(where, float(np.sqrt(power)), float(np.sqrt(noise)))

    def noise_per_bin(self, middle: int) -> float:
        """Mean noise power per bin beside a lobe, in V², from the quieter of its two flanks.

        A median does not mind a second line in a flank; for noise it is ln 2 of the mean (two degrees of
        freedom), which is put right here.
        """
        below = self.power[max(LOBE_BINS + 1, middle - LOBE_BINS - _FLANK) : max(0, middle - LOBE_BINS)]
        above = self.power[middle + LOBE_BINS + 1 : middle + LOBE_BINS + 1 + _FLANK]
        medians = [float(np.median(flank)) for flank in (below, above) if flank.size >= LOBE_BINS]
        return min(medians) / float(np.log(2.0)) if medians else 0.0


@lru_cache(maxsize=16)
def _square_sum(name: str, length: int) -> float:
    return float(np.sum(window(name, length) ** 2))


def spectrum(capture: Capture, name: str = SEVEN_TERM) -> Spectrum:
    """The power spectrum of a whole capture; its mean does not enter.

    Raises:
        CannotMeasure: the capture is not fit for figures.
    """
    require_fit(capture)
    volts = capture.volts
    length = len(volts)
    shape = window(name, length)
    lines = scipy.fft.rfft((volts - volts.mean()) * shape)
    power = lines.real**2
    power += lines.imag**2
    power *= 2.0 / (length * _square_sum(name, length))
    power[0] /= 2.0
    if length % 2 == 0:
        power[-1] /= 2.0
    return Spectrum(power, capture.rate_hz, length, name)
