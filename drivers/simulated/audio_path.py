"""The audio path of the simulated bench: plays into the simulated unit, at once and without a device."""

from __future__ import annotations

from typing import Final

import numpy as np

from drivers.audio.capture import Capture
from drivers.audio.path import During, Floats, Stretch
from drivers.audio.refusal import AudioRefused
from drivers.simulated.bench import CHANNELS, SimulatedBench
from drivers.simulated.driven_unit import DrivenUnit
from drivers.simulated.units import SimulatedUnit

RATE_HZ: Final = 96_000.0
FULL_SCALE_VOLTS: Final = 100.0
BITS: Final = 24
NOT_ON: Final = "the simulated amplifier is not on full mains; switch it on before you measure."


class SimulatedPath:
    """Plays into both channels of a simulated unit and records them as a 24-bit recorder would."""

    name = "simulated generator and recorder"
    rate_hz = RATE_HZ
    outputs = CHANNELS
    any_wave = True

    def __init__(self, bench: SimulatedBench, unit: SimulatedUnit, seed: int = 1) -> None:
        self._driven = DrivenUnit(bench, unit, seed)
        self.standing: dict[str, Floats] = {}
        """What stands at the outputs while something is done beside a signal; empty while none plays."""

    def play(self, stretch: Stretch, during: During | None = None) -> tuple[Capture, ...]:
        """See `AudioPath.play`."""
        if not self._driven.on_full_mains:
            raise AudioRefused(NOT_ON)
        found = self._driven.respond(stretch.waves, stretch.length, RATE_HZ, stretch.load_ohm)
        if during is not None:
            self.standing = {output: volts[stretch.settle :] for output, volts in found.items()}
            try:
                during()
            finally:
                self.standing = {}
            return ()
        return tuple(
            Capture(_converted(volts[stretch.settle :]), RATE_HZ, output, FULL_SCALE_VOLTS, BITS)
            for output, volts in found.items()
        )

    def silence(self) -> None:
        """Nothing plays on."""

    def close(self) -> None:
        """Nothing is held."""


def _converted(volts: Floats) -> Floats:
    step = FULL_SCALE_VOLTS * 2.0 ** (1 - BITS)
    result: Floats = np.clip(np.round(volts / step) * step, -FULL_SCALE_VOLTS, FULL_SCALE_VOLTS - step)
    return result
