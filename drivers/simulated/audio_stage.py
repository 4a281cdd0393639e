"""What a simulated amplifier makes of a signal: crossover, clipping, response, hum and noise.

The output stage is a pair of emitter followers in a feedback loop. For e, the voltage from the stage's input
to its output, both currents are known without iteration, so the static curve is tabulated over e. Feedback
divides what the curve adds by 1 + T, T falling with frequency; it does not help once the rails are reached.
Not here: heat (`physics`), and how the samples are taken (`drivers.audio`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

import numpy as np
import scipy

from drivers.simulated.electrical import VOLTS_PER_KELVIN, amperes_of, drive
from drivers.simulated.parameters import Floats

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline

_MOST_VOLTS = 12.0  # the table reaches far beyond any drive that a load takes
_POINTS = 6001


@lru_cache(maxsize=64)
def _static_curve(
    idle_amperes: float, emitter_ohm: float, vt: float, load_ohm: float, base: tuple[float, float, float]
) -> CubicSpline:
    """The open stage's output over its input, both in volts. `base` is what drives the bases, in order."""
    driver_ohm, current_gain, knee_amperes = base
    ohm = np.array(emitter_ohm)
    idle = drive(np.array(idle_amperes), ohm, np.array(vt))
    # Evenly spaced in e near zero, where the currents change hands, and wider outside.
    e = np.sinh(np.linspace(-8.0, 8.0, _POINTS)) / np.sinh(8.0) * _MOST_VOLTS
    upper, lower = amperes_of(idle + e, ohm, np.array(vt)), amperes_of(idle - e, ohm, np.array(vt))
    bases = [amperes / current_gain * (1.0 + amperes / knee_amperes) for amperes in (upper, lower)]
    out = load_ohm * (upper - lower)
    from scipy.interpolate import CubicSpline  # a tenth of a second that the start need not wait for

    return CubicSpline(out + e + driver_ohm * (bases[0] - bases[1]), out)


@dataclass(frozen=True)
class AudioStage:
    """One channel as the signal meets it.

    Magnitudes are engineering judgement, not measurements of any product. `hum_volts` holds peak volts by
    multiple of the mains frequency; `noise_volts` is rms in 0 to 20 kHz at the output. `crosstalk` is the
    share of the other channel's input that gets into this one.
    """

    idle_amperes: float = 0.025
    emitter_ohm: float = 0.27
    gain: float = 26.0
    rail_volts: float = 42.0
    supply_ohm: float = 0.35
    saturation_volts: float = 2.5
    driver_ohm: float = 60.0
    current_gain: float = 4000.0
    knee_amperes: float = 7.0
    unity_loop_hz: float = 200e3
    output_ohm: float = 0.04
    relay_ohm: float = 0.0
    low_corner_hz: float = 4.0
    high_corner_hz: float = 90e3
    offset_volts: float = 0.004
    noise_volts: float = 40e-6
    hum_volts: dict[int, float] = field(default_factory=lambda: {1: 20e-6, 2: 60e-6, 3: 10e-6})
    mains_hz: float = 50.0
    junction_c: float = 45.0
    current_limit_amperes: float = 12.0
    crosstalk: float = 1e-4

    @cached_property
    def _thermal_volts(self) -> float:
        return VOLTS_PER_KELVIN * (self.junction_c + 273.15)

    def _curve(self, load_ohm: float) -> CubicSpline:
        # To four digits, so that a curve serves many stretches of an idle current that creeps.
        idle = float(f"{self.idle_amperes:.3e}")
        base = (self.driver_ohm, self.current_gain, self.knee_amperes)
        return _static_curve(idle, self.emitter_ohm, self._thermal_volts, load_ohm, base)

    def clip_volts(self, load_ohm: float) -> float:
        """Where the output is cut: the rail, sagging under its own load, less what the devices need; volts.

        Infinite load: the unloaded rail. The protection's current limit may come first.
        """
        free = self.rail_volts - self.saturation_volts
        if not np.isfinite(load_ohm):
            return free
        # |v| = rail - Rpsu Ipk / pi - Vsat with Ipk = |v| / R, solved for |v|.
        sagging = free / (1.0 + self.supply_ohm / (np.pi * load_ohm))
        return float(min(sagging, self.current_limit_amperes * load_ohm))

    def output(self, input_volts: Floats, rate_hz: float, load_ohm: float, seed: int = 0) -> Floats:
        """The volts at the terminals for volts at the input, same shape (n,).

        The record is taken as one period, as the transform does: begin and end it in silence, or let it hold
        whole periods. `load_ohm` may be inf.
        """
        lines = scipy.fft.rfft(input_volts)
        hz = scipy.fft.rfftfreq(len(input_volts), 1.0 / rate_hz)
        lines *= self.gain * self._response(hz)
        wanted: Floats = scipy.fft.irfft(lines, len(input_volts))
        if np.isfinite(load_ohm):
            wanted += self._crossover(wanted, hz, load_ohm)
        limit = self.clip_volts(load_ohm)
        wanted = np.clip(wanted, -limit, limit)
        divided = (
            1.0 if not np.isfinite(load_ohm) else load_ohm / (load_ohm + self.output_ohm + self.relay_ohm)
        )
        return wanted * divided + self._background(len(input_volts), rate_hz, seed)

    def _response(self, hz: Floats) -> Floats:
        safe = np.maximum(hz, 1e-9)
        result: Floats = 1.0 / (1.0 - 1j * self.low_corner_hz / safe) / (1.0 + 1j * hz / self.high_corner_hz)
        return result

    def _crossover(self, wanted: Floats, hz: Floats, load_ohm: float) -> Floats:
        """What the stage adds in the closed loop: the open loop's error over 1 + T, T = f_unity / (j f)."""
        curve = self._curve(load_ohm)
        bounded = np.clip(wanted, curve.x[0], curve.x[-1])
        out: Floats = curve(bounded)
        power = float(np.dot(bounded, bounded))
        if power == 0.0:
            return np.zeros_like(wanted)
        share = float(np.dot(out, bounded)) / power
        error = scipy.fft.rfft(out / share - bounded)
        error *= 1j * hz / (1j * hz + self.unity_loop_hz)
        result: Floats = scipy.fft.irfft(error, len(wanted))
        return result

    def _background(self, length: int, rate_hz: float, seed: int) -> Floats:
        rng = np.random.default_rng([seed, 77])
        time = np.arange(length) / rate_hz
        density = self.noise_volts * np.sqrt(rate_hz / 2.0 / 20e3)
        total: Floats = self.offset_volts + rng.normal(0.0, density, length)
        for multiple, volts in self.hum_volts.items():
            total += volts * np.sin(2.0 * np.pi * multiple * self.mains_hz * time + rng.uniform(0.0, 6.28))
        return total
