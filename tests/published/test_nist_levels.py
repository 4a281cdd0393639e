"""Levels and scatter against NIST StRD univariate sets, and what drifting or lively readings must lead to."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from procedures.analysis.channel import AnalysisSettings, ChannelSetup
from procedures.analysis.monitor import Monitor
from procedures.analysis.trend import lag_one, mean_and_sd, trend
from procedures.events import ChannelReading, SettledChanged, Supply, SupplyChanged

SHARED = Path(__file__).resolve().parents[3] / "shared" / "data" / "nist_univariate"
needs_shared = pytest.mark.skipif(not SHARED.is_dir(), reason="the NIST univariate files are not here")

# NIST StRD NumAcc1-4: the data follow from their description; certified mean, SD and lag-1 coefficient.
NUMACC = {
    "NumAcc1": ([10000001.0, 10000003.0, 10000002.0], 10000002.0, 1.0, -0.5),
    "NumAcc2": ([1.2, *[1.1, 1.3] * 500], 1.2, 0.1, -0.999),
    "NumAcc3": ([1000000.2, *[1000000.1, 1000000.3] * 500], 1000000.2, 0.1, -0.999),
    "NumAcc4": ([10000000.2, *[10000000.1, 10000000.3] * 500], 10000000.2, 0.1, -0.999),
}


def univariate(name: str) -> np.ndarray:
    """The numbers at the end of a StRD file."""
    values = []
    for text in reversed((SHARED / name).read_text(encoding="latin-1").splitlines()):
        try:
            values.append(float(text))
        except ValueError:
            if values:
                break
    return np.array(values[::-1])


@pytest.mark.parametrize("name", NUMACC)
def test_scatter_survives_a_large_offset(name: str) -> None:
    readings, mean, sd, _ = NUMACC[name]

    found = mean_and_sd(np.array(readings))

    # NIST StRD, certified values; a one-pass sum of squares is 79 % wrong on NumAcc4
    assert found[0] == pytest.approx(mean, rel=1e-14)
    assert found[1] == pytest.approx(sd, rel=1e-8)


@pytest.mark.parametrize("name", NUMACC)
def test_correlation_of_neighbours(name: str) -> None:
    readings, _, _, lag = NUMACC[name]

    assert lag_one(np.array(readings)) == pytest.approx(lag, abs=1e-7)  # NIST StRD, certified


@needs_shared
@pytest.mark.parametrize(
    ("name", "mean", "sd", "lag"),
    [
        ("Mavro.txt", 2.001856, 0.000429123454003053, 0.937989183438248),
        ("Michelso.txt", 299.8524, 0.0790105478190518, 0.535199668621283),
        ("Lew.txt", -177.435, 277.332168044316, -0.307304800605679),
    ],
)
def test_measured_sets_have_their_certified_figures(name: str, mean: float, sd: float, lag: float) -> None:
    values = univariate(name)

    found = mean_and_sd(values)

    assert found[0] == pytest.approx(mean, rel=1e-12)
    assert found[1] == pytest.approx(sd, rel=1e-9)
    assert lag_one(values) == pytest.approx(lag, rel=1e-9)


@needs_shared
def test_a_small_scatter_that_drifts_does_not_exclude_a_drift() -> None:
    values = univariate("Mavro.txt")  # scatter 0.02 % of the level, neighbours correlated by 0.94

    found = trend(np.arange(len(values)) * 5.0, values)

    assert found is not None
    possible = (abs(found.rate_per_s) + 1.96 * found.rate_se) * 900.0
    assert possible > 10.0 * found.scatter  # the textbook error would bound it at five


@needs_shared
def test_a_small_scatter_that_drifts_is_not_settled() -> None:
    values = univariate("Mavro.txt")
    setup = ChannelSetup("left bias", target_volts=2.0, low_volts=1.98, high_volts=2.02)
    monitor = Monitor([setup], AnalysisSettings(limit=0.002))
    monitor.feed(SupplyChanged(0.0, Supply.MAINS))

    found = [
        event
        for number, value in enumerate(values)
        for event in monitor.feed(ChannelReading(10.0 + 15.0 * number, "left bias", float(value)))
    ]

    assert not [event for event in found if isinstance(event, SettledChanged)]
    assert np.all(np.abs(values - 2.0) < 0.02)  # inside the window all the time: the naive rule passes it


@needs_shared
def test_an_oscillation_is_no_drift() -> None:
    values = univariate("Lew.txt")  # a beam that swings; neighbours anticorrelated

    found = trend(np.arange(len(values)) * 5.0, values)

    assert found is not None
    assert abs(found.rate_per_s) < 1.96 * found.rate_se


@needs_shared
def test_correlated_readings_have_a_wider_error_than_the_textbook_says() -> None:
    values = univariate("Michelso.txt")
    at = np.arange(len(values)) * 5.0

    found = trend(at, values)

    assert found is not None
    spread = float(np.sqrt(((at - at.mean()) ** 2).sum()))
    assert found.rate_se > 1.3 * found.scatter / spread
