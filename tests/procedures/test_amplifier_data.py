"""An amplifier's data: every way in which a bias may be given, and what an entry must say for it."""

from __future__ import annotations

import pytest

from drivers.reading import Unit
from procedures.amplifier import Amplifier, OutputStage
from procedures.checking import FileProblems, checked
from procedures.library import shipped_procedures
from procedures.procedure import load_procedure
from procedures.ratings import PowerRating
from procedures.setup import RunSetup
from procedures.target import limits_of, spread_limits_volts, target_of, target_questions

HEAD = """
format = 1
maker = "Brinefold"
model = "Test"
output_stage = "{stage}"
pairs = {pairs}
emitter_resistor = "0R27"
{more}
[[channel]]
name = "left bias"
"""
TRIM = """
format = 1
id = "trim"
title = "Trim"
purpose = "Trim."
channels = ["left bias"]
[[step]]
id = "trim"
kind = "trim"
title = "Trim"
channel = "left bias"
[[step]]
id = "off"
kind = "power"
title = "Off"
supply = "off"
"""


def _read(channel: str, stage: str = "emitter follower", pairs: int = 1, more: str = "") -> Amplifier:
    return checked(HEAD.format(stage=stage, pairs=pairs, more=more) + channel, "test.toml", Amplifier)


def _refused(channel: str, **head: object) -> str:
    with pytest.raises(FileProblems) as refused:
        _read(channel, **head)  # type: ignore[arg-type]
    return "\n".join(str(problem) for problem in refused.value.problems)


def _millivolts(amplifier: Amplifier, degrees_c: float | None = None) -> float | None:
    target = target_of(amplifier, amplifier.channel[0], degrees_c)
    return None if target is None else round(target.volts * 1000.0, 6)


@pytest.mark.parametrize(
    ("channel", "pairs", "millivolts"),
    [
        # A: Ohm's law
        ('test_point = "one resistor"\ntarget_milliamperes = 25\ntolerance_percent = 10', 1, 6.75),
        # B: Ohm's law, 25 mA x (0.27 + 0.27) ohm
        ('test_point = "pair in series"\ntarget_milliamperes = 25\ntolerance_percent = 10', 1, 13.5),
        # C: V = (Iq / N) Re
        (
            'test_point = "one resistor of several pairs"\ntarget_total_milliamperes = 100\n'
            "tolerance_percent = 10",
            4,
            6.75,
        ),
        # D: V = 2 (Iq / N) Re
        (
            'test_point = "emitter to emitter of several pairs"\ntarget_total_milliamperes = 100\n'
            "tolerance_percent = 10",
            4,
            13.5,
        ),
        # E: the millivolts are as the manual says
        ('test_point = "test pins"\ntarget_millivolts = 9\ntolerance_millivolts = 1', 1, 9.0),
        # F: I = V / R across 1 ohm under a link, "1 V = 1 A" (reported by practitioners on a forum)
        (
            'test_point = "link in the supply rail"\nsense_resistor = "1R0"\ntarget_milliamperes = 60\n'
            "tolerance_percent = 10",
            1,
            60.0,
        ),
        # G: I = V / R across a fusible resistor
        (
            'test_point = "safety resistor"\nsense_resistor = "10"\ntarget_milliamperes = 8\n'
            "tolerance_percent = 15",
            1,
            80.0,
        ),
        # I: service manual of a PA power amplifier, machine-read (trade.md M14): 300 to 320 mV
        (
            'test_point = "base-emitter or driver resistor"\ntarget_millivolts = 310\nlow_millivolts = 300\n'
            'high_millivolts = 320\ncondition = { kind = "below a sink temperature", sink_degrees_c = 40 }',
            1,
            310.0,
        ),
    ],
)
def test_a_voltage_follows_from_every_way_to_give_it(channel: str, pairs: int, millivolts: float) -> None:
    """Test points A to G and I: millivolts, or a current and what lies between the probes."""
    amplifier = _read(channel, pairs=pairs)

    assert _millivolts(amplifier) == pytest.approx(millivolts)


