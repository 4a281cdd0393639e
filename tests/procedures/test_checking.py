"""Data files that people write: each mistake gets its sentence, and all of them come at once."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.amplifier import Amplifier
from procedures.checking import FileProblems, checked, sentences
from procedures.procedure import load_procedure

PROCEDURE = """
format = 1
id = "test"
title = "Test"
purpose = "To be broken."
channels = ["left bias", "right bias"]
"""
AMPLIFIER = """
format = 1
maker = "Brinefold"
model = "Test"
output_stage = "emitter follower"
emitter_resistor = "0R27"
"""
CHANNEL = """
[[channel]]
name = "left bias"
test_point = "pair in series"
"""
CONFIRM = """
[[step]]
id = "first"
kind = "confirm"
title = "First"
text = "Do it."
"""


def _of_procedure(text: str) -> list[str]:
    with pytest.raises(FileProblems) as refused:
        load_procedure(text, "test.toml")
    return [str(problem) for problem in refused.value.problems]


def _of_amplifier(text: str) -> list[str]:
    with pytest.raises(FileProblems) as refused:
        checked(text, "test.toml", Amplifier)
    return [str(problem) for problem in refused.value.problems]


@pytest.mark.parametrize(
    ("step", "sentence"),
    [
        (
            'id = "a"\ntitle = "A"',
            'step 1 "a": this step has no kind; say what is to be done, such as kind = "confirm".',
        ),
        (
            'id = "a"\ntitle = "A"\nkind = "confrim"\ntext = "Do it."',
            'step 1 "a": "confrim" is no kind of step; did you mean "confirm"?',
        ),
        ('id = "a"\ntitle = "A"\nkind = "confirm"', 'step 1 "a", text: this is missing.'),
        (
            'id = "a"\ntitle = "A"\nkind = "confirm"\ntext = ""',
            'step 1 "a", text: this is empty; it needs at least 1 character(s).',
        ),
        (
            'id = "a"\ntitle = "A"\nkind = "confirm"\ntext = 5',
            'step 1 "a", text: 5 is not text; put it in double quotes.',
        ),
        (
            'id = "a"\ntitle = "A"\nkind = "confirm"\ntxt = "x"\ntext = "x"',
            'step 1 "a", txt: this is not known here; did you mean "text"?',
        ),
        (
            'id = "A b"\ntitle = "A"\nkind = "confirm"\ntext = "x"',
            'step 1 "A b", id: "A b" cannot be used; write small letters, digits and hyphens, '
            'such as "trim-left".',
        ),
        (
            'id = "a"\ntitle = "A"\nkind = "power"\nsupply = "lamp"',
            'step 1 "a", supply: "lamp" is not known; did you mean "series lamp"?',
        ),
        (
            'id = "a"\ntitle = "A"\nkind = "lid"\nfitted = "yes"',
            'step 1 "a", fitted: "yes" is neither true nor false.',
        ),
        (
            'id = "a"\ntitle = "A"\nkind = "wait"\ntext = "x"\nminutes = 0',
            'step 1 "a", minutes: 0 is too small; it must be above 0.',
        ),
        (
            'id = "a"\ntitle = "A"\nkind = "wait"\ntext = "x"\nminutes = 9999',
            'step 1 "a", minutes: 9999 is too large; it may be at most 1440.',
        ),
        (
            'id = "a"\ntitle = "A"\nkind = "wait"\ntext = "x"\nminutes = "10"',
            'step 1 "a", minutes: "10" is not a number of the right kind; '
            "write it without quotes and without its unit.",
        ),
        (
            'id = "a"\ntitle = "A"\nkind = "wait"\ntext = "x"\nminutes = nan',
            'step 1 "a", minutes: nan is not a number that can be used; write a finite one.',
        ),
        (
            'id = "a"\ntitle = "A"\nkind = "trim"\nchannel = "lef bias"',
            'step 1 "a", channel: "lef bias" is not among the channels of this procedure; '
            'did you mean "left bias"?',
        ),
        (
            'id = "a"\ntitle = "A"\nkind = "measure"\nname = "x"\nchannels = "left bias"',
            'step 1 "a", channels: "left bias" is not a list; put it in square brackets.',
        ),
        (
            'id = "a"\ntitle = "A"\nkind = "measure"\nname = "x"\n'
            "limits = { low_millivolts = 5, high_millivolts = 4 }",
            'step 1 "a", limits: low_millivolts is 5 and high_millivolts 4; '
            "low must be below high (swapped?).",
        ),
        (
            'id = "a"\ntitle = "A"\nkind = "measure"\nname = "x"\nlimits = { hi_millivolts = 5 }',
            'step 1 "a", limits.hi_millivolts: this is not known here; did you mean "high_millivolts"?',
        ),
        (
            'id = "a"\ntitle = "A"\nkind = "repeat"\nback_to = "b"\nat_most = 2',
            'step 1 "a", back_to: no earlier step is called "b".',
        ),
        (
            'id = "a"\ntitle = "A"\nkind = "choose"\ntext = "x"\nchoices = [{ key = "y", text = "Y" }]',
            'step 1 "a", choices: at least 2 is needed here.',
        ),
        (
            'id = "a"\ntitle = "A"\nkind = "record"\ntext = "x"\nname = "x"\nunit = "V"\nleast = 2\nmost = 1',
            'step 1 "a": least is 2 and most 1; least must be below most.',
        ),
    ],
)
def test_a_broken_step_gets_its_sentence(step: str, sentence: str) -> None:
    """File, place, what is wrong, what would be right."""
    assert sentence in _of_procedure(f"{PROCEDURE}\n[[step]]\n{step}\n")


@pytest.mark.parametrize(
    ("condition", "sentence"),
    [
        ('step = "frist", ended = ["done"]', 'no earlier step is called "frist"; did you mean "first"?'),
        ('step = "first", ended = ["dine"]', '"dine" cannot come of it; did you mean "done"?'),
        ('step = "first"', 'say which words count: "done".'),
        (
            'channel = "left bias", found = ["hi"]',
            '"hi" cannot come of it; did you mean "high"?',
        ),
        ('channel = "mains", found = ["high"]', '"mains" is not among the channels; it may be "left bias"'),
        ("", "say either step with ended, or channel with found."),
        (
            'step = "first", ended = ["done"], channel = "left bias"',
            "say either step with ended, or channel with found.",
        ),
    ],
)
def test_a_broken_condition_gets_its_sentence(condition: str, sentence: str) -> None:
    """Conditions name earlier steps and words that can come of them."""
    second = CONFIRM.replace('"first"', '"second"') + f"if_all = [{{ {condition} }}]\n"

    problems = _of_procedure(PROCEDURE + CONFIRM + second)

    assert len(problems) == 1
    assert problems[0].startswith('step 2 "second", if_all 1')
    assert sentence in problems[0]


def test_two_steps_of_the_same_name_are_told_apart_or_refused() -> None:
    """Conditions could not say which is meant."""
    assert _of_procedure(PROCEDURE + CONFIRM + CONFIRM) == [
        'step 2 "first", id: another step is called "first" already; every step needs its own id.'
    ]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("format = ", "end of document: it is not valid TOML: this is no value; put text in double quotes."),
        (
            "a = [1, = ]",
            "line 1, column 9: it is not valid TOML: this is no value; put text in double quotes.",
        ),
        ('a = "', "it is not valid TOML"),
        ("x" * 200_001, "it is longer than 200000 characters; is it the right file?"),
        ("a = " + "[" * 5000, "it is"),
        ("a = " + "1" * 5000, "a number in it has more digits than can be read"),
        ("", "there is nothing in it; is it the right file?"),
        ('title = "x"', "format: this is missing."),
        ("format = 2\n", "format: 2 is not known"),
        (PROCEDURE + "step = []", "step: at least 1 is needed here."),
        (PROCEDURE + "step = 5", "step: 5 is not a list; put it in square brackets."),
        (PROCEDURE + "step = [5]", "step 1: 5 is not a table of named entries."),
        (PROCEDURE.replace('["left bias", "right bias"]', "2026-01-05"), "channels:"),
    ],
)
def test_a_file_that_is_no_procedure_gets_a_sentence(text: str, sentence: str) -> None:
    """Whatever is in it."""
    assert any(sentence in problem for problem in _of_procedure(text))


@pytest.mark.parametrize(
    ("entries", "sentence"),
    [
        (
            CHANNEL + 'test_pont = "x"',
            'channel 1 "left bias", test_pont: this is not known here; did you mean "test_point"?',
        ),
        (
            CHANNEL + "target_milliamperes = 25",
            'channel 1 "left bias": the tolerance must be given exactly once: tolerance_percent, '
            "tolerance_millivolts, or low_millivolts with high_millivolts.",
        ),
        (
            CHANNEL + "target_milliamperes = 25\ntarget_millivolts = 13.5\ntolerance_percent = 10",
            'channel 1 "left bias": the target is given more than once; keep one of target_millivolts, '
            "target_milliamperes (one output pair) and target_total_milliamperes.",
        ),
        (
            CHANNEL + "tolerance_percent = 10",
            "a tolerance without a target says nothing; give a target or leave it out.",
        ),
        (
            CHANNEL + "target_millivolts = 10\nlow_millivolts = 11\nhigh_millivolts = 9",
            "low_millivolts is 11 and high_millivolts 9; low must be below high (are the two swapped?).",
        ),
        (
            CHANNEL + "target_millivolts = 10\nlow_millivolts = 9",
            "a target needs both low_millivolts and high_millivolts.",
        ),
        (
            CHANNEL + 'emitter_resistor = "OR27"\ntarget_milliamperes = 25\ntolerance_percent = 10',
            'channel 1 "left bias", emitter_resistor: "OR27" is not a resistance: did you mean "0R27"?',
        ),
        (
            CHANNEL
            + 'target_millivolts = 15\ntolerance_percent = 5\ncondition = { kind = "at a stated time" }',
            'a target "at a stated time" needs time_minutes.',
        ),
        (
            CHANNEL
            + "target_millivolts = 15\ntolerance_percent = 5\n"
            + 'condition = { kind = "below a sink temperature" }',
            'a target "below a sink temperature" needs sink_degrees_c.',
        ),
        (CHANNEL + CHANNEL, 'two channels are called "left bias"; every channel needs its own name.'),
        ("", "channel: this is missing."),
        (
            '[[channel]]\nname = "left bias"\ntarget_milliamperes = 25\ntolerance_percent = 10',
            'channel "left bias": a target in milliamperes needs test_point.',
        ),
    ],
)
def test_a_broken_amplifier_gets_its_sentence(entries: str, sentence: str) -> None:
    """Each mistake that a person makes has a sentence."""
    assert any(problem.endswith(sentence) for problem in _of_amplifier(AMPLIFIER + entries))


def test_a_current_without_a_resistor_is_refused() -> None:
    """Without it there is no reading to be computed."""
    text = (
        AMPLIFIER.replace('emitter_resistor = "0R27"', "")
        + CHANNEL
        + "target_milliamperes = 25\ntolerance_percent = 10"
    )

    assert _of_amplifier(text) == ['channel "left bias": a target in milliamperes needs emitter_resistor.']


def test_all_that_is_wrong_comes_at_once() -> None:
    """So that a file is put right in one go, and each problem names the file."""
    text = (
        PROCEDURE.replace("title", "titel")
        + CONFIRM.replace("text", "txt")
        + CONFIRM.replace("confirm", "power")
    )

    with pytest.raises(FileProblems) as refused:
        load_procedure(text, "mine.toml")

    assert len(refused.value.problems) >= 6
    assert all(line.startswith("mine.toml: ") for line in str(refused.value).splitlines())


def test_entries_of_a_form_get_the_same_sentences() -> None:
    """Made in a window instead of a file."""
    with pytest.raises(ValueError, match="resistance") as refused:
        Amplifier.model_validate(
            {"format": 1, "maker": "B", "model": "T", "emitter_resistor": "OR1", "channel": ()}
        )

    assert '"OR1" is not a resistance: did you mean "0R1"?' in sentences(refused.value)
    assert sentences(ValueError("A sentence.")) == "A sentence."


@given(st.text(max_size=300))
def test_no_text_is_a_procedure_or_raises_anything_but_problems(text: str) -> None:
    """No traceback of a library reaches anybody."""
    with pytest.raises(FileProblems):
        load_procedure(text)


VALUES = st.recursive(
    st.one_of(
        st.sampled_from(["confirm", "first", "left bias", "done", "x"]),
        st.integers(-5, 5),
        st.booleans(),
        st.floats(allow_nan=False),
    ).map(lambda v: f'"{v}"' if isinstance(v, str) else str(v).lower()),
    lambda inner: (
        st.lists(inner, max_size=3).map(lambda v: f"[{', '.join(v)}]")
        | st.dictionaries(
            st.sampled_from(["step", "ended", "channel", "found", "key", "text", "kind"]), inner, max_size=3
        ).map(lambda v: "{" + ", ".join(f"{key} = {value}" for key, value in v.items()) + "}")
    ),
    max_leaves=5,
)
KEYS = st.sampled_from(
    ["id", "kind", "title", "text", "if_all", "if_any", "channels", "choices", "back_to", "limits"]
)


@given(st.lists(st.dictionaries(KEYS, VALUES, max_size=6), min_size=1, max_size=4))
def test_entries_of_any_shape_are_told_what_is_wrong(steps: list[dict[str, str]]) -> None:
    """Values of the wrong kind in the right places, and the other way round."""
    lines = [
        line for step in steps for line in ("[[step]]", *(f"{key} = {value}" for key, value in step.items()))
    ]
    with pytest.raises(FileProblems) as refused:
        load_procedure(PROCEDURE + "\n".join([*lines, "[[step]]", "broken = 1"]))

    assert all(problem.sentence.endswith((".", "?")) for problem in refused.value.problems)
