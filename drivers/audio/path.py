"""The way of a signal: from a generator through the amplifier to a recorder, as the bench uses it.

Whatever plays here plays a stretch of bounded length and is silent behind it: at its end, at an error, and
when `silence` is called from another thread.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from drivers.audio.capture import Capture

Floats = NDArray[np.float64]
During = Callable[[], None]
"""What is done while a signal plays, such as reading a meter. Raises AudioRefused."""


@dataclass(frozen=True, slots=True)
class Tone:
    """One sine or two together, for a generator that takes no samples: frequency and volts rms of each."""

    hz: float
    volts: float
    second_hz: float = 0.0
    second_volts: float = 0.0

    @property
    def peak_volts(self) -> float:
        """The highest voltage that occurs."""
        return float(2.0**0.5 * (self.volts + self.second_volts))


@dataclass(frozen=True, slots=True)
class Stretch:
    """What is played: volts at the amplifier's inputs by output, each of shape (n,); missing ones are silent.

    The first `settle` samples are played and not given back. `load_ohm` is what a person connected.
    `tone` says the same as `waves` where they are one or two sines, for generators that take no samples.
    """

    waves: Mapping[str, Floats]
    length: int
    settle: int = 0
    load_ohm: float = float("inf")
    tone: Tone | None = None


class AudioPath(Protocol):
    """A generator and a recorder that know each other's time. Used by one thread, except `silence`."""

    @property
    def name(self) -> str:
        """What it is, for the record."""
        ...

    @property
    def rate_hz(self) -> float:
        """Samples a second, of both."""
        ...

    @property
    def outputs(self) -> tuple[str, ...]:
        """The amplifier outputs that it records."""
        ...

    @property
    def any_wave(self) -> bool:
        """Whether it plays any samples; else sines alone, and a sweep goes from one to the next."""
        ...

    def play(self, stretch: Stretch, during: During | None = None) -> tuple[Capture, ...]:
        """Play and record; blocks for as long as it lasts.

        With `during` nothing is recorded: it is called once what settles is over, while the signal stands.

        Raises:
            AudioRefused: it could not be played or recorded, or was silenced meanwhile.
        """
        ...

    def silence(self) -> None:
        """Stop the generator at once; any thread."""
        ...

    def close(self) -> None:
        """Give the devices back, silent."""
        ...
