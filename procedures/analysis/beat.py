"""A slow beat in a reading: mains hum that a meter without integration samples near its own frequency.

50 Hz sampled once a second looks like a slow wave of 20 s or of minutes, not like noise, and is easily taken
for a drifting amplifier. Not here: other noise (`disturbance`).
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

_WINDOW = 48
_AVERAGED = (1, 3, 9)  # blocks to one point: windows of 4, 12 and 36 min of five-second blocks
_EVERY = 8
_LEAST_CYCLES = 7  # slower waves cannot be told from the wander of mains and draughts
_LINE_SHARE = 0.6  # of the variance left after a cubic
_LEAST = 0.0015  # amplitude, of the target


@dataclass(frozen=True, slots=True)
class Beat:
    """A wave in the level: its period and amplitude (half of peak to peak), in the channel's unit."""

    at_s: float
    period_s: float
    amplitude: float


class BeatFinder:
    """Looks for one line in the spectrum of recent levels, on three scales of time."""

    def __init__(self) -> None:
        self._scales = tuple(_Scale(blocks) for blocks in _AVERAGED)

    def forget(self) -> None:
        """What was seen before does not continue."""
        self._scales = tuple(_Scale(blocks) for blocks in _AVERAGED)

    def see(self, at_s: float, level: float, scale: float, display_step: float = 0.0) -> Beat | None:
        """Take a block; the beat that is now certain (seen twice in a row), if any."""
        least = max(_LEAST * abs(scale), 0.6 * display_step)
        found = [one.see(at_s, level, least) for one in self._scales]
        return next((beat for beat in found if beat), None)


class _Scale:
    """Averages of a few blocks, the last `_WINDOW` of them, and their strongest line."""

    def __init__(self, blocks: int) -> None:
        self._blocks = blocks
        self._sum = self._sum_s = 0.0
        self._in_sum = self._points = 0
        self._at = deque[float](maxlen=_WINDOW)
        self._levels = deque[float](maxlen=_WINDOW)
        self._before_s = 0.0

    def see(self, at_s: float, level: float, least: float) -> Beat | None:
        self._sum += level
        self._sum_s += at_s
        self._in_sum += 1
        if self._in_sum < self._blocks:
            return None
        self._at.append(self._sum_s / self._blocks)
        self._levels.append(self._sum / self._blocks)
        self._sum = self._sum_s = 0.0
        self._in_sum = 0
        self._points += 1
        if len(self._at) < _WINDOW or self._points % _EVERY:
            return None
        found = self._line(least)
        period_s = found.period_s if found else 0.0
        twice = found is not None and abs(period_s - self._before_s) < 0.25 * period_s
        self._before_s = period_s
        return found if twice else None

    def _line(self, least: float) -> Beat | None:
        levels = np.array(self._levels)
        rest = levels - _BENT @ (_BENT.T @ levels)
        power = np.abs(np.fft.rfft(rest * _TAPER)) ** 2
        total = float(power[1:].sum())
        peak = int(power[1:].argmax()) + 1
        if peak < _LEAST_CYCLES:
            return None
        bins = np.arange(peak - 1, min(peak + 2, len(power)))
        near = power[bins]
        if total <= 0.0 or float(near.sum()) < _LINE_SHARE * total:
            return None
        amplitude = float(np.sqrt(2.0 * rest.var() * float(near.sum()) / total))
        if amplitude < least:
            return None
        # Between the bins the period is the centre of gravity of the line.
        cycles = float((bins * near).sum() / near.sum())
        span_s = (self._at[-1] - self._at[0]) * _WINDOW / (_WINDOW - 1)
        return Beat(self._at[-1], span_s / cycles, amplitude)


_BENT = np.linalg.qr(np.vander(np.linspace(-1.0, 1.0, _WINDOW), 4))[0]  # what a warm-up does meanwhile
_TAPER = np.hanning(_WINDOW + 2)[1:-1]
