"""Step kinds that look at readings, one by one, in procedures of a few lines."""

from __future__ import annotations

import pytest
from bench_double import ScriptedAnalysis, answer, instruction, reasons, short_run

from procedures.events import (
    ChannelReading,
    DriveChanged,
    Outcome,
    StepState,
    Supply,
    SupplyChanged,
    Tick,
    Tier,
    Verdict,
)


def test_a_target_for_a_stated_time_waits_for_that_time() -> None:
    """Not for rest, and not for twenty minutes."""
    run = short_run('kind = "warm-up"', amplifier="Brinefold PA-600")
    run.feed(SupplyChanged(10.0, Supply.MAINS))
    run.feed(Tick(1809.0))
    assert run.view().step == "s0"
    run.feed(Tick(1810.0))

    assert run.view().ended is not None


def test_a_warm_up_that_never_settles_asks_how_to_go_on() -> None:
    """Longer is the default; going on is written down with its reason."""
    run = short_run('kind = "warm-up"\nlongest_minutes = 30')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    for second in range(0, 1900, 10):
        run.feed(ChannelReading(float(second), "left bias", 0.01 + second * 1e-5))
    assert run.view().next_label == "Wait 10 minutes longer"
    key = run.view().key(1900.0)
    assert key is not None
    run.feed(key)
    assert run.view().question is None
    run.feed(Tick(2600.0))
    answer(run, "go on", at_s=2600.0)

    assert reasons(run)["s0"][1] == "a person went on although left bias is moving"


def test_a_warm_up_on_the_lamp_does_not_count() -> None:
    """Rails sag under it; the lamp has to go first, and the time starts again."""
    run = short_run('kind = "warm-up"', amplifier="Brinefold PA-600")
    run.feed(SupplyChanged(0.0, Supply.SERIES_LAMP))
    run.feed(Tick(1900.0))
    assert instruction(run) == "Switch off, take the series lamp out, then switch on straight from the mains."
    run.feed(SupplyChanged(2000.0, Supply.MAINS))
    run.feed(Tick(3700.0))
    assert run.view().step == "s0"
    run.feed(Tick(3800.0))

    assert run.view().ended is not None


def test_limits_of_a_step_judge_in_place_of_the_amplifiers() -> None:
    """An offset, for instance."""
    limits = "limits = { low_millivolts = -50, high_millivolts = 50 }"
    run = short_run(f'kind = "measure"\nname = "offset"\nchannels = ["left bias"]\n{limits}')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    said = [
        event for second in range(12) for event in run.feed(ChannelReading(float(second), "left bias", -0.06))
    ]

    (verdict,) = [event for event in said if isinstance(event, Verdict)]
    assert verdict.outcome is Outcome.FAILED
    assert verdict.reason == "-60.00 mV is 10 mV below -50.00 mV to 50.00 mV"


def test_a_reading_that_never_steadies_is_taken_with_the_reason() -> None:
    """Patience ends; the value is kept and says why it is worth less."""
    run = short_run(
        'kind = "measure"\nname = "x"\nchannels = ["left bias"]\njudged = false\npatience_minutes = 1'
    )
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    for second in range(70):
        run.feed(ChannelReading(float(second), "left bias", 0.010 + second * 1e-3))

    (kept,) = run.view().recorded
    assert kept.reason == "not steady after 60 s: moving"


def test_a_reading_may_be_taken_by_hand() -> None:
    """Before it is steady, on purpose."""
    run = short_run('kind = "measure"\nname = "x"\nchannels = ["left bias"]\njudged = false')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    run.feed(ChannelReading(1.0, "left bias", 0.0135))
    answer(run, "take")

    assert [(kept.value, kept.reason) for kept in run.view().recorded] == [
        (0.0135, "taken by hand before it was known to stay")
    ]


def test_what_was_not_known_to_stay_passes_nothing() -> None:
    """Inside the window, but taken before it had settled: no verdict of passed."""
    run = short_run('kind = "measure"\nname = "x"\nchannels = ["left bias"]\nuntil = "settled"')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    run.feed(ChannelReading(1.0, "left bias", 0.0135))
    answer(run, "take")

    assert [verdict.outcome for verdict in run.view().verdicts] == [Outcome.NOT_MEASURED]


def test_what_is_outside_has_failed_settled_or_not() -> None:
    """Nobody has to wait to know that."""
    run = short_run('kind = "measure"\nname = "x"\nchannels = ["left bias"]\nuntil = "settled"')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    run.feed(ChannelReading(1.0, "left bias", 0.0165))
    answer(run, "take")

    assert [verdict.outcome for verdict in run.view().verdicts] == [Outcome.FAILED]


def test_nothing_is_measured_while_the_amplifier_is_off() -> None:
    """Zero volts are not a reading of the bias."""
    run = short_run('kind = "measure"\nname = "x"\nchannels = ["left bias"]')
    for second in range(60):
        run.feed(ChannelReading(float(second), "left bias", 0.0))

    assert run.view().recorded == ()
    assert instruction(run) == "Switch the amplifier on: this step needs power."


def test_a_trim_may_be_given_up() -> None:
    """That fails the channel, with the reason."""
    run = short_run('kind = "trim"\nchannel = "left bias"')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    run.feed(ChannelReading(1.0, "left bias", 0.02))
    answer(run, "give up", "the wiper is open")

    assert [(v.outcome, v.reason) for v in run.view().verdicts] == [
        (Outcome.FAILED, "given up: the wiper is open")
    ]


