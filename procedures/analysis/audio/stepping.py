"""A sweep as single tones, for a generator that plays nothing else: the same figures, one after the other."""

from __future__ import annotations

import math
from collections.abc import Mapping

from drivers.audio.capture import Capture
from procedures.analysis.audio.level import decibels
from procedures.analysis.audio.orders import Order, Signal
from procedures.analysis.audio.response import third_octaves
from procedures.analysis.audio.taking import figures

_LEAST_S, _TURNS = 0.4, 25.0
"""How long a tone is recorded at least, and how many of its periods."""


def stepped(order: Order, rate_hz: float) -> tuple[Order, ...]:
    """The tones of a sweep's order, in third octaves as far as the recorder's rate allows."""
    return tuple(
        Order(
            Signal.TONE,
            max(_LEAST_S, _TURNS / hz),
            hz,
            order.volts,
            drives=order.drives,
            load_ohm=order.load_ohm,
            settle_s=max(order.settle_s, _TURNS / 5.0 / hz),
        )
        for hz in third_octaves()
        if hz < 0.42 * rate_hz
    )


def gain_at(tone: Order, capture: Capture, mains_hz: float) -> float:
    """From input to output at one tone, as a factor.

    Raises:
        CannotMeasure: nothing can be had from the capture.
    """
    return figures(tone, capture, mains_hz)["volts"] / tone.volts


def as_swept(gains: Mapping[float, float]) -> dict[str, float]:
    """Gains by frequency as the figures of a sweep: decibels re 1 kHz, and the gain there."""
    if not gains:
        return {}
    reference = gains[min(gains, key=lambda hz: abs(math.log(hz / 1000.0)))]
    return {"gain": reference} | {f"db_{hz:.5g}": decibels(gain, reference) for hz, gain in gains.items()}
