"""Step kinds that ask and tell, one by one, in procedures of a few lines."""

from __future__ import annotations

import pytest
from bench_double import HEAD, ScriptedAnalysis, answer, instruction, reasons, short_run

from procedures.events import (
    Instruction,
    LidChanged,
    Outcome,
    RecordedValue,
    StepChanged,
    StepState,
    Supply,
    SupplyChanged,
    Tick,
)
from procedures.procedure import load_procedure
from procedures.runner import Run
from procedures.setup import RunSetup
from procedures.steps import KINDS
from procedures.steps.summary import overall


def test_the_kinds_are_those_of_the_table() -> None:
    """The word that a file uses for each."""
    doing = {"confirm", "connect", "drive", "lid", "power", "trim", "turn-down", "wait", "warm-up", "watch"}
    asking = {"choose", "inspect", "measure", "note", "record"}
    looking = {"compare", "nudge", "protection", "round", "signal", "signal path", "soak"}

    assert set(KINDS) == doing | asking | looking | {"jump", "repeat", "summary"}


def test_confirm_waits_for_the_key_that_it_names() -> None:
    """The key says what was done."""
    run = short_run(
        'kind = "confirm"\ntext = "Pull the plug."\nkey = "It is pulled"\ncaution = "Mind the mains."'
    )
    view = run.view()

    assert (view.next_label, view.instruction and view.instruction.caution) == (
        "It is pulled",
        "Mind the mains.",
    )
    key = view.key(2.0)
    assert key is not None
    run.feed(key)
    assert run.view().ended is not None


def test_a_later_step_depends_on_theanswer() -> None:
    """And says why it was passed over."""
    choose = (
        'kind = "choose"\ntext = "Choose."\nchoices = [{ key = "a", text = "A" }, { key = "b", text = "B" }]'
    )
    run = short_run(
        choose,
        'kind = "confirm"\ntext = "A."\nif_all = [{ step = "s0", ended = ["a"] }]',
        'kind = "confirm"\ntext = "B."\nif_any = [{ step = "s0", ended = ["b"] }]',
    )
    answer(run, "b")

    assert reasons(run)["s1"] == (StepState.SKIPPED, '"Step" ended with: b')
    assert run.view().step == "s2"


def test_an_answer_that_was_not_offered_is_none() -> None:
    """The question stands."""
    run = short_run(
        'kind = "choose"\ntext = "Choose."\nchoices = [{ key = "a", text = "A" }, { key = "b", text = "B" }]'
    )
    answer(run, "c")

    assert run.view().step == "s0"


@pytest.mark.parametrize(
    ("text", "outcome"), [("burnt smell", "burnt smell"), ("", "nothing to note"), ("  ", "nothing to note")]
)
def test_a_note_may_be_nothing(text: str, outcome: str) -> None:
    """Saying nothing is an answer."""
    run = short_run('kind = "note"\ntext = "Note it."')
    answer(run, "", text)

    assert reasons(run)["s0"][1] == outcome


RECORD = (
    'kind = "record"\ntext = "Type the mains voltage."\nname = "mains"\nunit = "V"\nleast = 200\nmost = 250'
)


def test_a_typed_value_is_kept_with_its_unit() -> None:
    """A decimal comma is as good as a point."""
    run = short_run(RECORD)
    said = answer(run, "", "231,5")

    (kept,) = [event for event in said if isinstance(event, RecordedValue)]
    assert (kept.name, kept.value, kept.unit.value, kept.conditions["typed"]) == ("mains", 231.5, "V", "yes")


def test_an_implausible_value_has_to_be_typed_twice() -> None:
    """It is asked about, and taken when it is said again."""
    run = short_run(RECORD)
    answer(run, "", "23")
    assert instruction(run).startswith("Type it again if 23.0 V is right")
    answer(run, "", "23")

    assert run.view().recorded[0].value == 23.0


@pytest.mark.parametrize("typed", ["", "much", "nan", "inf"])
def test_what_is_no_number_is_asked_for_again(typed: str) -> None:
    """Never zero, never a guess."""
    run = short_run(RECORD)
    answer(run, "", typed)

    assert run.view().recorded == ()
    assert instruction(run).startswith("Type a number in V:")


def test_a_value_may_be_not_measured() -> None:
    """With the reason, and without a number."""
    run = short_run(RECORD)
    answer(run, "not measured", "no meter at hand")

    assert [(kept.value, kept.reason) for kept in run.view().recorded] == [(None, "no meter at hand")]


