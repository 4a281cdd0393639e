"""Step kinds one by one, in procedures of a few lines."""

from __future__ import annotations

import pytest
from bench_double import ScriptedAnalysis

from procedures.events import (
    Answer,
    ChannelReading,
    DriveChanged,
    Event,
    Instruction,
    LidChanged,
    Outcome,
    RecordedValue,
    StepChanged,
    StepState,
    Supply,
    SupplyChanged,
    Tick,
    Tier,
    Verdict,
)
from procedures.leads import Lead
from procedures.library import shipped_amplifiers
from procedures.procedure import load_procedure
from procedures.runner import Run
from procedures.setup import RunSetup
from procedures.steps import KINDS
from procedures.steps.summary import overall

HEAD = """format = 1
id = "test"
title = "Test"
purpose = "To be tested."
channels = ["left bias", "right bias"]
"""
AMPLIFIERS = shipped_amplifiers()


def _run(*steps: str, amplifier: str = "Kestrow K-40") -> Run:
    lines = "".join(
        f'[[step]]\nid = "s{number}"\ntitle = "Step"\n{step}\n' for number, step in enumerate(steps)
    )
    setup = RunSetup.build(
        load_procedure(HEAD + lines),
        AMPLIFIERS[amplifier],
        leads=[Lead("one", "1", "left bias")],
        cautions_acknowledged=True,
    )
    run = Run(setup, ScriptedAnalysis(setup.channels))
    run.feed(Tick(0.0))
    return run


def _answer(run: Run, choice: str, text: str = "", at_s: float = 1.0) -> tuple[Event, ...]:
    question = run.view().question
    assert question is not None
    return run.feed(Answer(at_s, question.id, choice, text))


def _text(run: Run) -> str:
    instruction = run.view().instruction
    return instruction.text if instruction else ""


def _reasons(run: Run) -> dict[str, tuple[StepState, str]]:
    return {line.id: (line.state, line.reason) for line in run.view().steps}


def test_the_kinds_are_those_of_the_table() -> None:
    """The word that a file uses for each."""
    doing = {"confirm", "connect", "lid", "power", "trim", "turn-down", "wait", "warm-up", "watch"}
    asking = {"choose", "measure", "note", "record"}

    assert set(KINDS) == doing | asking | {"repeat", "summary"}


def test_confirm_waits_for_the_key_that_it_names() -> None:
    """The key says what was done."""
    run = _run('kind = "confirm"\ntext = "Pull the plug."\nkey = "It is pulled"\ncaution = "Mind the mains."')
    view = run.view()

    assert (view.next_label, view.instruction and view.instruction.caution) == (
        "It is pulled",
        "Mind the mains.",
    )
    key = view.key(2.0)
    assert key is not None
    run.feed(key)
    assert run.view().ended is not None


def test_a_later_step_depends_on_the_answer() -> None:
    """And says why it was passed over."""
    choose = (
        'kind = "choose"\ntext = "Choose."\nchoices = [{ key = "a", text = "A" }, { key = "b", text = "B" }]'
    )
    run = _run(
        choose,
        'kind = "confirm"\ntext = "A."\nif_all = [{ step = "s0", ended = ["a"] }]',
        'kind = "confirm"\ntext = "B."\nif_any = [{ step = "s0", ended = ["b"] }]',
    )
    _answer(run, "b")

    assert _reasons(run)["s1"] == (StepState.SKIPPED, '"Step" ended with: b')
    assert run.view().step == "s2"


def test_an_answer_that_was_not_offered_is_none() -> None:
    """The question stands."""
    run = _run(
        'kind = "choose"\ntext = "Choose."\nchoices = [{ key = "a", text = "A" }, { key = "b", text = "B" }]'
    )
    _answer(run, "c")

    assert run.view().step == "s0"


@pytest.mark.parametrize(
    ("text", "outcome"), [("burnt smell", "burnt smell"), ("", "nothing to note"), ("  ", "nothing to note")]
)
def test_a_note_may_be_nothing(text: str, outcome: str) -> None:
    """Saying nothing is an answer."""
    run = _run('kind = "note"\ntext = "Note it."')
    _answer(run, "", text)

    assert _reasons(run)["s0"][1] == outcome


RECORD = (
    'kind = "record"\ntext = "Type the mains voltage."\nname = "mains"\nunit = "V"\nleast = 200\nmost = 250'
)


