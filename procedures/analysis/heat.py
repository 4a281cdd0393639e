"""Current and idle heat of an output device, from what lies across its emitter resistors."""

from __future__ import annotations

from drivers.reading import Unit
from procedures.analysis.channel import ChannelSetup


def amperes_of(setup: ChannelSetup, value: float) -> float | None:
    """Current of one pair; None without a known resistance between the test points."""
    if setup.unit is Unit.AMPERE:
        return value
    if setup.unit is not Unit.VOLT or not setup.resistance_ohm:
        return None
    return value / setup.resistance_ohm


def device_watts(setup: ChannelSetup, value: float) -> float | None:
    """Idle heat of one output device: its current times what is left of the rail; None when unknown."""
    amperes = amperes_of(setup, value)
    if amperes is None or setup.rail_volts is None:
        return None
    drop = abs(amperes) * (setup.emitter_resistor_ohm or 0.0)
    return max(0.0, abs(setup.rail_volts) - drop) * abs(amperes)
