"""The AC voltmeter of the simulated bench, where its signals are played without instruments."""

from __future__ import annotations

from typing import Final

import numpy as np

from drivers.audio.level_meter import AcBand
from drivers.audio.refusal import AudioRefused
from drivers.simulated.audio_path import NOT_ON, SimulatedPath
from drivers.simulated.bench import CHANNELS, Mains, SimulatedBench

BAND: Final = AcBand(20.0, 100e3, "true rms", 0.002, "the simulated meter")


class SimulatedLevelMeter:
    """Reads what stands at an output: the signal that is played, else what hands drive the unit with."""

    name = "simulated AC voltmeter"
    band = BAND

    def __init__(self, bench: SimulatedBench, path: SimulatedPath) -> None:
        self._bench = bench
        self._path = path

    def read(self, output: str) -> float:
        """See `LevelMeter.read`."""
        truth = self._bench.truth()
        if truth.mains is not Mains.FULL:
            raise AudioRefused(NOT_ON)
        if output in self._path.standing:
            volts = self._path.standing[output]
            return float(np.std(volts))
        alive = not truth.dead[CHANNELS.index(output)]
        return self._bench.drive_peak_volts / float(np.sqrt(2.0)) if alive else 0.0

    def close(self) -> None:
        """Nothing is held."""
