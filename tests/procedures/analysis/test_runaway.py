from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.analysis.runaway import Danger, RunawayWatch, Symptom


def course(
    shape: Callable[[float], float], until_s: float, every_s: float = 5.0, step: float = 0.0
) -> list[Danger]:
    watch = RunawayWatch()
    found: list[Danger] = []
    at_s = every_s
    while at_s <= until_s:
        ratio = round(shape(at_s) / step) * step if step else shape(at_s)
        found += watch.see(at_s, ratio, at_s, step)
        at_s += every_s
    return found


def symptoms(found: list[Danger]) -> set[Symptom]:
    return {danger.symptom for danger in found}


def growing(at_s: float) -> float:
    """From 0.8 x target, doubling in about seven minutes and never slowing."""
    return 0.6 + 0.2 * math.exp(at_s / 220.0)


def settling(at_s: float) -> float:
    """A healthy warm-up: a fast part, a case, a sink."""
    return 1.0 - 0.15 * math.exp(-at_s / 8) - 0.1 * math.exp(-at_s / 60) - 0.15 * math.exp(-at_s / 500)


@pytest.mark.parametrize("every_s", [5.0, 10.0, 30.0, 60.0])
def test_a_rise_that_never_slows_is_seen_two_minutes_before_it_doubles(every_s: float) -> None:
    doubles_s = 220.0 * math.log(1.4 / 0.2)
    found = course(growing, doubles_s - 120.0, every_s)
    assert Symptom.HEADING_UP in symptoms(found)


def test_the_time_to_twice_the_target_is_told() -> None:
    first = next(d for d in course(growing, 600.0) if d.symptom is Symptom.HEADING_UP)
    assert first.doubles_min is not None
    assert 1.0 < first.doubles_min < 6.0


@pytest.mark.parametrize("every_s", [5.0, 60.0])
@pytest.mark.parametrize("found_at", [0.7, 1.0, 1.1])
def test_a_healthy_warm_up_raises_nothing(found_at: float, every_s: float) -> None:
    assert symptoms(course(lambda t: found_at * settling(t), 2700.0, every_s)) == set()


@pytest.mark.parametrize("step", [0.0075, 0.02])
def test_a_coarse_display_feigns_nothing(step: float) -> None:
    assert symptoms(course(settling, 2700.0, step=step)) == set()


def test_above_the_target_while_cold_and_rising_is_not_a_warm_up() -> None:
    found = course(lambda t: 1.2 + 0.35 * t / 60.0, 60.0)
    assert Symptom.HEADING_UP in symptoms(found)


def test_still_rising_fast_after_five_minutes_is_worth_a_look() -> None:
    assert Symptom.STILL_RISING in symptoms(course(lambda t: 0.5 + 0.035 * t / 60.0, 420.0))
    assert Symptom.STILL_RISING not in symptoms(course(lambda t: 0.5 + 0.025 * t / 60.0, 420.0))


def test_faster_than_ten_percent_a_minute_above_1_3() -> None:
    assert Symptom.FAST in symptoms(course(lambda t: 0.7 + 0.12 * t / 60.0, 400.0))
    assert Symptom.FAST not in symptoms(course(lambda t: 0.7 + 0.09 * t / 60.0, 400.0))


@given(st.floats(0.02, 0.5), st.integers(20, 100))
def test_a_step_is_no_slope(height: float, at_block: int) -> None:
    found = course(lambda t: 1.0 + (height if t > at_block * 5.0 else 0.0), 700.0)
    assert not found


def test_after_a_trim_the_course_begins_anew() -> None:
    watch = RunawayWatch()
    for k in range(1, 60):
        watch.see(5.0 * k, growing(5.0 * k), 5.0 * k)
    assert watch.rate_per_min() > 0.0
    watch.forget()
    assert watch.see(300.0, growing(300.0), 300.0) == ()


def test_a_long_gap_is_not_bridged() -> None:
    watch = RunawayWatch()
    for k in range(1, 20):
        watch.see(5.0 * k, 1.0, 5.0 * k)
    assert watch.see(700.0, 1.6, 700.0) == ()


def test_a_late_block_changes_nothing() -> None:
    watch = RunawayWatch()
    watch.see(10.0, 1.0, 10.0)
    assert watch.see(5.0, 9.0, 5.0) == ()


@given(st.integers(1, 100_000))
def test_the_clock_of_the_session_does_not_matter(shift: int) -> None:
    plain, late = RunawayWatch(), RunawayWatch()
    for k in range(1, 80):
        at_s = 5.0 * k
        here = plain.see(at_s, growing(at_s), at_s)
        there = late.see(at_s + 5.0 * shift, growing(at_s), at_s)
        assert [d.symptom for d in here] == [d.symptom for d in there]
