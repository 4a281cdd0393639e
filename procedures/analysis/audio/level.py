"""Levels, power, gain, balance, crosstalk, output impedance: arithmetic on rms volts.

Every function says its formula; a load is what was measured, warm, not what is printed on it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from drivers.audio.capture import Capture
from procedures.analysis.audio.distortion import BAND_HZ
from procedures.analysis.audio.fitness import CannotMeasure, require_fit
from procedures.analysis.audio.spectrum import spectrum

DBU_VOLTS = math.sqrt(0.6)
"""0 dBu: 1 mW in 600 ohm."""


def rms(capture: Capture, band_hz: tuple[float, float] = BAND_HZ) -> float:
    """Root mean square of a capture in a band, volts; raises CannotMeasure when it is not fit."""
    lines = spectrum(capture)
    return lines.band_volts(band_hz[0], min(band_hz[1], lines.rate_hz / 2.0))


def offset_volts(capture: Capture) -> float:
    """The mean of a capture: the DC offset, volts; raises CannotMeasure when it is not fit."""
    require_fit(capture)
    return float(np.mean(capture.volts))


def watts(volts_rms: float, load_ohm: float) -> float:
    """Power in a resistive load: V²/R.

    Raises:
        CannotMeasure: the load is not above zero.
    """
    if not load_ohm > 0.0:
        raise CannotMeasure(f"a load of {load_ohm:g} ohm cannot take power; enter the measured resistance.")
    return volts_rms**2 / load_ohm


def decibels(volts: float, reference_volts: float) -> float:
    """20 log of a ratio of voltages; -inf for nothing.

    Raises:
        CannotMeasure: the reference is not above zero.
    """
    if not reference_volts > 0.0:
        raise CannotMeasure("the reference level is zero; measure it with the signal on.")
    return 20.0 * math.log10(volts / reference_volts) if volts > 0.0 else -math.inf


@dataclass(frozen=True, slots=True)
class OutputImpedance:
    """Output impedance by two loads, and the damping factor into the nominal load."""

    ohm: float
    damping_factor: float
    uncertainty_ohm: float

    @property
    def resolved(self) -> bool:
        """Whether the two voltages differ by more than they are known to."""
        return abs(self.ohm) > self.uncertainty_ohm


def output_impedance(
    light_volts: float,
    light_ohm: float,
    heavy_volts: float,
    heavy_ohm: float,
    *,
    nominal_ohm: float = 8.0,
    ratio_uncertainty: float = 2e-4,
) -> OutputImpedance:
    """Output impedance from the same drive into two loads; `light_ohm` may be inf (no load).

    `ratio_uncertainty` is how well the ratio of the two voltages is known. Same terminals for both, and well
    below clipping, or the supply's sag passes for impedance.

    Raises:
        CannotMeasure: the loads do not differ, or a voltage is missing.
    """
    if not (light_volts > 0.0 and heavy_volts > 0.0):
        raise CannotMeasure("one of the two voltages is zero; measure both with the same drive.")
    light_amperes, heavy_amperes = light_volts / light_ohm, heavy_volts / heavy_ohm
    between = heavy_amperes - light_amperes
    if not between > 1e-3 * heavy_amperes:
        raise CannotMeasure(
            f"loads of {light_ohm:g} and {heavy_ohm:g} ohm do not differ enough; "
            f"use none and {nominal_ohm:g} ohm."
        )
    ohm = (light_volts - heavy_volts) / between
    unsure = ratio_uncertainty * heavy_volts / between
    return OutputImpedance(ohm, nominal_ohm / ohm if ohm > 0.0 else math.inf, unsure)
