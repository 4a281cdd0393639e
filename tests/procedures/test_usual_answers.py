"""What an amplifier's file says becomes the usual answer, and stays a person's to give."""

from __future__ import annotations

import pytest
from bench_double import HEAD, ScriptedAnalysis, instruction, short_run

from procedures.amplifier import Amplifier
from procedures.checking import FileProblems
from procedures.events import Supply, SupplyChanged, Tick
from procedures.library import shipped_amplifiers, shipped_procedures
from procedures.procedure import load_procedure
from procedures.runner import Run
from procedures.setup import RunSetup

ORDER = (
    'kind = "choose"\ntext = "Look at the order."\nchoices = ['
    '{ key = "after", text = "After the bias", default = true,'
    " amplifier_says = { offset_before_bias = false } },"
    '{ key = "before", text = "Before the bias", amplifier_says = { offset_before_bias = true } }]'
)
WAIT = 'kind = "wait"\nminutes = 5\nafter_relay = true\ntext = "Let the time pass"'


def _run(step: str, **says: object) -> Run:
    known = shipped_amplifiers()["Kestrow K-40"].model_copy(update=says)
    procedure = load_procedure(f'{HEAD}[[step]]\nid = "s0"\ntitle = "Step"\n{step}\n')
    setup = RunSetup.build(procedure, known, cautions_acknowledged=True)
    run = Run(setup, ScriptedAnalysis(setup.channels))
    run.feed(Tick(0.0))
    return run


def _usual(run: Run) -> list[str]:
    question = run.view().question
    assert question is not None
    return [choice.key for choice in question.choices if choice.default]


@pytest.mark.parametrize(("says", "usual"), [(None, "after"), (False, "after"), (True, "before")])
def test_the_file_gives_the_usual_answer(says: bool | None, usual: str) -> None:
    """Where it says nothing, the procedure's own default stands."""
    assert _usual(_run(ORDER, offset_before_bias=says)) == [usual]


def test_the_question_says_that_the_file_says_so() -> None:
    """A person can only doubt what is said."""
    told = instruction(_run(ORDER, offset_before_bias=True))

    assert told == "Look at the order. This amplifier's file says: Before the bias."
    assert instruction(_run(ORDER)) == "Look at the order."


@pytest.mark.parametrize(("after_relay_s", "waits_s"), [(None, 300.0), (10.0, 10.0)])
def test_the_time_after_the_relay_is_the_amplifiers(after_relay_s: float | None, waits_s: float) -> None:
    """Ten seconds in one service manual (trade.md section 6), five minutes in this procedure otherwise."""
    run = _run(WAIT, offset_after_relay_s=after_relay_s)
    run.feed(SupplyChanged(1.0, Supply.MAINS))
    run.feed(Tick(waits_s - 0.5))
    assert run.view().ended is None
    run.feed(Tick(waits_s + 1.0))
    assert run.view().ended is not None


def test_a_short_wait_is_counted_down_in_seconds() -> None:
    """A minute is too coarse for ten seconds after the relay."""
    run = _run(WAIT, offset_after_relay_s=10.0)
    assert instruction(run) == "Let the time pass: 10 s left."
    assert instruction(short_run('kind = "wait"\nminutes = 5\ntext = "Wait"')) == "Wait: 5 min left."


@pytest.mark.parametrize(
    ("says", "before", "after"),
    [(None, "carry out", "pass over"), (True, "carry out", "pass over"), (False, "pass over", "carry out")],
)
def test_the_route_takes_the_offset_where_the_maker_wants_it(
    says: bool | None, before: str, after: str
) -> None:
    """Before or after the bias."""
    route = shipped_procedures()["service-route"]
    amplifier: Amplifier = shipped_amplifiers()["Kestrow K-40"].model_copy(
        update={"offset_before_bias": says}
    )
    for part, usual in (("dc-offset", before), ("dc-offset-after-bias", after)):
        line = route.step_named(part)
        assert line is not None
        assert line.kind == "choose"
        known = [c.key for c in line.choices if c.amplifier_says and c.amplifier_says.holds(amplifier)]
        assert (known or [c.key for c in line.choices if c.default]) == [usual]


def test_nothing_said_is_refused() -> None:
    """With the entries that can be said."""
    empty = ORDER.replace("{ offset_before_bias = false }", "{}")
    with pytest.raises(FileProblems, match="say which entry of the amplifier counts: offset_trim, "):
        load_procedure(f'{HEAD}[[step]]\nid = "s0"\ntitle = "Step"\n{empty}\n')