def test_a_typed_value_is_kept_with_its_unit() -> None:
    """A decimal comma is as good as a point."""
    run = _run(RECORD)
    said = _answer(run, "", "231,5")

    (kept,) = [event for event in said if isinstance(event, RecordedValue)]
    assert (kept.name, kept.value, kept.unit.value, kept.conditions["typed"]) == ("mains", 231.5, "V", "yes")


def test_an_implausible_value_has_to_be_typed_twice() -> None:
    """It is asked about, and taken when it is said again."""
    run = _run(RECORD)
    _answer(run, "", "23")
    assert _text(run).startswith("Type it again if 23.0 V is right")
    _answer(run, "", "23")

    assert run.view().recorded[0].value == 23.0


@pytest.mark.parametrize("typed", ["", "much", "nan", "inf"])
def test_what_is_no_number_is_asked_for_again(typed: str) -> None:
    """Never zero, never a guess."""
    run = _run(RECORD)
    _answer(run, "", typed)

    assert run.view().recorded == ()
    assert _text(run).startswith("Type a number in V:")


def test_a_value_may_be_not_measured() -> None:
    """With the reason, and without a number."""
    run = _run(RECORD)
    _answer(run, "not measured", "no meter at hand")

    assert [(kept.value, kept.reason) for kept in run.view().recorded] == [(None, "no meter at hand")]


def test_power_is_declared_by_the_key_and_by_nothing_else() -> None:
    """The program cannot see the switch."""
    run = _run('kind = "power"\nsupply = "mains"')
    assert run.view().key(3.0) == SupplyChanged(3.0, Supply.MAINS)
    run.feed(SupplyChanged(2.0, Supply.REDUCED))
    assert run.view().step == "s0"
    run.feed(SupplyChanged(3.0, Supply.MAINS))

    assert run.view().ended is not None


def test_a_lid_that_lies_there_already_is_not_asked_for() -> None:
    """One key less."""
    run = _run('kind = "confirm"\ntext = "Wait."', 'kind = "lid"\nfitted = true')
    run.feed(LidChanged(1.0, True))
    _answer(run, "done")

    assert _reasons(run)["s1"] == (StepState.DONE, "it was so already")


def test_a_wait_ends_at_its_minute_and_the_one_key_does_not_shorten_it() -> None:
    """It asks for a tick each minute, so that the time left is true."""
    run = _run('kind = "wait"\nminutes = 2\ntext = "Leave it."')

    assert (run.view().next_label, run.next_deadline()) == ("", 60.0)
    run.feed(Tick(60.0))
    assert _text(run) == "Leave it: 1 min left."
    assert run.view().progress == 0.5
    run.feed(Tick(120.0))
    assert run.view().ended is not None


def test_a_wait_may_be_cut_short_on_purpose() -> None:
    """And the record says so."""
    run = _run('kind = "wait"\nminutes = 10\ntext = "Leave it."')
    _answer(run, "go on", at_s=90.0)

    assert _reasons(run)["s0"][1] == "cut short by a person after 2 min"


def test_connecting_wants_the_mains_off_first() -> None:
    """Clips go on with the power off."""
    run = _run('kind = "confirm"\ntext = "Wait."', 'kind = "connect"\nchannels = ["left bias"]')
    run.feed(SupplyChanged(1.0, Supply.MAINS))
    _answer(run, "done")

    assert _text(run) == "Switch the mains off before you clip anything on."
    run.feed(SupplyChanged(2.0, Supply.OFF))
    assert _text(run) == (
        "Clip on with the mains switched off: left bias across both emitter resistors in series, "
        "emitter to emitter."
    )


def test_a_target_for_a_stated_time_waits_for_that_time() -> None:
    """Not for rest, and not for twenty minutes."""
    run = _run('kind = "warm-up"', amplifier="Brinefold PA-600")
    run.feed(SupplyChanged(10.0, Supply.MAINS))
    run.feed(Tick(1809.0))
    assert run.view().step == "s0"
    run.feed(Tick(1810.0))

    assert run.view().ended is not None


