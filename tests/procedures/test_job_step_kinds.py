"""Step kinds of the whole job: checklists, typed limits, comparisons, jumps, repeats, soaks, cautions."""

from __future__ import annotations

import pytest
from bench_double import HEAD, ScriptedAnalysis, answer, instruction, reasons, short_run
from hypothesis import given
from hypothesis import strategies as st

from drivers.reading import Unit
from procedures.checking import FileProblems
from procedures.events import (
    ChannelReading,
    Outcome,
    SegmentOpened,
    StepState,
    Supply,
    SupplyChanged,
    Tick,
)
from procedures.leads import Lead
from procedures.library import shipped_amplifiers
from procedures.observed import CheckResult, Inspected
from procedures.procedure import load_procedure
from procedures.ratings import Preset
from procedures.runner import Run
from procedures.setup import RunSetup
from procedures.steps.typed_units import UNITS, in_si, typed_value

INSPECT = """kind = "inspect"
item = [{ id = "joints", text = "Look at the joints of the relay.", wrong = "ring cracks at the relay" },
        { id = "caps", text = "Look at the capacitors." }]"""


def _verdicts(run: Run) -> list[tuple[str, str]]:
    return [(verdict.outcome.value, verdict.reason) for verdict in run.view().verdicts]


def _key(run: Run, at_s: float = 1.0) -> None:
    fact = run.view().key(at_s)
    assert fact is not None
    run.feed(fact)


# --- inspect ----------------------------------------------------------------------------------------------


def test_a_checklist_that_is_right_takes_one_key_each() -> None:
    """And passes as a whole."""
    run = short_run(INSPECT)
    assert instruction(run) == "Look at the joints of the relay (1 of 2)."
    _key(run)
    _key(run)

    assert reasons(run)["s0"] == (StepState.DONE, "2 looked at, nothing wrong seen")
    assert _verdicts(run) == [("passed", "Step: 2 looked at, nothing wrong seen")]


def test_what_is_wrong_is_kept_with_its_words_and_picture() -> None:
    """A note and a photograph go with it; the thing stays in hand until it is called right or wrong."""
    run = short_run(INSPECT)
    answer(run, "photograph")
    answer(run, "", "picture 14")
    answer(run, "note")
    answer(run, "", "seen before")
    answer(run, "fail")
    answer(run, "", "pin 3")
    answer(run, "does not apply")

    first, second = run.view().inspected
    assert (first.item, first.result, first.words, first.photograph) == (
        "joints",
        CheckResult.FAILED,
        "seen before; pin 3",
        "picture 14",
    )
    assert second.result is CheckResult.NOT_THERE
    assert _verdicts(run) == [("failed", "Step: 1 of 2 wrong: ring cracks at the relay (seen before; pin 3)")]


def test_a_checklist_may_only_be_kept() -> None:
    """Then nothing is judged."""
    run = short_run(INSPECT + "\njudged = false")
    answer(run, "fail")
    answer(run, "nothing")
    _key(run)

    assert run.view().verdicts == ()
    assert [type(one) for one in run.view().inspected] == [Inspected, Inspected]


# --- typed values -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "typed_in", "value"),
    [
        ("35", "mohm", 0.035),
        ("35 mΩ", "mohm", 0.035),
        ("0,035 ohm", "mohm", 0.035),
        ("2.5", "Mohm", 2.5e6),
        ("500 kΩ", "Mohm", 5e5),
        ("-12,5", "mV", -0.0125),
        ("−12.5mV", "mV", -0.0125),
        ("230", "V", 230.0),
        (".3", "ohm", 0.3),
        ("-61.5", "dB", -61.5),
    ],
)
def test_a_number_is_in_the_unit_asked_for_unless_it_says_another(
    text: str, typed_in: str, value: float
) -> None:
    """Decimal comma or point, with its unit or without."""
    assert typed_value(text, typed_in) == pytest.approx(value)


@pytest.mark.parametrize("text", ["", "much", "12 apples", "3 V", "1e5", "nan", "1.2.3", "--4"])
def test_what_is_no_such_value_is_asked_for_again(text: str) -> None:
    """Never zero, never a guess."""
    with pytest.raises(ValueError, match="Type a number in mΩ"):
        typed_value(text, "mohm")


