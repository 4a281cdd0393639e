"""The shipped procedures that power an amplifier up and watch its bias, on faulty and healthy units."""

from __future__ import annotations

from pathlib import Path

import pytest
from practised_units import carried_out, shortened

from procedures.library import shipped_procedures

GOOD = "right_as_found"


@pytest.mark.parametrize(
    ("procedure", "unit", "outcome", "words"),
    [
        ("safety-and-power-up", GOOD, "passed", ""),
        ("trimmer-check", GOOD, "passed", ""),
        ("trimmer-check", "swapped_test_points", "failed", "are test points or leads swapped?"),
        ("trimmer-check", "reversed_trimmer", "passed", ""),
        ("multi-pair-spread", "four_pairs", "passed", ""),
        ("multi-pair-spread", "pair_not_conducting", "failed", "do not raise the bias to compensate"),
        ("cold-set-bias", "set_cold", "left alone", ""),
        ("cold-set-bias", "set_cold_high", "passed", "left bias: passed"),
        ("bias-by-supply-current", "rail_link", "passed", "left bias: left alone"),
        ("next-day-check", "offset_high", "failed", "left offset, next day: 120 mV"),
        ("dc-offset", GOOD, "passed", ""),
    ],
)
def test_it_reaches_the_right_verdict(
    procedure: str, unit: str, outcome: str, words: str, tmp_path: Path
) -> None:
    """To its end, with the reason in words."""
    done = carried_out(tmp_path, procedure, unit)

    assert done.view.ended is not None
    assert done.view.ended.finished
    assert (done.outcome, words in done.reason) == (outcome, True), done.reason


@pytest.mark.parametrize(
    ("procedure", "unit", "outcome", "minutes"),
    [
        ("solder-joints", "intermittent_joint", "failed", {"tap": 9.0}),
        ("soak", GOOD, "passed", {"soak": 12.0}),
        ("soak", "intermittent_joint", "failed", {"soak": 30.0}),
        pytest.param("solder-joints", GOOD, "passed", {"tap": 9.0}, marks=pytest.mark.long),
        pytest.param(
            "load-test", "intermittent_joint", "failed", {"loaded": 4.0, "rest": 15.0}, marks=pytest.mark.long
        ),
        pytest.param("load-test", GOOD, "passed", {}, marks=pytest.mark.long),
        pytest.param("bias-by-supply-current", "rail_link_low", "passed", {}, marks=pytest.mark.long),
        pytest.param("next-day-check", GOOD, "passed", {}, marks=pytest.mark.long),
    ],
)
def test_the_long_ones_reach_it_too(
    procedure: str, unit: str, outcome: str, minutes: dict[str, float], tmp_path: Path
) -> None:
    """The same files with their waits shortened."""
    done = carried_out(tmp_path, shortened(shipped_procedures()[procedure], **minutes), unit)

    assert done.view.ended is not None
    assert done.view.ended.finished
    assert done.outcome == outcome, done.reason


def test_what_runs_away_is_neither_loaded_nor_gone_round(tmp_path: Path) -> None:
    """Too high after a minute: off, and nothing is called measured."""
    done = carried_out(tmp_path, "load-test", "runaway")

    assert done.outcome == "not measured"
    assert done.ended("load") == '"Too high to go on" goes past it'