def test_mains_watts_are_limits_in_watts() -> None:
    """H: at most 70 W at idle (service manual of a PA power amplifier, machine-read, trade.md M14)."""
    only_most = _read('unit = "W"\ntest_point = "mains draw"\nhigh = 70')
    by_watts = _read('unit = "W"\ntest_point = "mains draw"\ntarget_watts = 60\ntolerance_percent = 10')

    assert limits_of(only_most, only_most.channel[0]) == (None, 70.0)
    assert limits_of(by_watts, by_watts.channel[0]) == pytest.approx((54.0, 66.0))
    setup = RunSetup.build(shipped_procedures()["watch"], only_most)
    assert (setup.channels[0].unit, setup.channels[0].target_volts) == (Unit.WATT, None)
    assert setup.channels[0].high_volts == 70.0


def test_a_residual_is_a_target_in_words() -> None:
    """J: no millivolt target exists (service manual of a PA power amplifier series, trade.md M16)."""
    amplifier = _read(
        'test_point = "residual distortion"\ntarget_residual = "20 kHz, 20 dB down, 3 cm of spike"'
    )

    assert amplifier.channel[0].has_target
    assert _millivolts(amplifier) is None
    assert RunSetup.build(load_procedure(TRIM), amplifier).questions() == ()


TABLE = """test_point = "test pins"
tolerance_millivolts = 0.4
[channel.target_table]
row = [{ degrees_c = 15, millivolts = 4.0 }, { degrees_c = 25, millivolts = 4.4 },
       { degrees_c = 35, millivolts = 5.2 }]
"""


@pytest.mark.parametrize(
    ("degrees_c", "millivolts"),
    [
        (15.0, 4.0),
        (20.0, 4.2),
        (25.0, 4.4),
        (30.0, 4.8),
        (35.0, 5.2),
        (14.9, None),
        (35.1, None),
        (None, None),
    ],
)
def test_a_table_says_nothing_beyond_its_ends(degrees_c: float | None, millivolts: float | None) -> None:
    """K: a straight line between two rows (closed form); outside there is no target."""
    assert _millivolts(_read(TABLE), degrees_c) == (None if millivolts is None else pytest.approx(millivolts))


def test_a_trim_by_table_asks_for_the_temperature_first() -> None:
    """And has its target once it is known."""
    amplifier, procedure = _read(TABLE), load_procedure(TRIM)

    assert RunSetup.build(procedure, amplifier).questions() == (
        "The target of left bias follows the temperature of the room: say how warm it is, 15 to 35 °C.",
    )
    told = RunSetup.build(procedure, amplifier, degrees_c=25.0)
    assert told.questions() == ()
    assert told.channels[0].target_volts == pytest.approx(0.0044)


def test_a_spread_is_its_own_limit() -> None:
    """Set 10 +-1, all four must read 10 +-3: service manual of a PA amplifier, steps 4-7 (trade.md M5)."""
    amplifier = _read(
        'test_point = "one resistor of several pairs"\ntarget_millivolts = 10\ntolerance_millivolts = 1\n'
        "spread_millivolts = 3",
        pairs=4,
    )

    assert limits_of(amplifier, amplifier.channel[0]) == pytest.approx((0.009, 0.011))
    assert spread_limits_volts(amplifier, amplifier.channel[0]) == pytest.approx((0.007, 0.013))


def test_an_unusual_base_emitter_voltage_is_asked_about() -> None:
    """Such a point reads tenths of a volt; 30 mV is perhaps a slip of the decimal point."""
    odd = 'test_point = "base-emitter or driver resistor"\ntarget_millivolts = 31\ntolerance_millivolts = 1'

    assert "is unusual across a base-emitter junction" in target_questions(_read(odd))[0]


INTERACTING = """
preset = [
    { name = "left bias 1", channel = "left bias", interacts_with = ["left bias 2"] },
    { name = "left bias 2", channel = "left bias" },
    { name = "left offset", sets = "offset" },
]
"""
TARGET = 'test_point = "pair in series"\ntarget_milliamperes = 25\ntolerance_percent = 10'


