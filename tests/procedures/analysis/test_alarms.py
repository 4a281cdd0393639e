"""The table of alarms, rule by rule."""

from __future__ import annotations

import pytest

from drivers.meter import MeterAccuracy
from drivers.reading import GapReason
from procedures.analysis.alarms import AlarmBoard, is_bias
from procedures.analysis.channel import ChannelSetup, Forecast
from procedures.events import Alarm, AlarmCleared, Disturbance, Tier

TARGET = 0.0135
LEFT = ChannelSetup(
    "left bias",
    target_volts=TARGET,
    low_volts=0.0122,
    high_volts=0.0149,
    resistance_ohm=0.54,
    emitter_resistor_ohm=0.27,
    rail_volts=45.0,
    accuracy=MeterAccuracy(resolution=1e-5),
)


class Bench:
    """Feeds a board as the monitor does: every reading, and a block every five seconds."""

    def __init__(self, *setups: ChannelSetup) -> None:
        self.board = AlarmBoard(setups or (LEFT,))
        self.now_s = 0.0
        self.heard: list[Alarm | AlarmCleared | Disturbance] = []

    def hold(
        self, ratio: float, seconds: float, slope_per_min: float = 0.0, channel: str = "left bias"
    ) -> None:
        start_s = self.now_s
        while self.now_s < start_s + seconds:
            self.now_s += 1.0
            volts = TARGET * (ratio + slope_per_min * (self.now_s - start_s) / 60.0)
            self.heard += self.board.reading(self.now_s, channel, volts)
            if self.now_s % 5.0 == 0.0:
                self.heard += self.board.of(channel).block(
                    self.now_s, volts, since_on_s=self.now_s, unjudged=self.board.unjudged
                )

    @property
    def tiers(self) -> list[Tier]:
        return [x.tier for x in self.heard if isinstance(x, Alarm)]

    @property
    def last(self) -> Alarm:
        return [x for x in self.heard if isinstance(x, Alarm)][-1]

    @property
    def cleared(self) -> int:
        return sum(isinstance(x, AlarmCleared) for x in self.heard)


def test_at_the_target_there_is_silence() -> None:
    bench = Bench()
    bench.hold(1.0, 900.0)
    assert bench.heard == []


def test_above_one_and_a_half_times_for_five_seconds_is_a_look() -> None:
    bench = Bench()
    bench.hold(1.55, 4.0)
    assert bench.tiers == []
    bench.hold(1.55, 4.0)
    assert bench.tiers == [Tier.LOOK]
    assert bench.last.text.startswith("Left bias reads 20.9")
    assert "1.6 times its target" in bench.last.text or "1.5 times its target" in bench.last.text
    assert "W per device" in bench.last.text


def test_above_two_and_a_half_is_act_and_above_three_is_off() -> None:
    bench = Bench()
    bench.hold(2.6, 3.0)
    assert bench.tiers == [Tier.ACT]
    bench.hold(3.1, 3.0)
    assert bench.tiers == [Tier.ACT, Tier.OFF]
    assert bench.last.text.startswith("Switch the mains off now.")
    assert "Before the next power-up" in bench.last.text


@pytest.mark.parametrize(("limit", "tier"), [(None, Tier.OFF), (3.0, Tier.OFF), (20.0, Tier.ACT)])
def test_three_times_is_off_only_over_the_heat_limit_or_without_one(limit: float | None, tier: Tier) -> None:
    # 3.1 x 25 mA at 45 V is 3.4 W per device
    bench = Bench(
        ChannelSetup(
            "left bias",
            target_volts=TARGET,
            resistance_ohm=0.54,
            emitter_resistor_ohm=0.27,
            rail_volts=45.0,
            device_limit_watts=limit,
        )
    )
    bench.hold(3.1, 3.0)
    assert bench.tiers[-1] is tier


def test_one_spike_of_a_fast_meter_is_no_alarm() -> None:
    bench = Bench()
    bench.hold(1.0, 10.0)
    bench.hold(9.0, 1.0)
    bench.hold(1.0, 10.0)
    assert bench.tiers == []


def test_one_typed_value_is_enough() -> None:
    bench = Bench(ChannelSetup("left bias", target_volts=TARGET, typed=True))
    bench.heard += bench.board.reading(60.0, "left bias", 3.2 * TARGET)
    assert bench.tiers == [Tier.OFF]


def test_reversed_probes_do_not_hide_a_high_current() -> None:
    bench = Bench()
    bench.hold(-2.6, 3.0)
    assert bench.tiers == [Tier.ACT]