@given(st.sampled_from(sorted(UNITS)), st.decimals(-10_000, 10_000, places=3))
def test_what_is_typed_is_what_is_kept(unit: str, number: object) -> None:
    """For every unit, with and without its name."""
    value = in_si(float(str(number)), unit)
    assert typed_value(f"{number}", unit) == pytest.approx(value)
    assert typed_value(f"{number} {unit}", unit) == pytest.approx(value)


RECORD = """kind = "record"
text = "Type the resistance of the contact"
name = "contact"
typed_in = "mohm"
most = 5000
limit = [{ high = 100, source = "workshop habit" }]"""


@pytest.mark.parametrize(
    ("typed", "outcome", "step"), [("100", Outcome.PASSED, "inside"), ("100.1", Outcome.FAILED, "outside")]
)
def test_a_typed_value_is_judged_by_its_limit(typed: str, outcome: Outcome, step: str) -> None:
    """The limit itself still passes; value, limit and source are in the words."""
    run = short_run(RECORD, f'kind = "note"\ntext = "x"\nif_all = [{{ step = "s0", ended = ["{step}"] }}]')
    assert instruction(run) == "Type the resistance of the contact (mΩ)."
    answer(run, "", typed)

    (verdict,) = run.view().verdicts
    assert (verdict.outcome, verdict.subject, verdict.channel) == (outcome, "contact", None)
    assert "where at most 0.100 Ω is asked for (workshop habit)" in verdict.reason
    assert run.view().step == "s1"


def test_a_limit_may_depend_on_an_earlier_answer() -> None:
    """A class of protection, a regime; where none counts, the value is kept and nothing judged."""
    choose = (
        'kind = "choose"\ntext = "Which class?"\nchoices = [{ key = "I", text = "One" }, '
        '{ key = "II", text = "Two" }, { key = "none", text = "None" }]'
    )
    limits = (
        'kind = "record"\ntext = "Type it"\nname = "insulation"\ntyped_in = "Mohm"\n'
        'limit = [{ low = 1, source = "a", step = "s0", ended = ["I"] }, '
        '{ low = 2, source = "b", step = "s0", ended = ["II"] }]'
    )
    outcomes = []
    for chosen in ("I", "II", "none"):
        run = short_run(choose, limits)
        answer(run, chosen)
        answer(run, "", "1.5")
        outcomes.append([verdict.outcome.value for verdict in run.view().verdicts])

    assert outcomes == [["passed"], ["failed"], []]


def test_a_value_with_a_limit_that_is_not_measured_is_a_verdict_too() -> None:
    """Missing is not passed."""
    run = short_run(RECORD)
    answer(run, "not measured", "no tester here")

    assert _verdicts(run) == [("not measured", "contact: no tester here")]


# --- compare ----------------------------------------------------------------------------------------------


def _compared(first: str, second: str, more: str) -> Run:
    record = 'kind = "record"\ntext = "Type it"\ntyped_in = "mohm"\nname = "{}"'
    run = short_run(
        record.format("before"),
        record.format("after"),
        f'kind = "compare"\nvalues = ["before", "after"]\n{more}',
    )
    for typed in (first, second):
        if typed:
            answer(run, "", typed)
        else:
            answer(run, "not measured")
    return run


@pytest.mark.parametrize(
    ("first", "second", "more", "ended"),
    [
        ("30", "50", 'within = 20\ntyped_in = "mohm"', "alike"),
        ("30", "50.1", 'within = 20\ntyped_in = "mohm"', "apart"),
        ("90", "100", "within_percent = 10", "alike"),
        ("89", "100", "within_percent = 10", "apart"),
        ("30", "", "within_percent = 10", "not measured"),
        ("30", "31", 'within = 5\ntyped_in = "mV"', "not measured"),
    ],
)
def test_two_values_are_close_or_not(first: str, second: str, more: str, ended: str) -> None:
    """By a difference or by a share of the larger; a missing one is not zero."""
    run = _compared(first, second, more)
    outcome = {"alike": "passed", "apart": "failed"}.get(ended, ended)

    assert [verdict.outcome.value for verdict in run.view().verdicts] == [outcome]
    assert run.view().ended is not None


# --- going on ---------------------------------------------------------------------------------------------


def test_a_jump_passes_over_what_lies_between() -> None:
    """And says which step went past it."""
    choose = 'kind = "choose"\ntext = "x"\nchoices = [{ key = "a", text = "A" }, { key = "b", text = "B" }]'
    run = short_run(
        choose,
        'kind = "jump"\nto = "s3"\nif_all = [{ step = "s0", ended = ["a"] }]',
        'kind = "note"\ntext = "Between."',
        'kind = "note"\ntext = "Behind."',
    )
    answer(run, "a")

    assert run.view().step == "s3"
    assert reasons(run)["s2"] == (StepState.SKIPPED, '"Step" goes past it')