def test_power_is_declared_by_the_key_and_by_nothing_else() -> None:
    """The program cannot see the switch."""
    run = short_run('kind = "power"\nsupply = "mains"')
    assert run.view().key(3.0) == SupplyChanged(3.0, Supply.MAINS)
    run.feed(SupplyChanged(2.0, Supply.REDUCED))
    assert run.view().step == "s0"
    run.feed(SupplyChanged(3.0, Supply.MAINS))

    assert run.view().ended is not None


def test_a_lid_that_lies_there_already_is_not_asked_for() -> None:
    """One key less."""
    run = short_run('kind = "confirm"\ntext = "Wait."', 'kind = "lid"\nfitted = true')
    run.feed(LidChanged(1.0, True))
    answer(run, "done")

    assert reasons(run)["s1"] == (StepState.DONE, "it was so already")


def test_a_wait_ends_at_its_minute_and_the_one_key_does_not_shorten_it() -> None:
    """It asks for a tick each minute, so that the time left is true."""
    run = short_run('kind = "wait"\nminutes = 2\ntext = "Leave it."')

    assert (run.view().next_label, run.next_deadline()) == ("", 60.0)
    run.feed(Tick(60.0))
    assert instruction(run) == "Leave it: 1 min left."
    assert run.view().progress == 0.5
    run.feed(Tick(120.0))
    assert run.view().ended is not None


def test_a_wait_may_be_cut_short_on_purpose() -> None:
    """And the record says so."""
    run = short_run('kind = "wait"\nminutes = 10\ntext = "Leave it."')
    answer(run, "go on", at_s=90.0)

    assert reasons(run)["s0"][1] == "cut short by a person after 2 min"


def test_connecting_wants_the_mains_off_first() -> None:
    """Clips go on with the power off."""
    run = short_run('kind = "confirm"\ntext = "Wait."', 'kind = "connect"\nchannels = ["left bias"]')
    run.feed(SupplyChanged(1.0, Supply.MAINS))
    answer(run, "done")

    assert instruction(run) == "Switch the mains off before you clip anything on."
    run.feed(SupplyChanged(2.0, Supply.OFF))
    assert instruction(run) == (
        "Clip on with the mains switched off: left bias across both emitter resistors in series, "
        "emitter to emitter."
    )


def test_a_repeat_goes_back_no_more_often_than_it_may() -> None:
    """Rounds are counted, and the end is said."""
    run = short_run('kind = "confirm"\ntext = "Do it."', 'kind = "repeat"\nback_to = "s0"\nat_most = 2')
    for at_s in (1.0, 2.0, 3.0):
        assert run.view().step == "s0"
        answer(run, "done", at_s=at_s)

    assert run.view().ended is not None
    assert reasons(run)["s1"][1] == "repeated 2 times, which is the most that this procedure allows"


@pytest.mark.parametrize(
    ("outcomes", "whole"),
    [
        ([Outcome.PASSED, Outcome.PASSED], Outcome.PASSED),
        ([Outcome.LEFT_ALONE, Outcome.LEFT_ALONE], Outcome.LEFT_ALONE),
        ([Outcome.LEFT_ALONE, Outcome.PASSED], Outcome.PASSED),
        ([Outcome.PASSED, Outcome.FAILED], Outcome.FAILED),
        ([Outcome.NOT_MEASURED, Outcome.FAILED], Outcome.FAILED),
        ([Outcome.NOT_MEASURED, Outcome.PASSED], Outcome.NOT_MEASURED),
        ([], Outcome.NOT_MEASURED),
    ],
)
def test_the_whole_is_no_better_than_its_worst_channel(outcomes: list[Outcome], whole: Outcome) -> None:
    """A failure fails it; what was not measured is not passed."""
    assert overall(outcomes) is whole


def test_procedures_without_hands_begin_without_cautions() -> None:
    """A note, a value, a choice: nobody touches the unit."""
    lines = '[[step]]\nid = "a"\nkind = "note"\ntitle = "A"\ntext = "Note it."\n'
    setup = RunSetup.build(load_procedure(HEAD + lines))
    run = Run(setup, ScriptedAnalysis(setup.channels))
    said = run.feed(Tick(0.0))

    assert [event.step for event in said if isinstance(event, StepChanged)] == ["a"]
    assert [event.text for event in said if isinstance(event, Instruction)] == ["Note it."]