def test_a_warm_up_that_never_settles_asks_how_to_go_on() -> None:
    """Longer is the default; going on is written down with its reason."""
    run = _run('kind = "warm-up"\nlongest_minutes = 30')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    for second in range(0, 1900, 10):
        run.feed(ChannelReading(float(second), "left bias", 0.01 + second * 1e-5))
    assert run.view().next_label == "Wait 10 minutes longer"
    key = run.view().key(1900.0)
    assert key is not None
    run.feed(key)
    assert run.view().question is None
    run.feed(Tick(2600.0))
    _answer(run, "go on", at_s=2600.0)

    assert _reasons(run)["s0"][1] == "a person went on although left bias is moving"


def test_a_warm_up_on_the_lamp_does_not_count() -> None:
    """Rails sag under it; the lamp has to go first, and the time starts again."""
    run = _run('kind = "warm-up"', amplifier="Brinefold PA-600")
    run.feed(SupplyChanged(0.0, Supply.SERIES_LAMP))
    run.feed(Tick(1900.0))
    assert _text(run) == "Switch off, take the series lamp out, then switch on straight from the mains."
    run.feed(SupplyChanged(2000.0, Supply.MAINS))
    run.feed(Tick(3700.0))
    assert run.view().step == "s0"
    run.feed(Tick(3800.0))

    assert run.view().ended is not None


def test_limits_of_a_step_judge_in_place_of_the_amplifiers() -> None:
    """An offset, for instance."""
    limits = "limits = { low_millivolts = -50, high_millivolts = 50 }"
    run = _run(f'kind = "measure"\nname = "offset"\nchannels = ["left bias"]\n{limits}')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    said = [
        event for second in range(12) for event in run.feed(ChannelReading(float(second), "left bias", -0.06))
    ]

    (verdict,) = [event for event in said if isinstance(event, Verdict)]
    assert verdict.outcome is Outcome.FAILED
    assert verdict.reason == "-60.00 mV is 10.00 mV below -50.00 mV to 50.00 mV"


def test_a_reading_that_never_steadies_is_taken_with_the_reason() -> None:
    """Patience ends; the value is kept and says why it is worth less."""
    run = _run('kind = "measure"\nname = "x"\nchannels = ["left bias"]\njudged = false\npatience_minutes = 1')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    for second in range(70):
        run.feed(ChannelReading(float(second), "left bias", 0.010 + second * 1e-3))

    (kept,) = run.view().recorded
    assert kept.reason == "not steady after 60 s: moving"


def test_a_reading_may_be_taken_by_hand() -> None:
    """Before it is steady, on purpose."""
    run = _run('kind = "measure"\nname = "x"\nchannels = ["left bias"]\njudged = false')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    run.feed(ChannelReading(1.0, "left bias", 0.0135))
    _answer(run, "take")

    assert [(kept.value, kept.reason) for kept in run.view().recorded] == [
        (0.0135, "taken by hand before it was known to stay")
    ]


def test_what_was_not_known_to_stay_passes_nothing() -> None:
    """Inside the window, but taken before it had settled: no verdict of passed."""
    run = _run('kind = "measure"\nname = "x"\nchannels = ["left bias"]\nuntil = "settled"')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    run.feed(ChannelReading(1.0, "left bias", 0.0135))
    _answer(run, "take")

    assert [verdict.outcome for verdict in run.view().verdicts] == [Outcome.NOT_MEASURED]


def test_nothing_is_measured_while_the_amplifier_is_off() -> None:
    """Zero volts are not a reading of the bias."""
    run = _run('kind = "measure"\nname = "x"\nchannels = ["left bias"]')
    for second in range(60):
        run.feed(ChannelReading(float(second), "left bias", 0.0))

    assert run.view().recorded == ()
    assert _text(run) == "Switch the amplifier on: this step needs power."


def test_a_trim_may_be_given_up() -> None:
    """That fails the channel, with the reason."""
    run = _run('kind = "trim"\nchannel = "left bias"')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    run.feed(ChannelReading(1.0, "left bias", 0.02))
    _answer(run, "give up", "the wiper is open")

    assert [(v.outcome, v.reason) for v in run.view().verdicts] == [
        (Outcome.FAILED, "given up: the wiper is open")
    ]


def test_a_trimmer_that_goes_no_lower_ends_turning_down() -> None:
    """A person says so."""
    run = _run('kind = "turn-down"\nwhich = "all"\nchannels = ["left bias"]')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    run.feed(ChannelReading(1.0, "left bias", 0.02))
    _answer(run, "lowest")

    assert _reasons(run)["s0"] == (StepState.DONE, "turned down")


