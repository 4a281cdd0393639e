"""Simulated amplifiers as data: the files of an invented maker, and how such files are read."""

from drivers.simulated.units.loading import (
    Defect,
    Knob,
    SimulatedUnit,
    UnitRefused,
    load_unit,
    parsed,
    shipped_units,
)

__all__ = ["Defect", "Knob", "SimulatedUnit", "UnitRefused", "load_unit", "parsed", "shipped_units"]
