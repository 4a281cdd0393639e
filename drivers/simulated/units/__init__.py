"""Simulated amplifiers as data: the files of an invented maker, and how such files are read."""

from drivers.simulated.units.loading import (
    Knob,
    SimulatedUnit,
    UnitRefused,
    load_unit,
    parsed,
    shipped_units,
)

__all__ = ["Knob", "SimulatedUnit", "UnitRefused", "load_unit", "parsed", "shipped_units"]
