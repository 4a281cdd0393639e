"""The output stage as an equation: which current flows for given temperatures and trimmer position.

Exact and without iteration: for an emitter follower z = I Re + Vt ln(I / I0) is additive in trim and in
temperature, and its inverse is the Wright omega function. Not here: heat and time (`thermal`, `physics`).

Source of the junction law: the usual diode equation with the band gap of silicon and a saturation current
that grows as T**3 (about -2 mV/K at constant current); constants are CODATA 2018, exact.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import scipy

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
    result: Floats = scale * scipy.special.wrightomega(z / thermal_volts - np.log(scale))
    return result


class Closure:
    """The electrical side of a record of units, with what does not change worked out once.

    `silicon_k` is everywhere (n, 6): output junction, sensing junction, driver of both channels, kelvin.
    """

    def __init__(self, units: UnitParameters) -> None:
        p = self._units = units
        at_reference = np.concatenate((p.output_vbe_volts, p.sensor_vbe_volts, p.driver_vbe_volts), axis=1)
        # Vbe = gap + T (slope - 3 (k/q) ln T): the same law as `junction_volts`, in fewer operations.
        self._slope = (at_reference - GAP_VOLTS) / REFERENCE_K + 3.0 * VOLTS_PER_KELVIN * np.log(REFERENCE_K)
        self._log_reference = np.log(p.reference_amperes)
        self._scale_per_kelvin = VOLTS_PER_KELVIN / p.emitter_ohm

    def gain(self, wiper: Floats) -> Floats:
        """Vbe multiplication for wiper positions, shape (n, 2), 0 to 1."""
        p = self._units
        position = np.where(p.trimmer_reversed > 0.0, 1.0 - wiper, wiper)
        result: Floats = 1.0 + p.upper_ohm / (p.lower_ohm + p.trimmer_ohm * (1.0 - position))
        return result

    def amperes(self, gain: Floats, added_volts: Floats, working: Floats, silicon_k: Floats) -> Floats:
        """Idle current of each output pair, shape (n, 2).

        `added_volts` is the part of V_B that does not come from the sensing junction, `working` how far the
        bias generator has come up, 0 to 1; both broadcast to (n, 2).
        """
        p = self._units
        vbe = self._junctions(silicon_k)
        bias = (gain * vbe[:, 2:4] + added_volts) * working
        spare = 0.5 * bias - p.driver_stages * vbe[:, 4:6] - vbe[:, 0:2]
        junction_k = silicon_k[:, 0:2]
        scale = self._scale_per_kelvin * junction_k
        argument = spare / (VOLTS_PER_KELVIN * junction_k) + self._log_reference - np.log(scale)
        result: Floats = scale * scipy.special.wrightomega(argument)
        return result

    def wiper_for(self, amperes: Floats, added_volts: Floats, working: Floats, silicon_k: Floats) -> Floats:
        """Wiper position at which `amperes` (n, 2) would flow; may lie outside 0..1."""
        p = self._units
        vbe = self._junctions(silicon_k)
        thermal = VOLTS_PER_KELVIN * silicon_k[:, 0:2]
        spare = drive(amperes, p.emitter_ohm, thermal) - thermal * self._log_reference
        bias = 2.0 * (spare + p.driver_stages * vbe[:, 4:6] + vbe[:, 0:2]) / np.maximum(working, 1e-9)
        gain = (bias - added_volts) / vbe[:, 2:4]
        position = 1.0 - (p.upper_ohm / (gain - 1.0) - p.lower_ohm) / p.trimmer_ohm
        result: Floats = np.where(p.trimmer_reversed > 0.0, 1.0 - position, position)
        return result

    def _junctions(self, silicon_k: Floats) -> Floats:
        result: Floats = GAP_VOLTS + silicon_k * (self._slope - 3.0 * VOLTS_PER_KELVIN * np.log(silicon_k))
        return result
