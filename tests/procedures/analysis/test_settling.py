"""Settled means will stay, and always has its reason in words; other conditions have rules of their own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from procedures.amplifier import Condition, ConditionKind
from procedures.analysis.channel import AnalysisSettings, Forecast
from procedures.analysis.condition import ConditionJudge, Sink
from procedures.analysis.forecast import Outlook
from procedures.analysis.settling import Evidence, SettlingJudge
from procedures.analysis.trend import Trend
from procedures.analysis.window import TargetWindow

WINDOW = TargetWindow(13.5e-3, 12.15e-3, 14.85e-3, guard=0.02e-3, resolution=1e-5)
LEADS = np.array([300.0, 600.0, 900.0])


def outlook(change: float, sd: float) -> Outlook:
    share = LEADS / 900.0
    return Outlook(LEADS, 13.5e-3 + change * share, sd * np.ones(3), change * share, sd * np.ones(3))


def seen(at_s: float, **changed: object) -> Evidence:
    base = Evidence(
        at_s=at_s,
        level=13.5e-3,
        step=1e-5,
        trend=Trend(0.0, 1e-8, 13.5e-3, 1e-6, 180.0, 36),
        outlook=outlook(0.05e-3, 0.05e-3),
        forecast=Forecast(at_s, at_s + 900.0, 13.5e-3, 13.4e-3, 13.6e-3, True),
        since_on_s=at_s,
    )
    return replace(base, **changed)  # type: ignore[arg-type]


def judged(*evidence: Evidence, limit: float = 0.03) -> tuple[bool, str]:
    judge = SettlingJudge(WINDOW, AnalysisSettings(limit=limit))
    for one in evidence:
        judge.judge(one)
    return judge.judgement.settled, judge.judgement.reason


def held(**changed: object) -> tuple[bool, str]:
    return judged(*(seen(1200.0 + 5.0 * n, **changed) for n in range(14)))


def test_it_is_settled_once_everything_has_held_for_a_minute() -> None:
    judge = SettlingJudge(WINDOW, AnalysisSettings())
    said = [judge.judge(seen(1200.0 + 5.0 * n)).settled for n in range(14)]

    assert said == [False] * 12 + [True] * 2


def test_it_says_how_fast_it_moves_and_where_it_would_rest() -> None:
    rising = Trend(0.12e-3 / 60.0, 1e-8, 14.0e-3, 1e-6, 180.0, 36)
    above = Forecast(1200.0, 1800.0, 15.1e-3, 14.9e-3, 15.3e-3, True)

    settled, reason = held(trend=rising, forecast=above, level=14.0e-3, outlook=outlook(1.1e-3, 0.1e-3))

    assert not settled
    assert reason == "still rising 0.12 mV/min; would rest near 15.10 mV, 0.27 mV above the window"


@pytest.mark.parametrize(
    ("changed", "word"),
    [
        ({"level": 15.2e-3}, "above the window"),
        ({"quiet_s": 300.0, "unexplained": 1}, "without a step"),
        ({"outlook": outlook(0.0, 0.5e-3)}, "may still move"),
        ({"level": 14.8e-3, "outlook": outlook(0.05e-3, 0.05e-3)}, "could end"),
        ({"outlook": None}, "too early"),
        ({"since_on_s": 200.0}, "too early"),
        ({"step": 1e-3}, "cannot tell with this meter"),
        ({"level": 0.0, "step": 5.0}, "nothing but zero so far"),
        ({"barred": "on the series lamp"}, "on the series lamp"),
    ],
)
def test_every_obstacle_is_named(changed: dict[str, object], word: str) -> None:
    settled, reason = held(**changed)

    assert not settled
    assert word in reason


def test_ten_quiet_minutes_after_one_step_are_enough_but_not_after_three() -> None:
    assert held(quiet_s=700.0, unexplained=1)[0]
    assert not held(quiet_s=700.0, unexplained=3)[0]


def test_a_verdict_is_taken_back_when_the_reading_leaves() -> None:
    good = [seen(1200.0 + 5.0 * n) for n in range(20)]

    assert judged(*good)[0]
    assert not judged(*good, seen(1400.0, level=15.0e-3))[0]


def test_a_verdict_is_not_taken_back_for_a_little_less_certainty() -> None:
    good = [seen(1200.0 + 5.0 * n) for n in range(20)]

    assert judged(*good, seen(1300.0, outlook=outlook(0.1e-3, 0.25e-3)))[0]


def test_a_meter_that_uses_up_the_window_cannot_tell() -> None:
    judge = SettlingJudge(replace(WINDOW, guard=2e-3), AnalysisSettings())

    assert "cannot tell with this meter" in judge.judge(seen(1200.0)).reason


def test_time_left_is_a_range_that_begins_sooner_for_a_steadier_reading() -> None:
    judge = SettlingJudge(WINDOW, AnalysisSettings())
    leads = np.arange(0.0, 4501.0, 60.0)
    levels = 13.5e-3 - 1.2e-3 * np.exp(-leads / 500.0)

    sure = judge.time_left_s(leads, levels, 0.02e-3, 900.0)
    unsure = judge.time_left_s(leads, levels, 0.3e-3, 900.0)

    assert sure is not None
    assert unsure is not None
    assert sure[0] <= sure[1]
    assert sure[0] <= unsure[0]
    assert unsure[0] < unsure[1]


# --- other conditions -----------------------------------------------------------------------------------


def test_a_stated_time_is_waited_for_judged_and_kept() -> None:
    judge = ConditionJudge(WINDOW, Condition(ConditionKind.AT_TIME, time_s=600.0))

    before = judge.judge(seen(400.0), None)
    for n in range(6):
        during = judge.judge(seen(605.0 + 5.0 * n), None)
    after = judge.judge(seen(900.0, level=16e-3), None)

    assert not before.settled
    assert "in 3 min" in before.reason
    assert during.settled
    assert "left" in during.reason
    assert after.settled
    assert "it was 13.50 mV" in after.reason


def test_below_a_sink_temperature_the_usable_time_follows_the_heating() -> None:
    judge = ConditionJudge(WINDOW, Condition(ConditionKind.BELOW_SINK, sink_degrees_c=40.0))

    judge.judge(seen(300.0), Sink(34.0, 0.02))
    usable_s = judge.usable_s
    hot = judge.judge(seen(900.0), Sink(41.0, 0.01))

    assert usable_s == pytest.approx(300.0)
    assert not hot.settled
    assert "41 °C" in hot.reason


def test_cold_is_over_after_two_minutes() -> None:
    judge = ConditionJudge(WINDOW, Condition(ConditionKind.COLD))

    for n in range(4):
        cold = judge.judge(seen(20.0 + 5.0 * n), None)
    outside = ConditionJudge(WINDOW, Condition(ConditionKind.COLD))
    late = outside.judge(seen(200.0), None)

    assert cold.settled
    assert not late.settled
    assert "over" in late.reason
