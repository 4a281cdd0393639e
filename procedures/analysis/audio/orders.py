"""What is to be played into the amplifier and for how long: what the bench carries out of a measurement.

An order travels as the flat parameters of a request, and back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from procedures.analysis.audio.response import exponential_sweep

EASE_S = 0.01
"""A tone comes up and goes down in this time, so that neither end is a click."""


class Signal(StrEnum):
    """What is played."""

    SILENCE = "silence"
    TONE = "tone"
    TWO_TONES = "two tones"
    SWEEP = "sweep"


@dataclass(frozen=True, slots=True)
class Order:
    """One stretch of signal at the amplifier's input, and what it drives there.

    `volts` is the rms value at the input: of the tone, or of both together. `second_ratio` is the second
    tone's amplitude over the first's. `settle_s` is played before `seconds` that are measured.
    """

    signal: Signal
    seconds: float
    hz: float = 1000.0
    volts: float = 0.0
    second_hz: float = 0.0
    second_ratio: float = 1.0
    drives: tuple[str, ...] = ()
    load_ohm: float = float("inf")
    settle_s: float = 0.2

    def parameters(self) -> dict[str, float | str]:
        """The order as the parameters of a request; infinite load as zero."""
        return {
            "signal": self.signal.value,
            "seconds": self.seconds,
            "hz": self.hz,
            "volts": self.volts,
            "second_hz": self.second_hz,
            "second_ratio": self.second_ratio,
            "drives": " ".join(self.drives),
            "load_ohm": self.load_ohm if np.isfinite(self.load_ohm) else 0.0,
            "settle_s": self.settle_s,
        }

    def samples(self, rate_hz: float) -> NDArray[np.float64]:
        """The signal, shape (n,), volts at the input: settling and measuring time together."""
        length = round((self.settle_s + self.seconds) * rate_hz)
        time = np.arange(length) / rate_hz
        if self.signal is Signal.SILENCE or self.volts == 0.0:
            return np.zeros(length)
        if self.signal is Signal.SWEEP:
            silence = np.zeros(round(self.settle_s * rate_hz))
            sweep = exponential_sweep(10.0, 0.45 * rate_hz, self.seconds, rate_hz, self.volts * np.sqrt(2.0))
            return np.concatenate([silence, sweep])[:length]
        if self.signal is Signal.TONE:
            wave = np.sqrt(2.0) * self.volts * np.sin(2.0 * np.pi * self.hz * time)
        else:
            first = self.volts * np.sqrt(2.0 / (1.0 + self.second_ratio**2))
            wave = first * np.sin(2.0 * np.pi * self.hz * time)
            wave += first * self.second_ratio * np.sin(2.0 * np.pi * self.second_hz * time)
        return _eased(wave, rate_hz)


def _eased(wave: NDArray[np.float64], rate_hz: float) -> NDArray[np.float64]:
    """The same with a gentle beginning; its end is eased by whoever plays it, behind what is measured."""
    ease = min(len(wave), max(2, round(EASE_S * rate_hz)))
    wave[:ease] *= 0.5 - 0.5 * np.cos(np.pi * np.arange(ease) / ease)
    return wave


def order_of(given: Mapping[str, float | str]) -> Order:
    """The order in a request's parameters.

    Raises:
        KeyError: a parameter is missing.
        ValueError: one is not what it should be.
    """
    load = float(given["load_ohm"])
    return Order(
        Signal(str(given["signal"])),
        float(given["seconds"]),
        float(given["hz"]),
        float(given["volts"]),
        float(given["second_hz"]),
        float(given["second_ratio"]),
        tuple(str(given["drives"]).split()),
        load if load > 0.0 else float("inf"),
        float(given["settle_s"]),
    )
