"""The units in which a person types a value, and what they are inside: `35 mohm` is 0.035 ohm.

A number may be typed with its unit or without: without, the unit that was asked for is meant. Not here:
readings of a channel, which are typed in millivolts at the bench.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal
from typing import Literal, get_args

from drivers.reading import Unit

TypedIn = Literal[
    "V", "mV", "uV", "A", "mA", "uA", "ohm", "mohm", "kohm", "Mohm", "W", "degC", "Hz", "kHz", "%", "dB", "h"
]

UNITS: dict[str, tuple[Unit, float]] = {
    "V": (Unit.VOLT, 1.0),
    "mV": (Unit.VOLT, 1e-3),
    "uV": (Unit.VOLT, 1e-6),
    "A": (Unit.AMPERE, 1.0),
    "mA": (Unit.AMPERE, 1e-3),
    "uA": (Unit.AMPERE, 1e-6),
    "ohm": (Unit.OHM, 1.0),
    "mohm": (Unit.OHM, 1e-3),
    "kohm": (Unit.OHM, 1e3),
    "Mohm": (Unit.OHM, 1e6),
    "W": (Unit.WATT, 1.0),
    "degC": (Unit.CELSIUS, 1.0),
    "Hz": (Unit.HERTZ, 1.0),
    "kHz": (Unit.HERTZ, 1e3),
    "%": (Unit.PERCENT, 1.0),
    "dB": (Unit.DECIBEL, 1.0),
    "h": (Unit.HOUR, 1.0),
}
"""What each is inside: the unit, and by what a number is multiplied."""
assert set(UNITS) == set(get_args(TypedIn))
SHOWN = {"ohm": "Ω", "mohm": "mΩ", "kohm": "kΩ", "Mohm": "MΩ", "degC": "°C", "uV": "µV", "uA": "µA"}
_BY_PRINT = {name: name for name in UNITS} | {shown: name for name, shown in SHOWN.items()}
_BY_PRINT |= {"℃": "degC", "C": "degC", "Ohm": "ohm", "R": "ohm", "K": "kohm", "k": "kohm", "μA": "uA"}
_TYPED = re.compile(r"([-+−]?\d+(?:[.,]\d+)?|[-+−]?[.,]\d+)\s*([^\d\s.,]*)")


def in_si(value: float, typed_in: str) -> float:
    """A value in a unit, in the unit that is used inside."""
    return value * UNITS[typed_in][1]


def shown(typed_in: str) -> str:
    """A unit as a person reads it."""
    return SHOWN.get(typed_in, typed_in)


def typed_value(text: str, typed_in: str) -> float:
    """The value that a person typed, in the unit that is used inside; decimal comma or point.

    Raises:
        ValueError: with a sentence that says what was expected.
    """
    entry = text.strip().replace("\u2126", "Ω").replace("μ", "µ")
    found = _TYPED.fullmatch(entry)
    if found is None:
        raise ValueError(f'Type a number in {shown(typed_in)}: "{text[:20]}" is none.')
    unit = _BY_PRINT.get(found[2], "") if found[2] else typed_in
    if not unit or UNITS[unit][0] is not UNITS[typed_in][0]:
        raise ValueError(f'Type a number in {shown(typed_in)}: "{found[2][:10]}" is another unit.')
    value = float(found[1].replace(",", ".").replace("−", "-")) * UNITS[unit][1]
    if not math.isfinite(value):
        raise ValueError(f'Type a number in {shown(typed_in)}: "{text[:20]}" is none.')
    return value


def typed_with_unit(text: str) -> tuple[float, Unit]:
    """A value that a person typed with its unit, and that unit as it is used inside: `35 mohm` is 0.035 ohm.

    Raises:
        ValueError: with a sentence that says what was expected.
    """
    entry = text.strip().replace("\u2126", "Ω").replace("μ", "µ")
    found = _TYPED.fullmatch(entry)
    if found is None:
        raise ValueError(f'"{text[:20]}" is no number with its unit: type one, such as 231 V or 13.4 mV.')
    if not found[2]:
        raise ValueError(f'"{text[:20]}" has no unit: type it too, such as {found[1]} V.')
    unit = _BY_PRINT.get(found[2], "")
    if not unit:
        known = ", ".join(map(shown, UNITS))
        raise ValueError(f'"{found[2][:10]}" is no unit that is known here; these are: {known}.')
    return typed_value(text, unit), UNITS[unit][0]


def as_typed(value: float, unit: Unit) -> str:
    """A value as a person would type it again: 0.0134 V is `13.4 mV`."""
    sizes = {name: size for name, (inside, size) in UNITS.items() if inside is unit}
    fitting = [name for name, size in sizes.items() if size <= abs(value)]
    name = max(fitting, key=sizes.__getitem__) if fitting else min(sizes, key=sizes.__getitem__)
    if not value:
        name = next(iter(sizes))
    number = f"{Decimal(f'{value / sizes[name]:.12g}'):f}"
    return f"{number} {shown(name)}"
