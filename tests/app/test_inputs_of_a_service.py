"""How much a person has to say to the program in the bias service of a known unit, and what each is for.

Counted in a recorded session: what is pressed or answered, not what hands do at the unit.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from app.records.session_folder import open_session
from procedures.events import Answer, Input, LidChanged, RunEnded, SupplyChanged, Verdict
from procedures.records.codec import Fact, is_input
from procedures.replay import replay, setup_of

SESSION = Path(__file__).parents[2] / "sample_sessions" / "healthy-trim"
SAID = (Answer, SupplyChanged, LidChanged)
# Each decides something that no reading shows: whether the lamp comes first, how the unit came in, that hands
# have left the probes, since when it is warm, under which cover the last word counts, that it is over.
NEEDED = ["parts", "as-received", "connect", "mains", "lid", "off"]


def _named(fact: Fact) -> str:
    if isinstance(fact, Answer):
        return fact.question.split("/")[0]
    return fact.supply.value if isinstance(fact, SupplyChanged) else "lid"


def _verdicts(facts: list[Fact]) -> list[tuple[str | None, str]]:
    return [(fact.channel, fact.outcome) for fact in facts if isinstance(fact, Verdict)]


def test_the_first_service_of_a_sitting_takes_seven_inputs() -> None:
    """The cautions, and what is needed; nothing is said at the trimmers, the readings show it."""
    facts = open_session(SESSION).journal.facts
    assert [_named(fact) for fact in facts if isinstance(fact, SAID)] == ["cautions", *NEEDED]


def test_the_next_of_the_same_unit_takes_six_and_comes_to_the_same() -> None:
    """The cautions were read; every verdict is as before."""
    journal = open_session(SESSION).journal
    setup = replace(setup_of(journal.header), cautions_read="at 09:00 in session earlier")
    inputs: list[Input] = [fact for fact in journal.facts if is_input(fact)]  # type: ignore[misc]
    given = [fact for fact in inputs if not (isinstance(fact, Answer) and _named(fact) == "cautions")]

    _, said = replay(setup, given)

    assert [_named(fact) for fact in given if isinstance(fact, SAID)] == NEEDED
    ended = [fact for fact in said if isinstance(fact, RunEnded)]
    assert [one.finished for one in ended] == [True]
    assert _verdicts(list(said)) == _verdicts([f for f in journal.facts if not is_input(f)])
