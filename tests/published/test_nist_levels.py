"""What the drifting and lively readings of NIST StRD univariate sets must lead to."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from procedures.analysis.channel import AnalysisSettings, ChannelSetup
from procedures.analysis.monitor import Monitor
from procedures.analysis.trend import trend
from procedures.events import ChannelReading, SettledChanged, Supply, SupplyChanged

SHARED = Path(__file__).resolve().parents[3] / "shared" / "data" / "nist_univariate"
needs_shared = pytest.mark.skipif(not SHARED.is_dir(), reason="the NIST univariate files are not here")


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
