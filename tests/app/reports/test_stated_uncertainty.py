"""A figure's uncertainty as its measurement stated it reaches the report beside rating and verdict."""

from __future__ import annotations

import pytest
from bench_double import short_run

from app.reports.sections import uncertainty_words
from drivers.reading import Unit
from procedures.events import Outcome, RecordedValue, Verdict
from procedures.records.summary import summarise
from procedures.report.facts import Limits
from procedures.report.folding import _one_judged
from procedures.setup import RunSetup


def _setup() -> RunSetup:
    return short_run('kind = "wait"\nminutes = 5\ntext = "Wait"').setup


@pytest.mark.parametrize(
    ("conditions", "expanded"),
    [({"uncertainty": "0.12"}, 0.12), ({"uncertainty": "0"}, None), ({}, None), ({"uncertainty": "?"}, None)],
)
def test_what_a_measurement_stated_is_kept(conditions: dict[str, str], expanded: float | None) -> None:
    """None where it stated none; nothing is never zero."""
    verdict = Verdict(5.0, "gain", None, Outcome.PASSED, "gain, left: 28.3 dB", 28.3, "gain, left")
    kept = RecordedValue(5.0, "gain, left", None, 28.3, Unit.DECIBEL, conditions=conditions)
    judged = _one_judged(verdict, summarise([kept, verdict]), {}, _setup(), {})

    assert judged.limits.expanded == expanded


@pytest.mark.parametrize(
    ("limits", "unit", "words"),
    [
        (Limits(expanded=0.12), Unit.DECIBEL, "± 0.12 dB"),
        (Limits(), Unit.DECIBEL, "not known"),
        (Limits(expanded=1e-9), Unit.PERCENT, "below what is shown"),
        (Limits(expanded=5e-4, k=2.0), Unit.VOLT, "± 0.50 mV (k = 2.00)"),
    ],
)
def test_it_is_told_in_words(limits: Limits, unit: Unit, words: str) -> None:
    """With its coverage factor where one was reckoned with."""
    assert uncertainty_words(limits, unit) == words
