"""Each disturbance is named; a clean course names nothing."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from drivers.reading import GapReason
from procedures.analysis.bench import Bench
from procedures.analysis.blocks import BlockBuilder
from procedures.analysis.channel import ChannelSetup
from procedures.analysis.disturbance import Kind
from procedures.analysis.frozen import FrozenFinder
from procedures.analysis.incidents import Incidents
from procedures.events import Alarm, Disturbance

TARGET = 0.0135
STEP = 1e-5
BOTH = (
    ChannelSetup("left bias", target_volts=TARGET, resistance_ohm=0.54),
    ChannelSetup("right bias", target_volts=TARGET, resistance_ohm=0.54),
)
Course = Callable[[float], float]


def healthy(at_s: float) -> float:
    return 1.0 - 0.1 * math.exp(-at_s / 10) - 0.1 * math.exp(-at_s / 60) - 0.12 * math.exp(-at_s / 600)


class Recording:
    """Two channels read once a second by a 10 uV meter, through the same blocks as the monitor's."""

    def __init__(self, seed: int = 1) -> None:
        self.incidents = Incidents(BOTH, Bench())
        self.told: list[Disturbance] = []
        self.alarms: list[Alarm] = []
        self.now_s = 0.0
        self._noise = np.random.default_rng(seed)
        self._builders = {setup.channel: BlockBuilder() for setup in BOTH}

    def run(self, until_s: float, left: Course = healthy, right: Course = healthy) -> None:
        while self.now_s < until_s:
            self.now_s += 1.0
            for channel, course in (("left bias", left), ("right bias", right)):
                volts = TARGET * course(self.now_s) + self._noise.normal(0.0, 5e-6)
                self.read(channel, round(volts / STEP) * STEP)

    def read(self, channel: str, volts: float) -> None:
        self.keep(self.incidents.reading(self.now_s, channel, volts))
        for block in self._builders[channel].add(self.now_s, volts):
            self.keep(self.incidents.block(channel, block, since_on_s=block.at_s, step=STEP, forecast=None))

    def keep(self, found: tuple[object, ...]) -> None:
        self.told += [x for x in found if isinstance(x, Disturbance)]
        self.alarms += [x for x in found if isinstance(x, Alarm)]

    @property
    def kinds(self) -> list[str]:
        return [x.kind for x in self.told]


def test_a_healthy_warm_up_is_called_nothing() -> None:
    recording = Recording()
    recording.run(2700.0)
    assert recording.told == []


@pytest.mark.parametrize("height", [0.03, -0.02])
def test_a_step_is_named_with_its_height_and_no_cause(height: float) -> None:
    recording = Recording()
    recording.run(1200.0, left=lambda t: healthy(t) + (height if t > 700.0 else 0.0))
    assert recording.kinds == [Kind.STEP]
    told = recording.told[0]
    assert told.channel == "left bias"
    assert told.at_s - 700.0 < 90.0
    assert ("up" in told.text) is (height > 0.0)
    assert float(told.text.split(" by ")[1].split(" mV")[0]) == pytest.approx(abs(height) * 13.5, rel=0.1)
    assert told.text.endswith("cause unknown.")


