from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.meter import MeterAccuracy
from procedures.analysis.channel import ChannelSetup, DecisionRule, Position
from procedures.analysis.window import TargetWindow, limits_of, window_of

HANDHELD = MeterAccuracy(of_reading=0.0005, counts=3, resolution=1e-5, declared_by="its manual")
POOR = MeterAccuracy(of_reading=0.005, counts=2, resolution=1e-4)


def setup(tolerance: float = 0.1, accuracy: MeterAccuracy | None = HANDHELD) -> ChannelSetup:
    low, high = limits_of(0.0135, tolerance)
    return ChannelSetup("left bias", target_volts=0.0135, low_volts=low, high_volts=high, accuracy=accuracy)


@pytest.mark.parametrize(
    ("accuracy", "rule", "low_mv", "high_mv"),
    [
        # computation.md 7 of the design references (assumed meter specifications), ± 10 % of 13.5 mV
        (POOR, DecisionRule.GUARDED, 12.42, 14.58),
        (POOR, DecisionRule.ONE_SIDED_5, 12.41, 14.59),
        (HANDHELD, DecisionRule.GUARDED, 12.19, 14.81),
        (HANDHELD, DecisionRule.SIMPLE, 12.15, 14.85),
    ],
)
def test_the_guard_band_follows_the_named_rule(
    accuracy: MeterAccuracy, rule: DecisionRule, low_mv: float, high_mv: float
) -> None:
    window = window_of(setup(accuracy=accuracy), rule)
    assert window is not None
    # U is convolved: the accuracy is rectangular and dominates, so k is 1.7 there instead of 2.
    assert window.accept_low * 1e3 == pytest.approx(low_mv, abs=0.01)
    assert window.accept_high * 1e3 == pytest.approx(high_mv, abs=0.01)


def test_a_channel_without_a_target_has_no_window() -> None:
    assert window_of(ChannelSetup("heatsink"), DecisionRule.GUARDED) is None


def test_limits_the_wrong_way_round_are_refused_in_words() -> None:
    wrong = ChannelSetup("left bias", target_volts=0.0135, low_volts=0.015, high_volts=0.012)
    with pytest.raises(ValueError, match="low limit is above"):
        window_of(wrong, DecisionRule.SIMPLE)


def test_a_meter_too_coarse_for_the_window_accepts_nothing_but_still_sees_far_off() -> None:
    window = window_of(setup(0.02, MeterAccuracy(resolution=1e-3, counts=1)), DecisionRule.GUARDED)
    assert window is not None
    assert not window.usable
    assert window.position(0.0135) is Position.UNKNOWN
    assert window.position(0.02) is Position.ABOVE
    assert window.position(0.01) is Position.BELOW


def test_deviation_is_said_in_millivolts_of_the_meter() -> None:
    window = window_of(setup(), DecisionRule.GUARDED)
    assert window is not None
    assert window.deviation(0.0131) == "0.40 mV low"
    assert window.deviation(0.0139) == "0.40 mV high"
    assert window.deviation(0.013502) == "on target"
    coarse = window_of(setup(accuracy=POOR), DecisionRule.GUARDED)
    assert coarse is not None
    assert coarse.deviation(0.0131) == "0.4 mV low"
    assert coarse.outside(0.0152) == "0.6 mV above the window"
    assert coarse.outside(0.0135) == ""


def test_a_missing_level_has_no_position() -> None:
    window = TargetWindow(1.0, 0.9, 1.1)
    assert window.position(None) is Position.UNKNOWN


@given(st.floats(1e-4, 1.0), st.floats(0.0, 0.5), st.floats(0.0, 0.5), st.floats(-2.0, 2.0, allow_nan=False))
def test_a_wider_guard_never_accepts_what_a_narrower_refused(
    target: float, tolerance: float, guard: float, level: float
) -> None:
    low, high = limits_of(target, tolerance)
    free = TargetWindow(target, low, high)
    guarded = TargetWindow(target, low, high, guard * target)
    if guarded.position(level) is Position.INSIDE:
        assert free.position(level) is Position.INSIDE
