"""Simulated amplifiers as data: the files of an invented maker, and how such files are read."""

from drivers.simulated.unit_titles import SURPRISE
from drivers.simulated.units.loading import (
    Defect,
    Knob,
    SimulatedUnit,
    UnitRefused,
    drawn_unit,
    load_unit,
    parsed,
    shipped_units,
)

__all__ = [
    "SURPRISE",
    "Defect",
    "Knob",
    "SimulatedUnit",
    "UnitRefused",
    "drawn_unit",
    "load_unit",
    "parsed",
    "shipped_units",
]