def test_a_jump_goes_only_forwards() -> None:
    """So that no file can go round in a circle."""
    text = HEAD + '[[step]]\nid = "a"\ntitle = "A"\nkind = "note"\ntext = "x"\n'
    text += '[[step]]\nid = "b"\ntitle = "B"\nkind = "jump"\nto = "a"\n'
    with pytest.raises(FileProblems, match='step 2 "b", to: no later step is called "a"'):
        load_procedure(text)


@pytest.mark.parametrize(("answers", "rounds"), [(["no", "yes"], 2), (["yes"], 1), (["no"] * 4, 4)])
def test_repeat_ends_when_what_it_is_for_is_reached(answers: list[str], rounds: int) -> None:
    """Or when it has been done as often as it may."""
    choose = (
        'kind = "choose"\ntext = "Does it stay?"\nchoices = [{ key = "yes", text = "Yes" }, '
        '{ key = "no", text = "No" }]'
    )
    run = short_run(
        choose, 'kind = "repeat"\nback_to = "s0"\nat_most = 3\nuntil = [{ step = "s0", ended = ["yes"] }]'
    )
    for given_answer in answers:
        answer(run, given_answer)

    assert run.view().ended is not None
    assert len(answers) == rounds


# --- cautions of a situation ------------------------------------------------------------------------------


def test_first_power_and_the_lamp_taken_out_are_acknowledged_by_themselves() -> None:
    """Once each; the one key does not pass them."""
    run = short_run(
        'kind = "power"\nsupply = "series lamp"',
        'kind = "power"\nsupply = "off"',
        'kind = "power"\nsupply = "mains"',
        'kind = "power"\nsupply = "off"',
        'kind = "power"\nsupply = "mains"',
    )
    asked = []
    for second in range(1, 12):
        view = run.view()
        if view.ended is not None:
            break
        if view.question is not None and view.question.id.endswith("/caution"):
            assert view.next_fact is None
            asked.append(view.question.text.split(":")[0])
            answer(run, "acknowledged", at_s=float(second))
        else:
            _key(run, float(second))

    assert asked == [
        "First power-up after a repair",
        "Without the lamp nothing limits the current",
    ]


def test_a_dangerous_rail_is_acknowledged_before_anything_is_clipped_on() -> None:
    """72 V a rail."""
    run = short_run('kind = "connect"', amplifier="Brinefold PA-600")
    question = run.view().question
    assert question is not None
    assert "The rails of this amplifier are at a dangerous voltage" in question.text
    answer(run, "acknowledged")

    assert instruction(run).startswith("Clip on with the mains switched off")


def test_an_ordinary_step_has_no_question_of_its_own() -> None:
    """One line beside the instruction is enough."""
    run = short_run('kind = "connect"')

    assert run.view().next_label == "It is connected"
    assert run.view().instruction is not None
    assert run.view().instruction.caution != ""


@pytest.mark.parametrize(
    ("typed", "asked_again"), [("-100", False), ("-101", True), ("100", False), ("101", True)]
)
def test_a_value_at_its_bound_is_not_asked_for_again(typed: str, asked_again: bool) -> None:
    """Below zero as well."""
    run = short_run(
        'kind = "record"\ntext = "Type it"\ntyped_in = "mV"\nname = "x"\nleast = -100\nmost = 100'
    )
    answer(run, "", typed)

    assert (run.view().recorded == ()) is asked_again


# --- soak -------------------------------------------------------------------------------------------------


def _soaked(volts: list[float], more: str = "") -> Run:
    run = short_run(f'kind = "soak"\nhours = 1\nchannels = ["left bias"]\n{more}')
    run.feed(SupplyChanged(1.0, Supply.MAINS))
    for number in range(360):
        value = volts[min(number, len(volts) - 1)]
        run.feed(ChannelReading(5.0 + 10.0 * number, "left bias", value))
    run.feed(Tick(3601.0))
    return run


def test_a_soak_that_stays_passes() -> None:
    """With the time it took."""
    assert _verdicts(_soaked([0.0135])) == [("passed", "stayed within 15 % of 13.5 mV for 60 min")]


