"""Bench time at a speed of its own: what was stamped before a change of speed stays where it was."""

from __future__ import annotations

import pytest

from drivers.clock import ScaledClock, host_seconds


def test_a_moment_before_a_change_of_speed_keeps_its_bench_time() -> None:
    """A reading that is under way then would else begin minutes before it was asked for."""
    clock = ScaledClock(1.0)
    asked_host = host_seconds()
    asked_s = clock.at_host(asked_host)
    clock.set_rate(1e9)

    assert clock.at_host(asked_host) == pytest.approx(asked_s, abs=1e-6)


@pytest.mark.parametrize("rate", [0.0, -1.0])
def test_time_never_stands_still_or_goes_back(rate: float) -> None:
    with pytest.raises(ValueError, match="above zero"):
        ScaledClock(1.0).set_rate(rate)
