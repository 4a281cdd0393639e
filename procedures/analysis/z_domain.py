"""The domain in which trim and temperature add: z = I Re + Vt ln I of an emitter follower.

In millivolts a trimmer's effect depends on where the reading is and changes while the stage warms up; in z a
turn is always worth the same, and so is a kelvin. Holds for bipolar emitter followers whose current is read
across known emitter resistors; for other stages there is no such domain and `ZDomain.of` gives None.
Not here: when to trim (`trim`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import scipy  # its parts are imported when they are first used

from procedures.amplifier import OutputStage
from procedures.analysis.channel import ChannelSetup

BOLTZMANN_J_PER_K = 1.380649e-23
ELEMENTARY_C = 1.602176634e-19
ZERO_CELSIUS_K = 273.15

_JUNCTION_C = 45.0  # a warm output junction; z changes by 0.3 % a kelvin, and trim maths uses differences
_FOLLOWERS = (OutputStage.EMITTER_FOLLOWER, OutputStage.TRIPLE)


def thermal_volts(celsius: float) -> float:
    """Thermal voltage kT/e (SI, exact since 2019: BIPM, SI Brochure, 9th edition, table 1)."""
    return BOLTZMANN_J_PER_K * (celsius + ZERO_CELSIUS_K) / ELEMENTARY_C


def oliver_amperes(emitter_ohm: float, inner_ohm: float = 0.0, celsius: float = 25.0) -> float:
    """Class-B bias of least crossover error: the thermal voltage across all the emitter resistance.

    A ruler to hold a target against, never a default: makers often choose much less, for the heat
    (B. M. Oliver, Hewlett-Packard Journal, Feb 1971, as cited). Amperes per device.
    """
    return thermal_volts(celsius) / (emitter_ohm + inner_ohm)


@dataclass(frozen=True, slots=True)
class ZDomain:
    """Maps a reading in volts to z in volts and back.

    `read_ohm` is the resistance between the test points, `emitter_ohm` the resistor of one device; the
    current is that of one pair, so parallel pairs need no further term.
    """

    read_ohm: float
    emitter_ohm: float
    vt: float = thermal_volts(_JUNCTION_C)

    @staticmethod
    def of(setup: ChannelSetup) -> ZDomain | None:
        """The domain of a channel, or None where it does not apply or a resistor is unknown."""
        if setup.stage not in _FOLLOWERS or setup.resistance_ohm is None or setup.resistance_ohm <= 0.0:
            return None
        emitter = setup.emitter_resistor_ohm
        if emitter is None or emitter <= 0.0:
            return None
        return ZDomain(setup.resistance_ohm, emitter)

    def z(self, volts: float) -> float:
        """The z of a reading; one at or below zero has none and gives the value of 0.1 µA."""
        amperes = max(volts / self.read_ohm, 1e-7)
        return amperes * self.emitter_ohm + self.vt * math.log(amperes)

    def volts(self, z: float) -> float:
        """The reading that belongs to z (Wright omega: no iteration, never overflows)."""
        exponent = z / self.vt + math.log(self.emitter_ohm / self.vt)
        amperes = self.vt / self.emitter_ohm * float(scipy.special.wrightomega(exponent).real)
        return amperes * self.read_ohm

    def slope(self, volts: float) -> float:
        """Change of z per volt of reading at a level."""
        amperes = max(volts / self.read_ohm, 1e-7)
        return (self.emitter_ohm + self.vt / amperes) / self.read_ohm
