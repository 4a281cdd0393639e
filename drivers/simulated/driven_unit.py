"""A simulated unit with a signal at its inputs: what stands at its outputs, whoever plays and records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from drivers.simulated.audio_stage import AudioStage
from drivers.simulated.bench import CHANNELS, Mains, SimulatedBench
from drivers.simulated.parameters import Floats
from drivers.simulated.units import SimulatedUnit

_LEAST_AMPERES: Final = 1e-4


class DrivenUnit:
    """Both channels of a unit as it stands now; every stretch has noise of its own, decided by the seed."""

    def __init__(self, bench: SimulatedBench, unit: SimulatedUnit, seed: int = 1) -> None:
        self._bench = bench
        self._unit = unit
        self._seed = seed
        self._played = 0

    @property
    def on_full_mains(self) -> bool:
        """Whether it is switched on, without a lamp before it."""
        return self._bench.truth().mains is Mains.FULL

    def respond(
        self, waves: Mapping[str, Floats], length: int, rate_hz: float, load_ohm: float
    ) -> dict[str, Floats]:
        """Volts at each output, shape (length,), for volts at the inputs; an input that is missing is silent.

        `load_ohm` may be inf. A unit without full mains gives nothing.
        """
        self._played += 1
        truth = self._bench.truth()
        measured = self._unit.parameters.measured_ohm[0]
        found: dict[str, Floats] = {}
        for index, output in enumerate(CHANNELS):
            if truth.dead[index] or truth.mains is not Mains.FULL:
                found[output] = np.zeros(length)
                continue
            wave = waves.get(output, np.zeros(length))
            leak = sum((other for name, other in waves.items() if name != output), start=np.zeros(length))
            stage = replace(
                self._unit.audio[index],
                idle_amperes=max(_LEAST_AMPERES, truth.bias_volts[index] / float(measured[index])),
                offset_volts=truth.offset_volts[index],
            )
            seed = self._seed * 1_000_003 + 2 * self._played + index
            found[output] = _out(stage, wave + stage.crosstalk * leak, rate_hz, load_ohm, seed)
        return found


def _out(stage: AudioStage, wave: Floats, rate_hz: float, load_ohm: float, seed: int) -> Floats:
    # The stage takes its record as one period: silence before and behind keeps the ends apart.
    pad = np.zeros(round(0.05 * rate_hz))
    fade = np.linspace(1.0, 0.0, len(pad)) * wave[-1] if len(wave) else pad
    out = stage.output(np.concatenate([pad, wave, fade]), rate_hz, load_ohm, seed)
    return out[len(pad) : len(pad) + len(wave)]
