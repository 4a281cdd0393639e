"""What the monitor promises to whoever feeds it, whatever the mathematics inside."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from procedures.amplifier import Condition, ConditionKind
from procedures.analysis.channel import AnalysisSettings, ChannelSetup, Position
from procedures.analysis.monitor import Monitor
from procedures.events import ChannelReading, Disturbance, SettledChanged, Supply, SupplyChanged, Tick

LEFT = "left bias"
SETUP = ChannelSetup(
    LEFT, target_volts=13.5e-3, low_volts=12.15e-3, high_volts=14.85e-3, resistance_ohm=0.54,
    emitter_resistor_ohm=0.27, rail_volts=42.0,
)  # fmt: skip


def warm_up(elapsed_s: float) -> float:
    return 13.6e-3 - 1.5e-3 * math.exp(-elapsed_s / 240.0)


def fed(
    monitor: Monitor, until_s: float, every_s: float = 1.0, supply: Supply = Supply.MAINS
) -> list[object]:
    found: list[object] = list(monitor.feed(SupplyChanged(0.0, supply)))
    for n in range(int(until_s / every_s)):
        at_s = (n + 0.5) * every_s
        # A millionth of deterministic unrest, so that the meter's steps can be told from a constant.
        value = warm_up(at_s) + 3e-6 * math.sin(n * 1.7)
        found.extend(monitor.feed(ChannelReading(at_s, LEFT, value)))
    return found


def test_a_warm_up_that_flattens_becomes_settled_with_a_reason() -> None:
    monitor = Monitor([SETUP])

    found = fed(monitor, 2400.0)

    settled = [f for f in found if isinstance(f, SettledChanged)]
    assert settled[-1].settled
    assert settled[-1].reason
    state = monitor.state(LEFT)
    assert state.settled is True
    assert state.position is Position.INSIDE


def test_while_it_still_moves_the_reason_says_how_fast() -> None:
    monitor = Monitor([SETUP])
    fed(monitor, 320.0)

    state = monitor.state(LEFT)

    assert state.settled is False
    assert "rising" in state.reason
    assert "/min" in state.reason


@pytest.mark.parametrize("supply", [Supply.SERIES_LAMP, Supply.REDUCED])
def test_nothing_is_settled_on_a_reduced_supply(supply: Supply) -> None:
    monitor = Monitor([SETUP])

    found = fed(monitor, 3600.0, supply=supply)

    assert not [f for f in found if isinstance(f, SettledChanged)]
    assert monitor.state(LEFT).settled is False
    assert supply.value.split()[0] in monitor.state(LEFT).reason


def test_current_and_heat_of_a_device_follow_from_the_resistors() -> None:
    monitor = Monitor([SETUP])
    fed(monitor, 2400.0)

    state = monitor.state(LEFT)

    assert state.amperes == pytest.approx(13.6e-3 / 0.54, rel=1e-3)
    assert state.watts_per_device == pytest.approx(42.0 * 13.6e-3 / 0.54, rel=1e-3)


def test_the_same_inputs_give_the_same_outputs() -> None:
    first, second = Monitor([SETUP]), Monitor([SETUP])

    assert fed(first, 1500.0) == fed(second, 1500.0)
    assert first.states() == second.states()


def test_a_tick_closes_a_block_that_nothing_followed() -> None:
    monitor = Monitor([SETUP])
    monitor.feed(SupplyChanged(0.0, Supply.MAINS))
    monitor.feed(ChannelReading(1.0, LEFT, 13.0e-3))
    monitor.feed(ChannelReading(2.0, LEFT, 13.0e-3))
    assert monitor.state(LEFT).level is None

    due_s = monitor.next_deadline()
    assert due_s is not None
    monitor.feed(Tick(due_s))

    assert monitor.state(LEFT).level == pytest.approx(13.0e-3)


def test_a_reading_every_ten_seconds_is_a_level_at_once() -> None:
    monitor = Monitor([SETUP])
    fed(monitor, 100.0, every_s=10.0)

    assert monitor.state(LEFT).level == pytest.approx(warm_up(95.0), rel=1e-3)


def test_an_unwatched_channel_is_none_of_its_business() -> None:
    assert Monitor([SETUP]).feed(ChannelReading(1.0, "mains", 230.0)) == ()


def test_two_channels_of_one_name_are_refused() -> None:
    with pytest.raises(ValueError, match="same name"):
        Monitor([SETUP, SETUP], AnalysisSettings())


def test_findings_are_of_the_promised_kinds() -> None:
    found = fed(Monitor([SETUP]), 2400.0)

    assert all(isinstance(f, SettledChanged | Disturbance) for f in found)


def test_a_stated_time_counts_from_the_first_reading_where_nobody_said_when_it_was_switched_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The coach looks ahead to the same moment at which the target is judged."""
    at_ten_minutes = replace(SETUP, condition=Condition(ConditionKind.AT_TIME, time_s=600.0))
    monitor = Monitor([at_ten_minutes])
    for second in range(120):
        monitor.feed(ChannelReading(3000.0 + second, LEFT, warm_up(second)))
    asked: list[float | None] = []
    monkeypatch.setattr(monitor._watches[LEFT], "forecast", asked.append)
    monitor.advice(LEFT)

    assert asked == [pytest.approx(3600.0, abs=10.0)]
