"""The audio path of the simulated bench: plays into the simulated unit, at once and without a device."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np

from drivers.audio.capture import Capture
from drivers.audio.path import Floats, Stretch
from drivers.audio.refusal import AudioRefused
from drivers.simulated.audio_stage import AudioStage
from drivers.simulated.bench import CHANNELS, Mains, SimulatedBench
from drivers.simulated.units import SimulatedUnit

RATE_HZ: Final = 96_000.0
FULL_SCALE_VOLTS: Final = 100.0
BITS: Final = 24
_LEAST_AMPERES: Final = 1e-4


class SimulatedPath:
    """Plays into both channels of a simulated unit and records them as a 24-bit recorder would."""

    name = "simulated generator and recorder"
    rate_hz = RATE_HZ
    outputs = CHANNELS

    def __init__(self, bench: SimulatedBench, unit: SimulatedUnit, seed: int = 1) -> None:
        self._bench = bench
        self._unit = unit
        self._seed = seed
        self._played = 0

    def play(self, stretch: Stretch) -> tuple[Capture, ...]:
        """See `AudioPath.play`."""
        truth = self._bench.truth()
        if truth.mains is not Mains.FULL:
            raise AudioRefused(
                "the simulated amplifier is not on full mains; switch it on before you measure."
            )
        self._played += 1
        measured = self._unit.parameters.measured_ohm[0]
        captures = []
        for index, output in enumerate(CHANNELS):
            wave = stretch.waves.get(output, np.zeros(stretch.length))
            leak = sum(
                (other for name, other in stretch.waves.items() if name != output),
                start=np.zeros(stretch.length),
            )
            stage = replace(
                self._unit.audio[index],
                idle_amperes=max(_LEAST_AMPERES, truth.bias_volts[index] / float(measured[index])),
                offset_volts=truth.offset_volts[index],
            )
            seed = self._seed * 1_000_003 + 2 * self._played + index
            volts = self._out(stage, wave + stage.crosstalk * leak, stretch, seed)
            if truth.dead[index]:
                volts = np.zeros(stretch.length)
            captures.append(
                Capture(_converted(volts[stretch.settle :]), RATE_HZ, output, FULL_SCALE_VOLTS, BITS)
            )
        return tuple(captures)

    def _out(self, stage: AudioStage, wave: Floats, stretch: Stretch, seed: int) -> Floats:
        # The stage takes its record as one period: silence before and behind keeps the ends apart.
        pad = np.zeros(round(0.05 * RATE_HZ))
        fade = np.linspace(1.0, 0.0, len(pad)) * wave[-1] if len(wave) else pad
        out = stage.output(np.concatenate([pad, wave, fade]), RATE_HZ, stretch.load_ohm, seed)
        return out[len(pad) : len(pad) + len(wave)]

    def silence(self) -> None:
        """Nothing plays on."""

    def close(self) -> None:
        """Nothing is held."""


def _converted(volts: Floats) -> Floats:
    step = FULL_SCALE_VOLTS * 2.0 ** (1 - BITS)
    result: Floats = np.clip(np.round(volts / step) * step, -FULL_SCALE_VOLTS, FULL_SCALE_VOLTS - step)
    return result


def path_maker(bench: SimulatedBench, unit: SimulatedUnit, seed: int) -> Callable[[], SimulatedPath]:
    """How the path of a simulated bench is opened."""
    return lambda: SimulatedPath(bench, unit, seed)