def test_a_level_that_jumps_and_comes_back_is_like_an_intermittent_joint() -> None:
    recording = Recording()
    recording.run(1500.0, left=lambda t: healthy(t) + (0.05 if (t // 150.0) % 2 else 0.0))
    assert recording.kinds[0] == Kind.STEP
    assert Kind.JOINT in recording.kinds
    assert "as an intermittent joint does" in recording.told[-1].text


def test_crackle_is_like_a_scratchy_trimmer() -> None:
    recording = Recording()
    noise = np.random.default_rng(3)
    recording.run(600.0, left=lambda t: healthy(t) + 0.04 * noise.normal())
    assert Kind.SCRATCHY in recording.kinds
    assert {x.channel for x in recording.told} == {"left bias"}


def test_both_channels_stepping_alike_is_something_they_share() -> None:
    recording = Recording()

    def shared(at_s: float) -> float:
        return healthy(at_s) + (0.02 if at_s > 900.0 else 0.0)

    recording.run(1300.0, shared, shared)
    assert recording.kinds == [Kind.MAINS]
    assert "mains voltage" in recording.told[0].text


@pytest.mark.parametrize("period_s", [20.0, 33.0, 75.0])
def test_aliased_mains_hum_is_called_a_beat_with_its_remedy(period_s: float) -> None:
    recording = Recording()

    def beating(at_s: float) -> float:
        return healthy(at_s) + 0.006 * math.sin(2.0 * math.pi * at_s / period_s)

    recording.run(1800.0, left=beating)
    beats = [x for x in recording.told if x.kind == Kind.HUM]
    assert beats
    assert "set the meter to 50 Hz integration" in beats[0].text
    said = float(beats[0].text.split("every ")[1].split(" s")[0])
    assert said == pytest.approx(period_s, rel=0.1)


def test_a_declared_lid_is_told_and_its_bend_is_not_told_again() -> None:
    recording = Recording()
    recording.run(900.0)
    recording.keep(recording.incidents.lid(900.0, False))

    def cooler(at_s: float) -> float:
        return healthy(at_s) - (0.12 * (1.0 - math.exp(-(at_s - 900.0) / 120.0)) if at_s > 900.0 else 0.0)

    recording.run(1500.0, cooler, cooler)
    assert recording.kinds == [Kind.LID]


def test_both_channels_bending_together_is_a_lid_or_a_draught() -> None:
    recording = Recording()

    def cooler(at_s: float) -> float:
        return healthy(at_s) - (0.12 * (1.0 - math.exp(-(at_s - 900.0) / 120.0)) if at_s > 900.0 else 0.0)

    recording.run(1500.0, cooler, cooler)
    assert recording.kinds == [Kind.DRAUGHT]


def test_all_channels_to_zero_is_a_lost_supply_said_once() -> None:
    recording = Recording()
    recording.run(600.0)
    recording.run(700.0, lambda t: 0.0, lambda t: 0.0)
    assert recording.kinds == [Kind.SUPPLY_LOST]
    assert recording.incidents.stopped("left bias")


def test_one_channel_to_zero_is_a_lead_or_worse() -> None:
    recording = Recording()
    recording.run(600.0)
    recording.run(640.0, left=lambda t: 0.0)
    assert recording.kinds == [Kind.LEAD_OFF]
    assert "Switch off, then check" in recording.told[0].text


def test_zero_with_hands_on_the_board_is_a_possible_slip_at_once() -> None:
    recording = Recording()
    recording.run(600.0)
    recording.incidents.trimmed(600.0, "left bias")
    recording.run(604.0, left=lambda t: 0.0)
    assert recording.kinds == [Kind.SLIP]
    assert "possible slip: switch off, check the outputs" in recording.told[0].text
    assert recording.incidents.stopped("left bias")
    assert not recording.incidents.stopped("right bias")


def test_overload_with_hands_on_the_board_is_a_possible_slip_too() -> None:
    recording = Recording()
    recording.run(300.0)
    recording.incidents.trimmed(300.0, "left bias")
    recording.keep(recording.incidents.gap(305.0, "left bias", GapReason.OVERLOAD, ""))
    assert recording.kinds == [Kind.SLIP]


def test_a_level_that_fades_is_not_called_a_slip() -> None:
    recording = Recording()
    recording.run(300.0)
    recording.run(420.0, left=lambda t: math.exp(-(t - 300.0) / 20.0))
    assert Kind.LEAD_OFF not in recording.kinds
    assert Kind.SLIP not in recording.kinds


def test_turning_a_trimmer_is_no_disturbance() -> None:
    recording = Recording()
    recording.run(600.0)
    recording.incidents.trimmed(600.0, "left bias")
    recording.run(1200.0, left=lambda t: healthy(t) - 0.2 + 0.2 * min(1.0, (t - 600.0) / 15.0))
    assert recording.told == []


def test_a_signal_on_an_output_suspends_the_bias_alarms_and_says_so() -> None:
    setups = (*BOTH, ChannelSetup("left offset"))
    incidents = Incidents(setups, Bench())
    builder, noise = BlockBuilder(), np.random.default_rng(5)
    told: list[object] = []
    for second in range(1, 30):
        volts = 2.0 * noise.normal()
        told += incidents.reading(second, "left offset", volts)
        for block in builder.add(second, volts):
            told += incidents.block("left offset", block, since_on_s=block.at_s, step=1e-4, forecast=None)
        told += incidents.reading(second, "left bias", 0.2)
    said = [x.text for x in told if isinstance(x, Disturbance) and x.kind == Kind.DRIVE]
    assert said == ["A signal seems to be on the output: bias alarms are suspended."]


def test_a_lively_meter_that_freezes_may_be_asleep() -> None:
    finder, noise = FrozenFinder(), np.random.default_rng(1)
    for second in range(400):
        assert finder.see(second, round(noise.normal(0.0, 3.0))) is None
    frozen = [finder.see(400.0 + second, 7.0) for second in range(300)]
    assert sum(held is not None for held in frozen) == 1


def test_a_coarse_meter_that_stands_still_is_not_asleep() -> None:
    finder = FrozenFinder()
    for second in range(5000):
        assert finder.see(second, 0.0135 if second > 200 else 0.0134) is None


def test_a_step_made_by_the_hand_before_it_was_followed_is_not_told_later() -> None:
    heard = Recording()
    heard.run(700.0)
    stepped = 1.05

    def nudged(at_s: float) -> float:
        return healthy(at_s) * (stepped if at_s > 700.0 else 1.0)

    heard.run(730.0, left=nudged)  # the step is certain, and waits for the other channel
    heard.incidents.trimmed(heard.now_s, "left bias")
    heard.run(800.0, left=nudged)
    assert heard.kinds == []


def test_a_long_turn_is_no_disturbance_either() -> None:
    heard = Recording()
    heard.run(700.0)
    heard.incidents.trimmed(heard.now_s, "left bias")
    for minute in range(4):
        level = 1.0 + 0.03 * (minute + 1)
        for half in (25.0, 50.0):
            heard.run(700.0 + 60.0 * minute + half, left=lambda at_s, by=level: healthy(at_s) * by)
            heard.incidents.turning(heard.now_s, "left bias")
    heard.run(1000.0, left=lambda at_s: healthy(at_s) * 1.12)
    assert heard.kinds == []
