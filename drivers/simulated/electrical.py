"""The output stage as an equation: which current flows for given temperatures and trimmer position.

Exact and without iteration: for an emitter follower z = I Re + Vt ln(I / I0) is additive in trim and in
temperature, and its inverse is the Wright omega function. Not here: heat and time (`thermal`, `physics`).

Source of the junction law: the usual diode equation with the band gap of silicon and a saturation current
that grows as T**3 (about -2 mV/K at constant current); constants are CODATA 2018, exact.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import wrightomega

from drivers.simulated.parameters import Floats, UnitParameters

KELVIN: Final = 273.15
REFERENCE_K: Final = 298.15
GAP_VOLTS: Final = 1.12
VOLTS_PER_KELVIN: Final = 1.380649e-23 / 1.602176634e-19


def junction_volts(kelvin: Floats, volts_at_reference: Floats) -> Floats:
    """Vbe at the current for which `volts_at_reference` (at 25 degC) is stated. Any shape."""
    ratio = kelvin / REFERENCE_K
    result: Floats = (
        GAP_VOLTS + (volts_at_reference - GAP_VOLTS) * ratio - 3.0 * VOLTS_PER_KELVIN * kelvin * np.log(ratio)
    )
    return result


def drive(amperes: Floats, emitter_ohm: Floats, thermal_volts: Floats) -> Floats:
    """Return z = I Re + Vt ln I, the scale on which trim and temperature add. Amperes above zero; volts."""
    result: Floats = amperes * emitter_ohm + thermal_volts * np.log(amperes)
    return result


def amperes_of(z: Floats, emitter_ohm: Floats, thermal_volts: Floats) -> Floats:
    """Inverse of `drive`: the current for z. Never overflows."""
    scale = thermal_volts / emitter_ohm
    result: Floats = scale * wrightomega(z / thermal_volts - np.log(scale))
    return result


@dataclass(frozen=True, slots=True)
class Closure:
    """The electrical side of a record of units, with what does not change worked out once."""

    units: UnitParameters

    def multiplier(self, wiper: Floats) -> Floats:
        """Vbe multiplication for wiper positions, shape (n, 2), 0 to 1."""
        p = self.units
        position = np.where(p.trimmer_reversed > 0.0, 1.0 - wiper, wiper)
        result: Floats = 1.0 + p.upper_ohm / (p.lower_ohm + p.trimmer_ohm * (1.0 - position))
        return result

    def bias_volts(self, wiper: Floats, sensor_k: Floats, rail: Floats, step_volts: Floats) -> Floats:
        """V_B between the bases of the drivers, shape (n, 2). `rail` (n,) is a fraction of nominal."""
        p = self.units
        full = (
            self.multiplier(wiper) * junction_volts(sensor_k, p.sensor_vbe_volts)
            + p.fixed_volts
            + p.rail_gain_volts * (rail - 1.0)[:, None]
            + step_volts
        )
        result: Floats = full * np.clip(rail / p.bias_from_rail, 0.0, 1.0)[:, None]
        return result

    def amperes(self, bias_volts: Floats, driver_k: Floats, junction_k: Floats) -> Floats:
        """Idle current of each output pair, shape (n, 2)."""
        p = self.units
        thermal = VOLTS_PER_KELVIN * junction_k
        spare = (
            0.5 * bias_volts
            - p.driver_stages * junction_volts(driver_k, p.driver_vbe_volts)
            - junction_volts(junction_k, p.output_vbe_volts)
        )
        return amperes_of(spare + thermal * np.log(p.reference_amperes), p.emitter_ohm, thermal)

    def wiper_for(
        self, amperes: Floats, sensor_k: Floats, driver_k: Floats, junction_k: Floats, rail: Floats
    ) -> Floats:
        """Wiper position at which `amperes` (n, 2) would flow at these temperatures; may lie outside 0..1."""
        p = self.units
        thermal = VOLTS_PER_KELVIN * junction_k
        half = (
            drive(amperes, p.emitter_ohm, thermal)
            - thermal * np.log(p.reference_amperes)
            + p.driver_stages * junction_volts(driver_k, p.driver_vbe_volts)
            + junction_volts(junction_k, p.output_vbe_volts)
        )
        wanted = 2.0 * half / np.clip(rail / p.bias_from_rail, 1e-9, 1.0)[:, None]
        wanted = wanted - p.fixed_volts - p.rail_gain_volts * (rail - 1.0)[:, None]
        multiplier = wanted / junction_volts(sensor_k, p.sensor_vbe_volts)
        position = 1.0 - (p.upper_ohm / (multiplier - 1.0) - p.lower_ohm) / p.trimmer_ohm
        result: Floats = np.where(p.trimmer_reversed > 0.0, 1.0 - position, position)
        return result
