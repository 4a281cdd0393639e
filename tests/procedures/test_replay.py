"""The same inputs, judged again, say the same."""

from __future__ import annotations

import dataclasses
from datetime import UTC, datetime

import pytest
from bench_double import AmplifierDouble, Channel, ScriptedAnalysis, Sitting
from hypothesis import given, settings
from hypothesis import strategies as st

from procedures.events import Input, Outcome, Verdict
from procedures.leads import Lead, Leads
from procedures.library import shipped_amplifiers, shipped_procedures
from procedures.records.codec import Fact, encode
from procedures.records.journal import Header, read_journal
from procedures.replay import compare, first_difference, inputs_of, replay, setup_entry
from procedures.runner import Run
from procedures.setup import RULES_VERSION, RunSetup

LEADS = (Lead("one", "1", "left bias"), Lead("two", "1", "right bias"))
BEGAN = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)


def _recorded(
    procedure: str, seconds: int, analysis: type[ScriptedAnalysis] | None = None
) -> tuple[RunSetup, list[Fact]]:
    """A session (with the real analysis unless told otherwise), as far as it came in some time."""
    setup = RunSetup.build(shipped_procedures()[procedure], shipped_amplifiers()["Kestrow K-40"], leads=LEADS)
    amplifier = AmplifierDouble({"left bias": Channel(0.0132), "right bias": Channel(0.0138)})
    run = Run(setup, analysis(setup.channels) if analysis else None)
    bench = Sitting(run, amplifier, Leads(LEADS), {"read": "acknowledged"})
    for _ in range(seconds):
        bench.second()
    return setup, list(bench.facts)


@pytest.fixture(scope="module")
def session() -> tuple[Header, list[Fact]]:
    setup, facts = _recorded("warm-up", 1800)
    return Header("1", BEGAN, setup_entry(setup), rules=setup.rules), facts


def test_a_session_judged_again_says_the_same(session: tuple[Header, list[Fact]]) -> None:
    """Through the journal's lines and back, with the real analysis."""
    header, facts = session
    journal = read_journal([header.line(), *encode(facts)])

    comparison = compare(journal.header, journal.facts)

    assert any(isinstance(fact, Verdict) for fact in facts)
    assert comparison.sentence == "Judged again from its readings, the session says the same."
    assert (comparison.same, comparison.same_rules) == (True, True)


def test_how_readings_are_batched_changes_nothing(session: tuple[Header, list[Fact]]) -> None:
    """Whether the journal was written line by line or at once, the facts are the same."""
    header, facts = session
    by_one = [line for fact in facts for line in encode([fact])]

    assert read_journal([header.line(), *by_one]).facts == facts


def test_a_changed_verdict_is_noticed(session: tuple[Header, list[Fact]]) -> None:
    """With the same rules that is a difference, and it is named."""
    header, facts = session
    changed = [dataclasses.replace(f, reason="because") if isinstance(f, Verdict) else f for f in facts]

    comparison = compare(header, changed)

    assert not comparison.same
    assert comparison.sentence.startswith("Judged again, the session says something else: event ")


def test_another_rules_version_would_judge_differently(session: tuple[Header, list[Fact]]) -> None:
    """That is said as it is; nobody tampered with anything."""
    header, facts = session
    changed = [dataclasses.replace(f, reason="because") if isinstance(f, Verdict) else f for f in facts]

    comparison = compare(dataclasses.replace(header, rules="0"), changed)

    assert (comparison.same, comparison.same_rules) == (False, False)
    words = f"Rules version {RULES_VERSION} would judge this session of version 0 differently"
    assert comparison.sentence.startswith(words)


def test_numbers_may_differ_in_the_last_bits() -> None:
    """Another processor rounds differently: 1e-9 is allowed, 1e-6 is not."""
    verdict = Verdict(1.0, "as-left", None, Outcome.PASSED, "inside", 0.0135)
    near = dataclasses.replace(verdict, value=0.0135 * (1.0 + 1e-12))
    far = dataclasses.replace(verdict, value=0.0135 + 1e-6)

    assert first_difference([verdict], [near]) is None
    assert first_difference([verdict], [far]) is not None
    assert first_difference([verdict], []) == "1 events then, 0 now"


def test_a_replayed_run_stands_where_the_recorded_one_stood(session: tuple[Header, list[Fact]]) -> None:
    """So that a session can be taken up again after a crash."""
    setup, facts = _recorded("two-channel-bias-trim", 400)
    run, said = replay(setup, facts)

    assert run.view().step == "warm-up"
    assert len(inputs_of(facts)) + len(said) == len(facts)


@settings(max_examples=20, deadline=None)
@given(st.integers(min_value=0, max_value=60), st.data())
def test_any_order_of_facts_is_judged_the_same_twice(seconds: int, data: st.DataObject) -> None:
    """Out of order or out of place, the same inputs give the same events, and never an error."""
    setup, facts = _recorded("two-channel-bias-trim", seconds, ScriptedAnalysis)
    inputs: list[Input] = data.draw(st.permutations(inputs_of(facts)))
    runs = [Run(setup, ScriptedAnalysis(setup.channels)) for _ in range(2)]

    first, second = [[event for fact in inputs for event in run.feed(fact)] for run in runs]

    assert first_difference(first, second) is None
