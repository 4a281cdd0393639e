"""The forecast: silent before it can know, covering when it speaks, not thrown by steps, helped by memory."""

from __future__ import annotations

import numpy as np
import pytest

from procedures.analysis.blocks import Block
from procedures.analysis.forecast import Forecaster
from procedures.analysis.remembered import Course, RememberedWarmUp
from procedures.analysis.z_domain import ZDomain

DOMAIN = ZDomain(0.54, 0.27)
VARIANCE = (5e-6) ** 2 / 5.0


def warm_up(elapsed_s: float, rest: float = 13.5e-3) -> float:
    fast, slow = np.exp(-elapsed_s / 40.0), np.exp(-elapsed_s / 500.0)
    return rest * (1.0 - 0.05 * float(fast) - 0.12 * float(slow))


def block(at_s: float, level: float) -> Block:
    return Block(at_s - 2.5, at_s + 2.5, at_s, level, 5e-6, 5, level, level)


def followed(until_s: float, forecaster: Forecaster, **extra: float) -> Forecaster:
    rng = np.random.default_rng(8)
    step_at_s, step = extra.get("step_at_s", 1e9), extra.get("step", 0.0)
    for at_s in np.arange(2.5, until_s, 5.0):
        level = warm_up(float(at_s)) + (step if at_s >= step_at_s else 0.0)
        forecaster.absorb(block(float(at_s), level + 3e-6 * rng.standard_normal()), VARIANCE, 0.0)
    return forecaster


def plain() -> Forecaster:
    return Forecaster(13.5e-3, 1e-3, DOMAIN)


def test_nothing_is_said_of_a_channel_without_readings() -> None:
    assert plain().forecast() is None
    assert plain().outlook(np.array([300.0])) is None


def test_nothing_is_spoken_in_the_first_minutes() -> None:
    forecast = followed(240.0, plain()).forecast()

    assert forecast is not None
    assert not forecast.spoken


def test_the_resting_value_is_half_an_hour_after_power_on_then_a_quarter_ahead() -> None:
    early, late = followed(600.0, plain()).forecast(), followed(2400.0, plain()).forecast()

    assert early is not None
    assert early.for_s == 1800.0
    assert late is not None
    assert late.for_s == pytest.approx(late.at_s + 900.0)


@pytest.mark.parametrize("minutes", [6, 8, 10, 12, 15, 20, 25])
def test_intervals_cover_where_it_rests(minutes: int) -> None:
    forecast = followed(60.0 * minutes, plain()).forecast()

    assert forecast is not None
    assert forecast.low_volts <= warm_up(forecast.for_s) <= forecast.high_volts


def test_intervals_narrow_as_the_warm_up_goes_on() -> None:
    widths = []
    for minutes in (6, 10, 15, 25):
        forecast = followed(60.0 * minutes, plain()).forecast()
        assert forecast is not None
        widths.append(forecast.high_volts - forecast.low_volts)

    assert widths == sorted(widths, reverse=True)
    assert widths[-1] < 0.05 * 13.5e-3


def test_a_step_is_taken_in_and_counted() -> None:
    forecaster = followed(1500.0, plain(), step_at_s=1000.0, step=1.0e-3)

    forecast = forecaster.forecast()

    assert forecaster.odd_blocks >= 1
    assert forecast is not None
    assert forecast.volts == pytest.approx(warm_up(forecast.for_s) + 1.0e-3, rel=0.03)


def test_a_single_odd_block_changes_nothing() -> None:
    forecaster = followed(900.0, plain())
    before = forecaster.forecast()
    forecaster.absorb(block(902.5, 30e-3), VARIANCE, 0.0)
    after = forecaster.forecast()

    assert before is not None
    assert after is not None
    assert after.volts == pytest.approx(before.volts, rel=2e-3)
    assert not after.spoken  # nobody knows yet what this is


def test_past_forecasts_that_were_wrong_widen_the_interval() -> None:
    honest, surprised = plain(), plain()
    followed(900.0, honest)
    rng = np.random.default_rng(8)
    for at_s in np.arange(2.5, 900.0, 5.0):
        # Turns round after eight minutes, which no warm-up foretells.
        level = warm_up(float(at_s)) - max(0.0, float(at_s) - 480.0) * 4e-6
        surprised.absorb(block(float(at_s), level + 3e-6 * rng.standard_normal()), VARIANCE, 0.0)

    expected, wide = honest.forecast(), surprised.forecast()

    assert expected is not None
    assert wide is not None
    assert wide.high_volts - wide.low_volts > 1.5 * (expected.high_volts - expected.low_volts)


def remembered(rest: float = 13.5e-3) -> RememberedWarmUp:
    times = tuple(float(t) for t in range(5, 2700, 10))
    return RememberedWarmUp("left bias", times, tuple(warm_up(t, rest) for t in times))


def test_a_remembered_warm_up_lets_it_speak_within_minutes() -> None:
    forecaster = plain()
    forecaster.remember(remembered(12.8e-3))
    followed(240.0, forecaster)

    forecast = forecaster.forecast()

    assert forecast is not None
    assert forecast.spoken
    assert forecast.low_volts <= warm_up(1800.0) <= forecast.high_volts


def test_a_remembered_warm_up_of_something_else_is_let_go() -> None:
    times = tuple(float(t) for t in range(5, 2700, 10))
    falling = tuple(13.5e-3 * (1.0 + 0.5 * float(np.exp(-t / 300.0))) for t in times)
    forecaster = plain()
    forecaster.remember(RememberedWarmUp("left bias", times, falling))
    followed(900.0, forecaster)

    forecast = forecaster.forecast()

    assert forecast is not None
    assert forecast.low_volts <= warm_up(1800.0) <= forecast.high_volts


def test_a_course_from_its_own_beginning_is_the_course_itself() -> None:
    memory = remembered()

    course = Course(memory, DOMAIN, 15.0, memory.level(15.0))

    assert course.other == pytest.approx(0.0)
    assert memory.level(15.0) + course.change(1200.0) == pytest.approx(memory.level(1200.0), rel=1e-9)


@pytest.mark.parametrize(
    ("times", "levels"), [((1.0,), (1.0,)), ((1.0, 2.0), (1.0,)), ((2.0, 1.0), (1.0, 1.0))]
)
def test_what_cannot_be_a_warm_up_is_refused(times: tuple[float, ...], levels: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="left bias"):
        RememberedWarmUp("left bias", times, levels)
