"""What reaches a run from the monitor besides verdicts: alarms, disturbances, and the coach."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from drivers.meter import MeterAccuracy
from drivers.reading import GapReason
from procedures.analysis.channel import AdviceKind, ChannelSetup
from procedures.analysis.disturbance import Kind
from procedures.analysis.monitor import Finding, Monitor
from procedures.events import (
    Acknowledged,
    Alarm,
    AlarmCleared,
    ChannelGap,
    ChannelReading,
    Disturbance,
    DriveChanged,
    LeadMoved,
    SettledChanged,
    Supply,
    SupplyChanged,
    Tick,
    Tier,
)

TARGET = 0.0135
NAMES = ("left bias", "right bias")


def healthy(at_s: float) -> float:
    return 1.0 - 0.1 * math.exp(-at_s / 10) - 0.1 * math.exp(-at_s / 60) - 0.12 * math.exp(-at_s / 600)


class Sitting:
    """Two channels on one unit, read once a second."""

    def __init__(self) -> None:
        self.monitor = Monitor(
            [
                ChannelSetup(
                    name,
                    target_volts=TARGET,
                    low_volts=0.95 * TARGET,
                    high_volts=1.05 * TARGET,
                    resistance_ohm=0.54,
                    emitter_resistor_ohm=0.27,
                    rail_volts=42.0,
                    accuracy=MeterAccuracy(resolution=1e-5),
                )
                for name in NAMES
            ]
        )
        self.found: list[Finding] = list(self.monitor.feed(SupplyChanged(0.0, Supply.MAINS)))
        self.now_s = 0.0
        self._noise = np.random.default_rng(7)
        self.factor = {"left bias": 1.0, "right bias": 1.0}

    def run(self, seconds: float, left: Callable[[float], float] = healthy) -> None:
        until_s = self.now_s + seconds
        while self.now_s < until_s:
            self.now_s += 1.0
            for name, course in zip(NAMES, (left, healthy), strict=True):
                volts = TARGET * self.factor[name] * course(self.now_s) + self._noise.normal(0.0, 5e-6)
                self.found += self.monitor.feed(ChannelReading(self.now_s, name, round(volts, 5)))

    @property
    def tiers(self) -> list[Tier]:
        return [x.tier for x in self.found if isinstance(x, Alarm)]


def test_a_healthy_warm_up_says_only_that_it_settled() -> None:
    sitting = Sitting()
    sitting.run(2700.0)
    assert all(isinstance(x, SettledChanged) and x.settled for x in sitting.found)
    assert {x.channel for x in sitting.found if isinstance(x, SettledChanged)} == set(NAMES)


def test_a_runaway_is_called_before_it_has_doubled_and_then_the_mains_are_named() -> None:
    sitting = Sitting()
    sitting.run(600.0, left=lambda t: 0.6 + 0.2 * math.exp(t / 220.0))
    alarms = [x for x in sitting.found if isinstance(x, Alarm)]
    doubled_s = 220.0 * math.log(1.4 / 0.2)
    first = next(x for x in alarms if x.tier is Tier.ACT)
    assert first.at_s < doubled_s - 120.0
    assert "W per device" in first.text
    assert alarms[-1].tier is Tier.OFF
    assert {x.channel for x in alarms} == {"left bias"}


def test_a_declared_signal_silences_bias_alarms_and_says_so() -> None:
    sitting = Sitting()
    sitting.run(60.0)
    sitting.found += sitting.monitor.feed(DriveChanged(sitting.now_s, True))
    sitting.run(60.0, left=lambda t: 15.0)
    assert sitting.tiers == []
    assert any(isinstance(x, Disturbance) and x.kind == Kind.DRIVE for x in sitting.found)


def test_a_silent_channel_is_reported_when_its_tick_comes() -> None:
    sitting = Sitting()
    sitting.run(60.0)
    due_s = sitting.monitor.next_deadline()
    assert due_s is not None
    found: list[Finding] = []
    while due_s is not None and due_s < 120.0:
        found += sitting.monitor.feed(Tick(due_s))
        due_s = sitting.monitor.next_deadline()
    blind = [x for x in found if isinstance(x, Alarm)]
    assert {x.channel for x in blind} == set(NAMES)
    assert {x.tier for x in blind} == {Tier.BLIND}
    assert all(x.at_s <= 75.5 for x in blind)


def test_one_meter_that_goes_from_channel_to_channel_leaves_no_blind_alarm() -> None:
    sitting = Sitting()
    monitor = sitting.monitor
    found: list[Finding] = list(monitor.feed(LeadMoved(1.0, "meter", "1", "left bias")))
    for second in range(2, 40):
        found += monitor.feed(ChannelReading(float(second), "left bias", TARGET))
    found += monitor.feed(LeadMoved(40.0, "meter", "1", "right bias"))
    for second in range(41, 100):
        found += monitor.feed(ChannelReading(float(second), "right bias", TARGET))
    assert not [x for x in found if isinstance(x, Alarm)]


def test_an_acknowledged_alarm_stays_silent() -> None:
    sitting = Sitting()
    sitting.run(30.0, left=lambda t: 1.6)
    (alarm,) = [x for x in sitting.found if isinstance(x, Alarm)]
    sitting.monitor.feed(Acknowledged(sitting.now_s, alarm.id))
    sitting.run(60.0, left=lambda t: 1.62)
    assert sitting.tiers == [Tier.LOOK]


def test_a_lasting_overload_is_a_lead_alarm() -> None:
    sitting = Sitting()
    sitting.run(30.0)
    for second in range(31, 37):
        gap = ChannelGap(float(second), float(second), "left bias", GapReason.OVERLOAD)
        sitting.found += sitting.monitor.feed(gap)
    assert sitting.tiers == [Tier.LEAD]
    sitting.run(10.0)
    assert any(isinstance(x, AlarmCleared) for x in sitting.found)


def test_a_step_is_named_and_revokes_the_verdict() -> None:
    sitting = Sitting()
    sitting.run(2400.0)
    assert sitting.monitor.state("left bias").settled
    sitting.run(60.0, left=lambda t: healthy(t) + 0.02)
    assert not sitting.monitor.state("left bias").settled
    assert any(isinstance(x, Disturbance) and x.kind == Kind.STEP for x in sitting.found)


def test_a_visit_to_a_trimmer_goes_from_the_nudge_to_letting_go() -> None:
    sitting = Sitting()
    monitor = sitting.monitor
    sitting.factor["left bias"] = 0.85
    sitting.run(2000.0)
    advice = monitor.advice("left bias")
    assert advice.kind is AdviceKind.NUDGE
    monitor.begin_trim("left bias", sitting.now_s)
    sitting.run(5.0)
    sitting.factor["left bias"] = 0.87
    sitting.run(3.0)
    advice = monitor.advice("left bias")
    assert advice.kind is AdviceKind.TURN
    assert advice.show_volts is not None
    sitting.factor["left bias"] = advice.show_volts / TARGET / healthy(sitting.now_s)
    sitting.run(8.0)
    assert monitor.advice("left bias").kind is AdviceKind.DONE
    monitor.end_trim("left bias", sitting.now_s)
    sitting.run(300.0)
    assert monitor.advice("left bias").kind is AdviceKind.DONE
    assert monitor.advice("right bias").kind is AdviceKind.LEAVE_ALONE
    assert not [x for x in sitting.found if isinstance(x, Alarm | Disturbance)]


def test_a_visit_that_finds_nothing_to_do_leaves_the_forecast_alone() -> None:
    sitting = Sitting()
    sitting.run(1500.0)
    before = sitting.monitor.state("left bias").forecast
    sitting.monitor.begin_trim("left bias", sitting.now_s)
    sitting.run(10.0)
    assert sitting.monitor.advice("left bias").kind is AdviceKind.LEAVE_ALONE
    sitting.monitor.end_trim("left bias", sitting.now_s)
    after = sitting.monitor.state("left bias").forecast
    assert before is not None
    assert after is not None
    assert after.spoken == before.spoken


def test_a_slip_during_a_visit_stops_the_guidance() -> None:
    sitting = Sitting()
    sitting.factor["left bias"] = 0.8
    sitting.run(2000.0)
    sitting.monitor.begin_trim("left bias", sitting.now_s)
    sitting.run(5.0)
    sitting.run(3.0, left=lambda t: 0.0)
    advice = sitting.monitor.advice("left bias")
    assert advice.kind is AdviceKind.STOP
    assert "possible slip: switch off, check the outputs" in advice.text


def test_nothing_is_made_of_readings_that_fade_after_the_power_was_switched_off() -> None:
    sitting = Sitting()
    sitting.run(300.0)
    sitting.found.clear()
    sitting.found += sitting.monitor.feed(SupplyChanged(sitting.now_s, Supply.OFF))
    off_s = sitting.now_s

    def fading(at_s: float) -> float:
        return 3.5 * math.exp(-(at_s - off_s) / 8.0)  # with a bump, as when the bias string lets go first

    sitting.run(60.0, left=fading)
    assert sitting.found == []
    sitting.found += sitting.monitor.feed(SupplyChanged(sitting.now_s, Supply.MAINS))
    sitting.run(10.0, left=lambda _: 3.5)
    assert Tier.OFF in sitting.tiers


def test_a_signal_that_a_lifted_lead_has_seen_suspends_nothing_any_more() -> None:
    """Nobody watches the output then, and bias is judged again."""
    monitor = Monitor([ChannelSetup("left bias", target_volts=TARGET), ChannelSetup("left output")])
    monitor.feed(SupplyChanged(0.0, Supply.MAINS))
    monitor.feed(LeadMoved(0.0, "other", "1", "left output"))
    found: list[Finding] = []
    for second in range(1, 60):
        found += monitor.feed(ChannelReading(float(second), "left output", 2.0 * (-1.0) ** second))
    assert [x.kind for x in found if isinstance(x, Disturbance)] == [Kind.DRIVE]
    for second in range(60, 70):
        found += monitor.feed(ChannelReading(float(second), "left bias", 4.0 * TARGET))
    assert not [x for x in found if isinstance(x, Alarm)]

    told = list(monitor.feed(LeadMoved(70.0, "other", "1", None)))
    for second in range(71, 80):
        told += monitor.feed(ChannelReading(float(second), "left bias", 4.0 * TARGET))
    assert [x.text for x in told if isinstance(x, Disturbance)] == [
        "Nobody watches the output for a signal any more: bias alarms watch again."
    ]
    assert [x.tier for x in told if isinstance(x, Alarm)] == [Tier.OFF]


def test_a_blind_spell_between_two_high_readings_has_not_been_high() -> None:
    """Nobody knows what it was meanwhile: the condition begins anew; what stands goes on standing."""
    sitting = Sitting()
    sitting.run(30.0)
    monitor, high = sitting.monitor, 1.6 * TARGET
    found = list(monitor.feed(ChannelReading(31.0, "left bias", high)))
    found += monitor.feed(ChannelReading(91.0, "left bias", high))
    assert not [x for x in found if isinstance(x, Alarm) and x.tier is Tier.LOOK]
    for second in range(92, 98):
        found += monitor.feed(ChannelReading(float(second), "left bias", high))
    assert [x.tier for x in found if isinstance(x, Alarm) and x.id == "bias:left bias"] == [Tier.LOOK]
    after = [*monitor.feed(ChannelReading(190.0, "left bias", high))]
    assert not [x for x in after if isinstance(x, AlarmCleared) and x.id == "bias:left bias"]