def test_turning_down_is_not_needed_where_nothing_is_far_too_high() -> None:
    """Only what is above one and a half times its target."""
    assert _reasons(_run('kind = "turn-down"'))["s0"] == (
        StepState.DONE,
        "no channel is far above its target",
    )


def test_a_repeat_goes_back_no_more_often_than_it_may() -> None:
    """Rounds are counted, and the end is said."""
    run = _run('kind = "confirm"\ntext = "Do it."', 'kind = "repeat"\nback_to = "s0"\nat_most = 2')
    for at_s in (1.0, 2.0, 3.0):
        assert run.view().step == "s0"
        _answer(run, "done", at_s=at_s)

    assert run.view().ended is not None
    assert _reasons(run)["s1"][1] == "repeated 2 times, which is the most that this procedure allows"


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
    run = Run(RunSetup(load_procedure(HEAD + lines)), ScriptedAnalysis(()))
    said = run.feed(Tick(0.0))

    assert [event.step for event in said if isinstance(event, StepChanged)] == ["a"]
    assert [event.text for event in said if isinstance(event, Instruction)] == ["Note it."]


def test_an_older_alarm_does_not_end_a_warm_up() -> None:
    """What was answered by turning down is not answered twice."""
    run = _run('kind = "confirm"\ntext = "Wait."', 'kind = "warm-up"')
    analysis = run._analysis
    assert isinstance(analysis, ScriptedAnalysis)
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    analysis.say_alarm(Tier.ACT, "left bias")
    run.feed(Tick(1.0))
    _answer(run, "done", at_s=2.0)
    run.feed(Tick(3.0))
    assert run.view().step == "s1"
    analysis.say_alarm(Tier.ACT, "left bias")
    run.feed(Tick(4.0))

    assert _reasons(run)["s1"] == (StepState.DONE, "far too high")


@pytest.mark.parametrize(
    "step",
    [
        'kind = "measure"\nname = "x"\nchannels = ["left bias"]',
        'kind = "trim"\nchannel = "left bias"',
        'kind = "warm-up"',
    ],
)
def test_with_a_signal_the_bias_is_neither_judged_nor_trimmed(step: str) -> None:
    """The signal is asked to be taken away first."""
    run = _run(step)
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    run.feed(DriveChanged(1.0, True))
    for second in range(30):
        run.feed(ChannelReading(2.0 + second, "left bias", 0.0135))

    assert _text(run) == "Take the signal away: the bias is judged without one."
    assert run.view().recorded == ()
    assert run.view().key(40.0) == DriveChanged(40.0, False)


def _turn_down(levels: list[float]) -> list[str]:
    """What is said while a reading goes through these levels, one each half second."""
    run = _run('kind = "turn-down"\nwhich = "all"\nchannels = ["left bias"]')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    said: list[str] = []
    for number, level in enumerate(levels):
        run.feed(ChannelReading(1.0 + 0.5 * number, "left bias", level))
        said.append(_text(run).split(":")[0])
    return list(dict.fromkeys(said))


HAIR = "Turn the left trimmer by a hair, and watch the reading."
BACK = "Turn the left trimmer back at once, then the other way"
THAT_WAY = "Go on turning the left trimmer that way, slowly, until it shows 6.75 mV."


@pytest.mark.parametrize(
    ("levels", "said"),
    [
        ([0.03] * 30, [HAIR]),
        ([0.03] * 20 + [0.0285] * 6, [HAIR, THAT_WAY]),
        ([0.03] * 20 + [0.0315] * 6, [HAIR, BACK]),
        ([0.03] * 20 + [0.0315] * 6 + [0.0295] * 16, [HAIR, BACK, THAT_WAY]),
        ([0.03 * 1.0005**n for n in range(60)], [HAIR]),  # 6 %/min: the amplifier warms, nobody turns
        ([0.03 * 1.003**n for n in range(60)], [HAIR, BACK]),  # crept up by 15 %: slowly into disaster
    ],
    ids=["still", "falls", "rises", "rises, then falls", "drifts", "creeps"],
)
def test_a_nudge_shows_the_direction_and_drift_does_not(levels: list[float], said: list[str]) -> None:
    """Only a change within seconds is a hand's."""
    assert _turn_down(levels) == said
