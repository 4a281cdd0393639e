"""A stretch of samples in volts, with how it was taken. Not here: whether a figure can be had from it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class Capture:
    """Samples of one channel.

    Attributes:
        volts: shape (n,), at the amplifier's terminals: the divider is already undone.
        rate_hz: samples a second.
        channel: whose samples they are, such as `left`.
        full_scale_volts: the largest voltage the source could show; inf where unknown.
        bits: resolution of the source, 0 where unknown.
        dropouts: how often the source reported lost samples.
        remarks: what else is to be known of the source, in sentences.
        practice: whether it came from the simulated bench, as far as is known.
    """

    volts: NDArray[np.float64]
    rate_hz: float
    channel: str = ""
    full_scale_volts: float = float("inf")
    bits: int = 0
    dropouts: int = 0
    remarks: tuple[str, ...] = field(default=())
    practice: bool = False

    def __post_init__(self) -> None:
        if self.volts.ndim != 1:
            raise ValueError(f"a capture is one channel, not an array of shape {self.volts.shape}")
        if not self.rate_hz > 0.0:
            raise ValueError(f"the sample rate must be above zero, not {self.rate_hz:g}")

    @property
    def seconds(self) -> float:
        """How long it is."""
        return len(self.volts) / self.rate_hz

    @property
    def clipped_samples(self) -> int:
        """How many samples stand at the source's own limit: the source was overdriven there."""
        if not np.isfinite(self.full_scale_volts):
            return 0
        step = self.full_scale_volts * 2.0 ** (1 - self.bits) if self.bits else self.full_scale_volts * 1e-6
        return int(np.count_nonzero(np.abs(self.volts) >= self.full_scale_volts - 1.5 * step))

    def part(self, start_s: float, seconds: float) -> Capture:
        """The stretch from `start_s` on; shorter where the capture ends before."""
        first = max(0, round(start_s * self.rate_hz))
        last = first + round(seconds * self.rate_hz)
        return replace(self, volts=self.volts[first:last])
