"""Whether the computer slept, told from two clocks, or from turns that come late."""

from __future__ import annotations

import pytest

from app.bench import sleep
from app.bench.sleep import ComputerSleep, Slept


class Computer:
    """A computer whose clocks are moved by hand."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, suspended_s: float | None) -> None:
        self.host_s = 50.0
        self.suspended_s = suspended_s
        monkeypatch.setattr(sleep, "host_seconds", lambda: self.host_s)
        monkeypatch.setattr(sleep, "suspended_seconds", lambda: self.suspended_s)


def test_sleep_that_the_bench_clock_does_not_count_is_added(monkeypatch: pytest.MonkeyPatch) -> None:
    """The clock that counts sleep ran on for ten minutes."""
    computer = Computer(monkeypatch, 100.0)
    watch = ComputerSleep()
    computer.host_s += 0.25
    computer.suspended_s = 700.0

    assert watch.since_last_turn() == Slept(600.0, 600.0)
    assert watch.since_last_turn() is None


def test_where_sleep_is_counted_by_the_bench_clock_nothing_is_added(monkeypatch: pytest.MonkeyPatch) -> None:
    """The turn came ten minutes late, and session time has them already."""
    computer = Computer(monkeypatch, None)
    watch = ComputerSleep()
    computer.host_s += 600.0

    assert watch.since_last_turn() == Slept(600.0, 0.0)
    computer.host_s += 0.25
    assert watch.since_last_turn() is None


def test_a_busy_computer_is_not_asleep(monkeypatch: pytest.MonkeyPatch) -> None:
    """A second's delay is no break."""
    computer = Computer(monkeypatch, 0.0)
    watch = ComputerSleep()
    computer.host_s += 1.0
    computer.suspended_s = 0.5

    assert watch.since_last_turn() is None
