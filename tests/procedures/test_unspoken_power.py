"""A target that counts at a time after power-on is not over while nobody has said when that was."""

from __future__ import annotations

import pytest

from procedures.amplifier import Condition, ConditionKind
from procedures.analysis.condition import ConditionJudge
from procedures.analysis.settling import Evidence
from procedures.analysis.window import TargetWindow


@pytest.mark.parametrize(("on_told", "words"), [(True, "that is over"), (False, "nobody has said yet")])
def test_only_what_was_told_can_be_over(on_told: bool, words: str) -> None:
    """An hour of waiting before the switch is no hour of warming up."""
    window = TargetWindow(0.0103, 0.0090, 0.0116)
    judge = ConditionJudge(window, Condition(kind=ConditionKind.AT_TIME, time_s=1800.0))
    seen = Evidence(3600.0, 0.0, 1e-5, None, None, None, since_on_s=3600.0, on_told=on_told)
    assert words in judge.judge(seen, None).reason