def test_a_forecast_above_the_window_is_a_look_once_it_is_spoken() -> None:
    bench = Bench()

    def block(spoken: bool, seconds: int) -> None:
        for _ in range(seconds // 5):
            bench.now_s += 5.0
            forecast = Forecast(bench.now_s, 1800.0, 0.0155, 0.0152, 0.0158, spoken)
            bench.heard += bench.board.of("left bias").block(
                bench.now_s, 0.0140, since_on_s=bench.now_s, unjudged=False, forecast=forecast
            )

    block(False, 120)
    assert bench.tiers == []
    block(True, 60)
    assert bench.tiers == [Tier.LOOK]
    assert "would rest near 15.50 mV" in bench.last.text


def test_a_forecast_that_comes_down_from_above_the_window_is_no_alarm_by_itself() -> None:
    """Found a little high and falling: the window shows it; nothing is leaving it."""
    bench = Bench()
    for _ in range(120):
        bench.now_s += 5.0
        forecast = Forecast(bench.now_s, 1800.0, 0.0155, 0.0152, 0.0158, True)
        bench.heard += bench.board.of("left bias").block(
            bench.now_s, 0.0158, since_on_s=bench.now_s, unjudged=False, forecast=forecast
        )
    assert bench.tiers == []


def test_a_rate_is_blank_for_150_s_after_a_trim_and_a_level_is_not() -> None:
    bench = Bench()
    bench.hold(0.8, 300.0)
    bench.board.of("left bias").trimmed(bench.now_s)
    bench.hold(0.8, 140.0, slope_per_min=0.2)
    assert bench.tiers == []
    bench.hold(1.3, 30.0, slope_per_min=0.2)
    assert bench.tiers  # the blank time is over
    again = Bench()
    again.board.of("left bias").trimmed(0.0)
    again.hold(2.6, 3.0)
    assert again.tiers == [Tier.ACT]


def test_an_acknowledged_alarm_is_silent_until_ten_percent_higher() -> None:
    bench = Bench()
    bench.hold(1.6, 10.0)
    bench.board.acknowledge(bench.last.id)
    bench.hold(1.7, 20.0)
    assert bench.tiers == [Tier.LOOK]
    bench.hold(1.8, 10.0)
    assert bench.tiers == [Tier.LOOK, Tier.LOOK]


def test_to_switch_off_is_said_again_while_nobody_does() -> None:
    """Acknowledging says that it was heard; the unit goes on burning until the mains is off."""
    bench = Bench()
    bench.hold(3.4, 5.0)
    assert bench.tiers[-1] is Tier.OFF
    said = len(bench.tiers)
    for again in (1, 2):
        bench.board.acknowledge(bench.last.id)
        bench.hold(3.4, 110.0)
        assert len(bench.tiers) == said + again - 1
        bench.hold(3.4, 20.0)
        assert len(bench.tiers) == said + again


def test_an_acknowledged_alarm_still_escalates() -> None:
    bench = Bench()
    bench.hold(2.45, 10.0)
    bench.board.acknowledge(bench.last.id)
    bench.hold(2.6, 10.0)
    assert bench.tiers[-1] is Tier.ACT


def test_an_alarm_clears_once_and_can_come_again() -> None:
    bench = Bench()
    bench.hold(1.6, 10.0)
    bench.hold(1.0, 40.0)
    assert bench.cleared == 1
    bench.hold(1.6, 10.0)
    assert bench.tiers == [Tier.LOOK, Tier.LOOK]


def test_a_level_that_hovers_at_the_limit_does_not_ring_again_and_again() -> None:
    bench = Bench()
    bench.hold(1.51, 10.0)
    for _ in range(30):
        bench.hold(1.49, 5.0)
        bench.hold(1.51, 5.0)
    assert bench.tiers == [Tier.LOOK]


def test_drive_suspends_the_bias_alarms_and_says_so_both_times() -> None:
    bench = Bench()
    bench.hold(1.6, 10.0)
    found = bench.board.drive(bench.now_s, True)
    assert any(isinstance(x, AlarmCleared) for x in found)
    told = [x for x in found if isinstance(x, Disturbance)]
    assert told[0].text == "A signal is applied: bias alarms are suspended."
    bench.hold(20.0, 30.0)
    assert bench.tiers == [Tier.LOOK]
    assert bench.board.drive(bench.now_s, True) == ()
    assert any(isinstance(x, Disturbance) for x in bench.board.drive(bench.now_s, False))
    bench.hold(3.5, 5.0)
    assert bench.tiers[-1] is Tier.OFF


def test_overload_that_lasts_is_a_lead_alarm_and_a_value_ends_it() -> None:
    bench = Bench()
    bench.hold(1.0, 10.0)
    assert bench.board.gap(11.0, "left bias", GapReason.OVERLOAD) == ()
    found = bench.board.gap(15.0, "left bias", GapReason.OVERLOAD)
    alarm = next(x for x in found if isinstance(x, Alarm))
    assert alarm.tier is Tier.LEAD
    assert alarm.text == "Left bias: lead off, or far too high: look now."
    assert any(isinstance(x, AlarmCleared) for x in bench.board.reading(16.0, "left bias", TARGET))


def test_a_silent_channel_is_reported_after_fifteen_seconds_and_once() -> None:
    bench = Bench()
    bench.hold(1.0, 10.0)
    assert bench.board.next_deadline() == pytest.approx(25.0)
    assert bench.board.tick(24.0) == ()
    (alarm,) = bench.board.tick(25.0)
    assert isinstance(alarm, Alarm)
    assert alarm.tier is Tier.BLIND
    assert alarm.text == "Left bias has given no reading for 15 s: it is not watched."
    assert bench.board.tick(60.0) == ()
    assert bench.board.next_deadline() is None


def test_what_the_meter_said_last_belongs_to_the_blind_alarm() -> None:
    bench = Bench()
    bench.hold(1.0, 5.0)
    bench.board.gap(6.0, "left bias", GapReason.LOST, "the cable of the left meter is out")
    (alarm,) = bench.board.tick(21.0)
    assert isinstance(alarm, Alarm)
    assert "the cable of the left meter is out" in alarm.text


def test_a_slow_rhythm_is_not_silence() -> None:
    bench = Bench()
    for minute in range(1, 20):
        bench.heard += bench.board.reading(60.0 * minute, "left bias", TARGET)
    assert bench.tiers == []


def test_a_typed_channel_is_never_blind_but_says_once_how_it_is_watched() -> None:
    bench = Bench(ChannelSetup("left bias", target_volts=TARGET, typed=True))
    bench.heard += bench.board.reading(1.0, "left bias", TARGET)
    bench.heard += bench.board.reading(400.0, "left bias", TARGET)
    bench.heard += bench.board.tick(4000.0)
    assert [x.text for x in bench.heard if isinstance(x, Disturbance)] == [
        "Left bias is watched only when you type."
    ]
    assert bench.tiers == []


def test_a_lead_taken_away_on_purpose_is_not_blind() -> None:
    bench = Bench()
    bench.hold(1.0, 10.0)
    bench.board.gap(11.0, "left bias", GapReason.MOVED)
    assert bench.board.tick(100.0) == ()


def test_without_supply_nobody_needs_to_watch() -> None:
    bench = Bench()
    bench.hold(1.6, 10.0)
    found = bench.board.supply(11.0, False, "the supply is off")
    assert [type(x) for x in found] == [AlarmCleared]
    assert bench.board.tick(500.0) == ()


def test_another_channels_readings_uncover_a_silent_one() -> None:
    bench = Bench(LEFT, ChannelSetup("right bias", target_volts=TARGET))
    bench.hold(1.0, 5.0)
    bench.hold(1.0, 30.0, channel="right bias")
    assert [x.channel for x in bench.heard if isinstance(x, Alarm)] == ["left bias"]


def test_only_a_bias_has_bias_alarms() -> None:
    assert is_bias(LEFT)
    assert not is_bias(ChannelSetup("left offset", target_volts=0.001))
    assert not is_bias(ChannelSetup("heatsink"))
    assert not is_bias(ChannelSetup("right bias", target_volts=0.0))


FORBIDDEN = (" safe", "discharged", "certified", "optimal", "guaranteed", "clockwise", "switched off")


@pytest.mark.parametrize("ratio", [1.6, 2.6, 3.2])
def test_no_alarm_claims_what_nobody_knows(ratio: float) -> None:
    bench = Bench()
    bench.hold(ratio, 10.0)
    assert not any(word in bench.last.text.lower() for word in FORBIDDEN)


def test_a_trimmer_within_reach_blanks_the_rate_rules_before_the_turn_is_seen() -> None:
    bench = Bench()
    bench.hold(0.8, 300.0)
    bench.board.of("left bias").within_reach(bench.now_s)
    bench.hold(0.8, 60.0, slope_per_min=0.5)
    assert bench.tiers == []


def test_rails_that_decay_after_the_power_was_switched_off_raise_nothing() -> None:
    bench = Bench()
    bench.hold(1.0, 60.0)
    bench.board.supply(bench.now_s, False, "the supply is off")
    bench.hold(3.4, 30.0, slope_per_min=-6.0)
    bench.hold(0.5, 20.0, slope_per_min=3.0)
    assert bench.heard == []
    bench.board.supply(bench.now_s, True, "the supply changed")
    bench.hold(3.4, 5.0)
    assert bench.last.tier is Tier.OFF


def test_the_times_of_alarms_never_go_back() -> None:
    bench = Bench()
    alarms = bench.board.of("left bias")
    for k in range(1, 200):
        at_s, volts = float(k), TARGET * (0.9 + 0.012 * k)
        bench.heard += bench.board.reading(at_s, "left bias", volts)
        if k % 5 == 0:  # a block is known when the next reading comes, and lies in the middle of its readings
            middle_s = at_s - 2.5
            bench.heard += alarms.block(middle_s, volts - 0.03 * TARGET, since_on_s=middle_s, unjudged=False)
    times = [x.at_s for x in bench.heard]
    assert len(times) >= 2
    assert times == sorted(times)
