"""An ear for tests: what can be told from samples alone."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from app.bench.sound.synthesis import Samples

RATE = 48000


def spectrum(heard: Samples, rate: float = RATE) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Frequencies and amplitudes of all that was heard."""
    window = np.hanning(len(heard))
    return np.fft.rfftfreq(len(heard), 1.0 / rate), np.abs(np.fft.rfft(heard * window))


def pitch(heard: Samples, rate: float = RATE) -> float:
    """The strongest frequency between 200 Hz and 2 kHz."""
    frequencies, amplitudes = spectrum(heard, rate)
    band = (frequencies > 200.0) & (frequencies < 2000.0)
    return float(frequencies[band][np.argmax(amplitudes[band])])


def loudness(heard: Samples, rate: float = RATE, piece_s: float = 0.005) -> NDArray[np.float64]:
    """Effective value of each piece."""
    piece = round(piece_s * rate)
    whole = len(heard) // piece * piece
    return np.sqrt(np.mean(heard[:whole].reshape(-1, piece) ** 2, axis=1))


def around(heard: Samples, centre: float, width: float, rate: float = RATE) -> Samples:
    """What an ear that attends to one pitch hears."""
    filtered = signal.butter(
        2, [centre - width / 2.0, centre + width / 2.0], btype="bandpass", fs=rate, output="sos"
    )
    return np.asarray(signal.sosfiltfilt(filtered, heard))


def dulled(heard: Samples, above_hz: float = 2000.0, rate: float = RATE) -> Samples:
    """What is left to an ear that hears nothing above a frequency."""
    return np.asarray(signal.sosfiltfilt(signal.butter(8, above_hz, fs=rate, output="sos"), heard))


def noisy(heard: Samples, seed: int = 1, rate: float = RATE) -> Samples:
    """The same in noise of the same power (0 dB), all of it below 3.9 kHz, where it masks."""
    power = float(np.sqrt(np.mean(heard**2)))
    noise = dulled(np.random.default_rng(seed).standard_normal(len(heard)), 3900.0, rate)
    return heard + noise * power / float(np.sqrt(np.mean(noise**2)))


def pulses(heard: Samples, rate: float = RATE) -> float:
    """Pulses a second; 0 for one steady tone. Attends to the strongest pitch."""
    swing = loudness(around(heard, pitch(heard, rate), 120.0, rate), rate)
    high, low = float(np.percentile(swing, 95)), float(np.percentile(swing, 5))
    if high - low < 0.75 * high:
        return 0.0
    above = swing > 0.5 * (high + low)
    # A pulse has to last: noise alone crosses the middle for a moment only.
    smooth = np.convolve(above, np.ones(5) / 5.0, mode="same") > 0.5
    begins = np.flatnonzero(smooth[1:] & ~smooth[:-1])
    if len(begins) < 2:
        return len(begins) / (len(heard) / rate)
    return float((len(begins) - 1) / ((begins[-1] - begins[0]) * 0.005))


def flutter(heard: Samples, rate: float = RATE) -> float:
    """How deep a tone swings, 0 to 1."""
    swing = loudness(around(heard, pitch(heard, rate), 120.0, rate), rate)
    middle = swing[len(swing) // 10 : -len(swing) // 10]
    return float(1.0 - np.percentile(middle, 5) / np.percentile(middle, 95))


def roughness(heard: Samples, rate: float = RATE) -> float:
    """Share of the loudness that beats at 50 to 100 a second, while there is sound."""
    swing = loudness(heard, rate, 0.002)
    swing = swing[swing > 0.3 * swing.max()]
    strength = np.abs(np.fft.rfft((swing - swing.mean()) * np.hanning(len(swing))))
    frequencies = np.fft.rfftfreq(len(swing), 0.002)
    band = (frequencies > 50.0) & (frequencies < 100.0)
    return float(strength[band].max() / (0.5 * len(swing) * swing.mean()))


def largest_step(heard: Samples) -> float:
    """The largest step from one sample to the next."""
    return float(np.max(np.abs(np.diff(heard)), initial=0.0))
