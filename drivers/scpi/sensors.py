"""Temperature from a meter's ohms or volts: platinum resistors and type K thermocouples.

Platinum: the Callendar-Van Dusen equation with the coefficients of IEC 60751. Type K: the reference functions
of ITS-90 in the form of NIST Monograph 175. Outside the range of an equation there is no temperature.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from enum import StrEnum

_A, _B, _C = 3.9083e-3, -5.775e-7, -4.183e-12  # IEC 60751

# NIST Monograph 175, type K: volts from temperature, 0 to 1372 degrees C (here in millivolts).
_K_FORWARD = (
    -1.7600413686e-2,
    3.8921204975e-2,
    1.8558770032e-5,
    -9.9457592874e-8,
    3.1840945719e-10,
    -5.6072844889e-13,
    5.6075059059e-16,
    -3.2020720003e-19,
    9.7151147152e-23,
    -1.2104721275e-26,
)
_K_BUMP = (1.185976e-1, -1.183432e-4, 126.9686)
# The same below zero, to -270 degrees C.
_K_FORWARD_COLD = (
    0.0,
    3.9450128025e-2,
    2.3622373598e-5,
    -3.2858906784e-7,
    -4.9904828777e-9,
    -6.7509059173e-11,
    -5.7410327428e-13,
    -3.1088872894e-15,
    -1.0451609365e-17,
    -1.9889266878e-20,
    -1.6322697486e-23,
)
_K_LOW_C, _K_HIGH_C = -200.0, 1370.0
_PLATINUM_LOW_C, _PLATINUM_HIGH_C = -200.0, 850.0


class Sensor(StrEnum):
    """What is connected to the meter's input instead of test points."""

    PT100 = "Pt100"
    PT1000 = "Pt1000"
    TYPE_K = "K"


def celsius(sensor: Sensor, measured: float, cold_junction_c: float = 25.0) -> float | None:
    """Degrees C from what the meter measured, or None outside the sensor's range.

    Args:
        sensor: what is connected.
        measured: ohms of a platinum resistor, volts of a thermocouple.
        cold_junction_c: temperature of the thermocouple's terminals.
    """
    if sensor is Sensor.TYPE_K:
        return _type_k_celsius(measured * 1e3 + type_k_millivolts(cold_junction_c))
    return _platinum_celsius(measured / (100.0 if sensor is Sensor.PT100 else 1000.0))


def platinum_ratio(temperature_c: float) -> float:
    """Resistance of a platinum sensor divided by that at 0 degrees C (IEC 60751)."""
    t = temperature_c
    cold = _C * (t - 100.0) * t**3 if t < 0.0 else 0.0
    return 1.0 + _A * t + _B * t * t + cold


def _platinum_celsius(ratio: float) -> float | None:
    if not platinum_ratio(_PLATINUM_LOW_C) <= ratio <= platinum_ratio(_PLATINUM_HIGH_C):
        return None
    t = (-_A + math.sqrt(_A * _A - 4.0 * _B * (1.0 - ratio))) / (2.0 * _B)
    if t >= 0.0:
        return t
    return _inverted(platinum_ratio, ratio, _PLATINUM_LOW_C, 0.0)


def type_k_millivolts(temperature_c: float) -> float:
    """Millivolts of a type K thermocouple whose terminals are at 0 degrees C."""
    t = temperature_c
    if t < 0.0:
        return _polynomial(_K_FORWARD_COLD, t)
    height, width, middle = _K_BUMP
    return _polynomial(_K_FORWARD, t) + height * math.exp(width * (t - middle) ** 2)


def _type_k_celsius(millivolts: float) -> float | None:
    if not type_k_millivolts(_K_LOW_C) <= millivolts <= type_k_millivolts(_K_HIGH_C):
        return None
    return _inverted(type_k_millivolts, millivolts, _K_LOW_C, _K_HIGH_C)


def _polynomial(coefficients: tuple[float, ...], x: float) -> float:
    value = 0.0
    for coefficient in reversed(coefficients):
        value = value * x + coefficient
    return value


def _inverted(rising: Callable[[float], float], wanted: float, low: float, high: float) -> float:
    """Where a rising function has a value, by bisection to a ten-thousandth of a degree."""
    while high - low > 1e-4:
        middle = 0.5 * (low + high)
        if rising(middle) < wanted:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
