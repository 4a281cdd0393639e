"""The thermal loop gain says beforehand what a small disturbance will come to."""

from __future__ import annotations

import numpy as np
import pytest
from thermal_loop_gain import loop_gain

from drivers.simulated.parameters import parameters
from drivers.simulated.physics import Amplifiers
from drivers.simulated.units import load_unit, shipped_units


@pytest.mark.parametrize("follows", [1.05, 0.8])
def test_the_disturbance_that_grows_most_grows_by_one_over_one_minus_gain(follows: float) -> None:
    # Equal channels, so the two eigenvectors are "both up" and "one up, one down".
    units = parameters(3, sensor_sink_fraction=follows, wiper=0.5, supply_ohm=0.0)
    model = Amplifiers(units, dt_s=5.0)
    model.advance(20_000.0)
    gain = loop_gain(model)[0]
    at_rest = model.amperes[0]
    model.set_wiper(model.wiper + 1e-4 * np.array([[0.0, 0.0], [1.0, 1.0], [1.0, -1.0]]))
    at_once = (model.amperes - at_rest)[1:, 0]
    model.advance(20_000.0)
    at_last = (model.amperes - model.amperes[0])[1:, 0]
    assert (at_last / at_once).max() == pytest.approx(1.0 / (1.0 - gain), rel=0.02)


def test_only_the_runaway_unit_feeds_back_more_than_it_takes() -> None:
    for name in shipped_units():
        model = Amplifiers(load_unit(name).parameters, dt_s=0.5)
        model.advance(300.0)
        gain = loop_gain(model)[0]
        assert (gain > 1.0) == (name == "runaway"), f"{name}: {gain}"
        assert np.isfinite(gain)