def test_interacting_presets_are_named() -> None:
    """Two bias presets that upset each other (service manual of a PA amplifier, trade.md M5)."""
    amplifier = _read(TARGET, more=INTERACTING)

    assert [preset.name for preset in amplifier.presets_of("left bias")] == ["left bias 1", "left bias 2"]


@pytest.mark.parametrize(
    ("channel", "more", "sentence"),
    [
        (TARGET + "\ntarget_watts = 60", "", "the target is given more than once"),
        ('unit = "W"\ntarget_millivolts = 5\ntolerance_percent = 5', "", "this channel is read in W, so"),
        ('unit = "W"\nhigh_millivolts = 5', "", "write its limits as low and high"),
        ("low = 5", "", "this channel is read in volts"),
        ('target_residual = "spikes"', "", 'needs test_point = "residual distortion"'),
        ('test_point = "safety resistor"', "", "needs sense_resistor"),
        ('unit = "W"\nlow = 70\nhigh = 60', "", "low is 70 and high 60; low must be below high"),
        (TARGET, 'preset = [{ name = "a", channel = "left" }]', 'acts on "left", which is no channel here'),
        (
            TARGET,
            'preset = [{ name = "a", interacts_with = ["b"] }]',
            'interacts with "b", which is no other',
        ),
        (TARGET, 'sources = { railvolts = "sheet 3" }', 'sources names "railvolts"'),
        (TABLE.replace("degrees_c = 15", "degrees_c = 26"), "", "put them in order of rising temperature"),
        (TARGET, "ratings = { low_hz = 20000, high_hz = 20 }", "low must be below high (swapped?)"),
    ],
)
def test_what_cannot_be_meant_is_refused(channel: str, more: str, sentence: str) -> None:
    """Each with what would be right."""
    assert sentence in _refused(channel, more=more)


@pytest.mark.parametrize("stage", ["tube", "hybrid"])
def test_tubes_are_only_watched(stage: str) -> None:
    """Their anode supply is lethal: one sentence, and nothing but watching."""
    amplifier = _read("", stage=stage)

    assert RunSetup.build(shipped_procedures()["watch"], amplifier).questions() == ()
    with pytest.raises(ValueError, match=r"except to watch: its anode supply is lethal"):
        RunSetup.build(load_procedure(TRIM), amplifier)


def test_pwm_outputs_have_no_bias_job() -> None:
    """There is nothing to set."""
    with pytest.raises(ValueError, match="A PWM output stage has no bias to set"):
        RunSetup.build(load_procedure(TRIM), _read("", stage="pwm"))


def test_every_stage_that_can_be_written_is_known() -> None:
    """The words of the form and of the files are the same."""
    for stage in OutputStage:
        assert _read("", stage=stage.value).output_stage is stage


@pytest.mark.parametrize(
    ("watts", "load", "volts"), [(100.0, 8.0, 28.284), (100.0, 4.0, 20.0), (1.0, 8.0, 2.828)]
)
def test_rated_power_is_a_voltage_into_its_load(watts: float, load: float, volts: float) -> None:
    """28.2843 V into 8 ohm is 100 W, 20 V into 4 ohm is 100 W (closed form: sqrt(P R))."""
    assert PowerRating(watts=watts, load_ohm=load).volts == pytest.approx(volts, abs=5e-4)


def test_the_offset_limit_of_the_amplifier_is_that_of_its_offset_channels() -> None:
    """Published limits lie between 1 and 100 mV (service manuals, trade.md section 6): it is data."""
    amplifier = _read(TARGET, more="offset_limit_millivolts = 30")
    setup = RunSetup.build(shipped_procedures()["dc-offset"], amplifier)
    limits = {channel.channel: (channel.low_volts, channel.high_volts) for channel in setup.channels}

    assert limits["left offset"] == (-0.03, 0.03)
    bare = RunSetup.build(shipped_procedures()["dc-offset"], _read(TARGET))
    assert bare.channels[1].low_volts is None