def test_a_trimmer_that_goes_no_lower_ends_turning_down() -> None:
    """A person says so."""
    run = short_run('kind = "turn-down"\nwhich = "all"\nchannels = ["left bias"]')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    run.feed(ChannelReading(1.0, "left bias", 0.02))
    answer(run, "lowest")

    assert reasons(run)["s0"] == (StepState.DONE, "turned down")


def test_turning_down_is_not_needed_where_nothing_is_far_too_high() -> None:
    """Only what is above one and a half times its target."""
    assert reasons(short_run('kind = "turn-down"'))["s0"] == (
        StepState.DONE,
        "no channel is far above its target",
    )


def test_an_older_alarm_does_not_end_a_warm_up() -> None:
    """What was answered by turning down is not answered twice."""
    run = short_run('kind = "confirm"\ntext = "Wait."', 'kind = "warm-up"')
    analysis = run._analysis
    assert isinstance(analysis, ScriptedAnalysis)
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    analysis.say_alarm(Tier.ACT, "left bias")
    run.feed(Tick(1.0))
    answer(run, "done", at_s=2.0)
    run.feed(Tick(3.0))
    assert run.view().step == "s1"
    analysis.say_alarm(Tier.ACT, "left bias")
    run.feed(Tick(4.0))

    assert reasons(run)["s1"] == (StepState.DONE, "far too high")


@pytest.mark.parametrize(
    "step",
    [
        'kind = "measure"\nname = "x"\nchannels = ["left bias"]',
        'kind = "measure"\nname = "x"\nchannels = ["left bias"]\njudged = false',
        'kind = "trim"\nchannel = "left bias"',
        'kind = "warm-up"',
    ],
)
def test_with_a_signal_the_bias_is_neither_judged_nor_trimmed(step: str) -> None:
    """The signal is asked to be taken away first."""
    run = short_run(step)
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    run.feed(DriveChanged(1.0, True))
    for second in range(30):
        run.feed(ChannelReading(2.0 + second, "left bias", 0.0135))

    assert instruction(run) == "Take the signal away: the bias is judged without one."
    assert run.view().recorded == ()
    assert run.view().key(40.0) == DriveChanged(40.0, False)


def _turn_down(levels: list[float]) -> list[str]:
    """What is said while a reading goes through these levels, one each half second."""
    run = short_run('kind = "turn-down"\nwhich = "all"\nchannels = ["left bias"]')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    said: list[str] = []
    for number, level in enumerate(levels):
        run.feed(ChannelReading(1.0 + 0.5 * number, "left bias", level))
        said.append(instruction(run).split(":")[0])
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


def test_reversed_probes_do_not_end_turning_down() -> None:
    """Far too high with the other sign is not low: nothing is said to be turned down."""
    run = short_run('kind = "turn-down"\nwhich = "all"\nchannels = ["left bias"]')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    for number in range(30):
        run.feed(ChannelReading(1.0 + 0.5 * number, "left bias", -0.08))

    assert run.view().ended is None
    assert instruction(run) == HAIR


def test_reversed_probes_hide_no_bias_that_is_far_too_high() -> None:
    """A state that is only taken down is far high by its size, as the alarms see it."""
    run = short_run(
        'kind = "measure"\nname = "x"\nchannels = ["left bias"]\njudged = false',
        'kind = "turn-down"\nchannels = ["left bias"]',
    )
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    for second in range(12):
        run.feed(ChannelReading(float(second), "left bias", -0.08))

    assert reasons(run)["s0"][1] == "far high"
    assert run.view().step == "s1"


@pytest.mark.parametrize(
    ("limits", "volts", "words"),
    [
        ("low_millivolts = 0", 0.005, "5.00 mV is inside the limit of 0.00 mV"),
        (
            "low_millivolts = 13.4, high_millivolts = 13.6",
            0.0141,
            "14.10 mV is 0.50 mV above 13.40 mV to 13.60 mV",
        ),
    ],
)
def test_limits_of_a_step_are_also_those_that_are_said(limits: str, volts: float, words: str) -> None:
    """Never the amplifier's, and never the meter, for what the step itself asks; a limit of zero is one."""
    run = short_run(f'kind = "measure"\nname = "x"\nchannels = ["left bias"]\nlimits = {{ {limits} }}')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    said = [e for second in range(12) for e in run.feed(ChannelReading(float(second), "left bias", volts))]

    assert [event.reason for event in said if isinstance(event, Verdict)] == [words]


def test_how_to_go_on_is_not_asked_before_the_target_can_count() -> None:
    """A line's longest wait may be shorter than the amplifier's own warm-up."""
    run = short_run('kind = "warm-up"\nlongest_minutes = 5')
    run.feed(SupplyChanged(0.0, Supply.MAINS))
    for second in range(0, 700, 10):
        run.feed(ChannelReading(float(second), "left bias", 0.0135))

    assert run.view().question is None


def test_a_direction_that_changes_faster_than_a_hand_is_no_direction() -> None:
    """A crackling wiper sends nobody to and fro: let go of it and look."""
    jumping = [0.03] * 20 + ([0.0315] * 12 + [0.0295] * 12) * 4
    said = _turn_down(jumping)
    assert said[-1] == "Let go of the left trimmer"
    assert said.index("Let go of the left trimmer") >= 3
