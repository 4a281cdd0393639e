"""How a signal ends: by half a turn of a raised cosine, so that no end is a click in a loudspeaker or a load.

Twenty milliseconds: with w = cos²(pi t / 2T) no slope of w sin(2 pi f t) is above the steepest of the tone
itself from f = 1 / (2 sqrt(2) T) on, which is 18 Hz (closed form).
"""

from __future__ import annotations

import threading
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from drivers.audio.path import Floats

FADE_S: Final = 0.02


def falling(count: int) -> Floats:
    """From 1 down to 0 in `count` samples, shape (count,); the last is 0."""
    result: Floats = 0.5 + 0.5 * np.cos(np.pi * np.arange(1, count + 1) / max(1, count))
    return result


def ending(wave: Floats, rate_hz: float) -> Floats:
    """What follows a wave that is over: its end played backwards, fading; at most `FADE_S` long.

    No step in it is larger than one that the wave made there, but for what the fade itself takes away.
    """
    back: Floats = wave[-2 : -2 - round(FADE_S * rate_hz) : -1]
    return back * falling(len(back))


class FadeOut:
    """Lets a stream of samples end when `wanted` is set, whatever stands in it.

    `over` belongs to the audio callback; `done` is set once nothing but silence follows.
    """

    def __init__(self, rate_hz: float) -> None:
        self.wanted = threading.Event()
        self.done = threading.Event()
        self._shape = falling(max(1, round(FADE_S * rate_hz)))
        self._place = 0

    def over(self, samples: NDArray[np.floating[Any]]) -> None:
        """Fade the next samples, shape (n,) or (n, channels), where they stand."""
        if not self.wanted.is_set():
            return
        shares = np.zeros(len(samples), samples.dtype)
        piece = self._shape[self._place : self._place + len(samples)]
        shares[: len(piece)] = piece
        samples *= shares.reshape(-1, *[1] * (samples.ndim - 1))
        self._place += len(piece)
        if self._place >= len(self._shape):
            self.done.set()