def test_every_excursion_is_reported() -> None:
    """How far, and how long; a single reading is a hand."""
    run = _soaked([0.0135] * 50 + [0.018, 0.019, 0.018] + [0.0135] * 50 + [0.02] + [0.0135])

    assert [(r.name, r.value) for r in run.view().recorded] == [("excursion 1", 0.019)]
    assert reasons(run)["s0"][1] == "1 excursion in 60 min"
    assert run.view().verdicts[0].outcome is Outcome.FAILED


def test_a_soak_cut_short_has_not_passed() -> None:
    """The one key does not shorten it."""
    run = short_run('kind = "soak"\nhours = 2\nchannels = ["left bias"]')
    run.feed(SupplyChanged(1.0, Supply.MAINS))
    for second in range(2, 60, 2):
        run.feed(ChannelReading(float(second), "left bias", 0.0135))
    assert run.view().next_fact is None
    answer(run, "go on", at_s=61.0)

    assert run.view().verdicts[0].outcome is Outcome.NOT_MEASURED


def test_time_that_nobody_watched_is_no_soak() -> None:
    """The program was not there: those minutes are not counted, and no excursion spans them."""
    run = short_run('kind = "soak"\nhours = 1\nchannels = ["left bias"]')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    for second in range(0, 620, 10):
        run.feed(ChannelReading(float(second), "left bias", 0.0135))
    run.feed(SegmentOpened(7800.0, "crash", 7200.0, Supply.MAINS))

    assert run.view().ended is None
    assert "50 min left" in instruction(run)


def test_time_without_power_is_no_soak() -> None:
    """It counts on when the power is back, and is told."""
    run = short_run('kind = "soak"\nhours = 1\nchannels = ["left bias"]')
    run.feed(SupplyChanged(1.0, Supply.MAINS))
    for second in range(2, 1802, 10):
        run.feed(ChannelReading(float(second), "left bias", 0.0135))
    run.feed(SupplyChanged(1800.0, Supply.OFF))
    run.feed(Tick(5000.0))
    run.feed(SupplyChanged(6000.0, Supply.MAINS))
    run.feed(Tick(7000.0))
    assert run.view().ended is None
    run.feed(Tick(7810.0))

    assert reasons(run)["s0"][1] == "60 min; the power was away once"
    assert run.view().recorded == ()
    assert Unit.PERCENT in Unit


# --- what the amplifier's data say at the bench -----------------------------------------------------------


def test_what_the_manual_has_wrong_is_said_where_the_probes_go_on() -> None:
    """Two channels' test points swapped in print, for instance."""
    run = short_run('kind = "connect"', amplifier="Tessen AB-500")
    question = run.view().question

    assert question is not None
    assert question.text.startswith("The manual is wrong here: The sheet of the first edition")
    assert run.view().next_label == "It is connected"


@pytest.mark.parametrize(
    ("typed", "limit", "outcome"),
    [("49", "own_offset_limit = true", "passed"), ("-51", "own_offset_limit = true", "failed")],
)
def test_a_limit_may_be_the_amplifiers_own(typed: str, limit: str, outcome: str) -> None:
    """50 mV for this one."""
    run = short_run(
        'kind = "record"\ntext = "Type the offset"\nname = "offset"\ntyped_in = "mV"\n'
        f'limit = [{{ {limit}, source = "this amplifier" }}]'
    )
    answer(run, "", typed)

    assert [verdict.outcome.value for verdict in run.view().verdicts] == [outcome]


def test_a_trimmer_that_upsets_another_names_it() -> None:
    """Two bias presets that interact (service manual of a PA amplifier, trade.md M5)."""
    known = shipped_amplifiers()["Kestrow K-40"]
    presets = (
        Preset(name="left bias 1", channel="left bias", interacts_with=("left bias 2",)),
        Preset(name="left bias 2"),
    )
    procedure = load_procedure(
        HEAD + '[[step]]\nid = "t"\ntitle = "T"\nkind = "trim"\nchannel = "left bias"\n'
    )
    setup = RunSetup.build(
        procedure,
        known.model_copy(update={"preset": presets}),
        leads=[Lead("one", "1", "left bias")],
        cautions_acknowledged=True,
    )
    run = Run(setup, ScriptedAnalysis(setup.channels))
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    question = run.view().question

    assert question is not None
    assert question.text == (
        'Say when the left trimmer is set; look at "left bias 2" again then, for they interact.'
    )
