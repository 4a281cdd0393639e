"""The analogue side of a simulated multimeter: what its input makes of the volts at the probes.

Here: models of an invented maker, noise, offset, steps of the display, mains hum and its rejection by the
integration time, open probes. Not here: the command language (`instrument`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from drivers.simulated.bench import SimulatedBench

OVER_RANGE: Final = 1.2  # a range measures up to 120 % of its name

NPLC: Final = (0.02, 0.2, 1.0, 10.0, 100.0)


@dataclass(frozen=True, slots=True)
class MultimeterModel:
    """Figures of a kind of multimeter. Volts, seconds.

    `step_of_range` is one count as a fraction of the range by integration time in power-line cycles (the
    longest not above the setting counts); `noise_of_range` and `noise_volts` are rms at one cycle and add.
    `gain_error` and `emf_volts` are standard deviations from one instrument to the next.
    """

    name: str
    ranges_volts: tuple[float, ...] = (0.1, 1.0, 10.0, 100.0, 1000.0)
    step_of_range: tuple[tuple[float, float], ...] = ((0.02, 1e-5), (0.2, 3e-6), (1.0, 1e-6), (10.0, 1e-7))
    noise_of_range: float = 3e-7
    noise_volts: float = 3e-7
    gain_error: float = 1.5e-5
    emf_volts: float = 1.2e-6


MODELS: Final[Mapping[str, MultimeterModel]] = {
    "6120": MultimeterModel("6120"),
    "4510": MultimeterModel(
        "4510",
        step_of_range=((0.02, 1e-3), (0.2, 1e-4), (1.0, 1e-4)),
        noise_of_range=4e-5,
        noise_volts=1e-6,
        gain_error=2e-4,
        emf_volts=4e-6,
    ),
}


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What the leads pick up: hum across the probes and its frequency, as the bench has it."""

    hum_volts: float = 3e-5  # amplitude
    mains_hz: float = 50.0  # nominal; what the meter's cycles are made of
    hum_hz: float = 50.012  # a mains frequency a little off, as it usually is
    floating_volts: float = 0.012  # how far open probes drift with a very high input impedance
    floating_s: float = 25.0


class MultimeterInput:
    """One input: probes on the bench, seen through one instrument's imperfections.

    Every chance event is decided by the bench's seed and the meter's name, in order of measurement.
    """

    def __init__(
        self,
        bench: SimulatedBench,
        meter: str,
        model: MultimeterModel,
        surroundings: Surroundings | None = None,
    ) -> None:
        self.model = model
        self.surroundings = surroundings or Surroundings()
        self._bench = bench
        self._meter = meter
        self._random = np.random.default_rng([bench.seed, 2, *meter.encode()])
        self._gain = 1.0 + model.gain_error * self._random.standard_normal()
        self._emf = model.emf_volts * self._random.standard_normal()
        self._hum_phase = self._random.uniform(0.0, 2.0 * math.pi)
        self._floating = self._random.standard_normal()
        self._floated_s = bench.clock.now()

    def measure(
        self, start_s: float, end_s: float, integration_s: float, range_volts: float, *, high_impedance: bool
    ) -> float:
        """Integrate from `start_s` to `end_s` (now) and return volts, in steps of the display.

        Infinite when the input is beyond the range. `integration_s` is what the meter is set to; in stepped
        time the interval is empty and the setting alone decides noise and hum.
        """
        point = self._bench.probes_on(self._meter)
        if point is None:
            volts = self._open_probes(end_s, high_impedance)
        else:
            volts = self._bench.volts(point, start_s, end_s)
        volts += self._hum(start_s, integration_s) * (3.0 if point is None else 1.0)
        volts = volts * self._gain + self._emf + self._noise(integration_s, range_volts)
        if abs(volts) > OVER_RANGE * range_volts:
            return math.copysign(math.inf, volts)
        step = self.step_volts(integration_s, range_volts)
        return round(volts / step) * step

    def step_volts(self, integration_s: float, range_volts: float) -> float:
        """One count of the display."""
        cycles = integration_s * self.surroundings.mains_hz * 1.001
        fractions = [fraction for least, fraction in self.model.step_of_range if least <= cycles]
        return range_volts * (fractions[-1] if fractions else self.model.step_of_range[0][1])

    def _noise(self, integration_s: float, range_volts: float) -> float:
        cycles = max(integration_s * self.surroundings.mains_hz, 1e-3)
        rms = math.hypot(self.model.noise_of_range * range_volts, self.model.noise_volts)
        return rms / math.sqrt(cycles) * float(self._random.standard_normal())

    def _hum(self, start_s: float, integration_s: float) -> float:
        """Mean of a sine over the integration time: whole cycles cancel, the rest folds into a slow beat."""
        around = self.surroundings
        if around.hum_volts == 0.0:
            return 0.0
        half = math.pi * around.hum_hz * integration_s
        rejection = math.sin(half) / half if half > 0.0 else 1.0
        return (
            around.hum_volts
            * rejection
            * math.sin(2.0 * math.pi * around.hum_hz * start_s + half + self._hum_phase)
        )

    def _open_probes(self, now_s: float, high_impedance: bool) -> float:
        """Near zero through 10 megohm; through more than 10 gigohm a plausible, drifting millivolt value."""
        around = self.surroundings
        keep = math.exp(-max(now_s - self._floated_s, 0.0) / around.floating_s)
        self._floating = keep * self._floating + math.sqrt(1.0 - keep**2) * float(
            self._random.standard_normal()
        )
        self._floated_s = now_s
        return around.floating_volts * (self._floating if high_impedance else 2e-4 * self._floating)
