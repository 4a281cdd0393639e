"""Every fact as a line, and back exactly."""

from __future__ import annotations

import contextlib
import dataclasses
import json
import typing

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.reading import ReadingFlag, Unit
from procedures import events
from procedures.events import Alarm, ChannelReading, Disturbance, Note, Request, Tick, Tier
from procedures.records.codec import (
    EVENT_KINDS,
    INPUT_KINDS,
    LONGEST_S,
    Fact,
    LineRefused,
    decode,
    encode,
    is_input,
)

FLOATS = st.floats(allow_nan=False, allow_infinity=False)
TIMES = {name: st.floats(-LONGEST_S, LONGEST_S) for name in ("at_s", "until_s")}
TEXTS = st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=20)
FACT_TYPES = (*typing.get_args(events.Input), *typing.get_args(events.Event))


def _strategy(of: typing.Any) -> st.SearchStrategy[typing.Any]:
    """Values of a field's type; floats that a journal may hold."""
    origin, inner = typing.get_origin(of), typing.get_args(of)
    if dataclasses.is_dataclass(of):
        hints = typing.get_type_hints(of)
        names = [f.name for f in dataclasses.fields(of)]
        return st.builds(of, **{n: TIMES[n] if n in TIMES else _strategy(hints[n]) for n in names})
    if origin in (tuple, frozenset):
        return st.lists(_strategy(inner[0]), max_size=3).map(origin)
    if origin is dict:
        return st.dictionaries(_strategy(inner[0]), _strategy(inner[1]), max_size=3)
    if inner:
        return st.one_of([_strategy(option) for option in inner])
    return {float: FLOATS, str: TEXTS}.get(of, st.from_type(of))


FACTS = st.one_of([_strategy(fact) for fact in FACT_TYPES])


def _decoded(lines: list[str]) -> list[Fact]:
    return [fact for line in lines for fact in decode(line)]


@given(st.lists(FACTS, max_size=8))
def test_facts_come_back_as_they_were_and_in_their_order(facts: list[Fact]) -> None:
    """Decoding undoes encoding, whatever the facts."""
    assert _decoded(encode(facts)) == facts


@given(st.lists(FACTS, max_size=8))
def test_each_line_is_one_object_with_a_kind(facts: list[Fact]) -> None:
    """One JSON object a line, without a line end inside."""
    for line in encode(facts):
        assert "\n" not in line
        assert isinstance(json.loads(line)["kind"], str)


def test_every_fact_has_a_kind() -> None:
    """A new input or event needs a line in the table."""
    known = {*INPUT_KINDS.values(), *EVENT_KINDS.values(), ChannelReading, Tick}

    assert set(FACT_TYPES) == known


@given(FACTS)
def test_inputs_and_events_are_told_apart(fact: Fact) -> None:
    """A replay feeds the inputs and compares the events."""
    assert is_input(fact) == isinstance(fact, events.Input)


def test_consecutive_readings_share_a_line_in_inbox_order() -> None:
    """Two meters take turns, a reading comes late: the order of arrival stays."""
    readings: list[Fact] = [
        ChannelReading(1.0, "left bias", 0.0135, half_s=0.1),
        ChannelReading(0.9, "right bias", 0.0134, half_s=0.1),
        Tick(1.2),
        ChannelReading(2.0, "left bias", 0.0136, flags=frozenset({ReadingFlag.TYPED, ReadingFlag.SLOW})),
        ChannelReading(2.1, "heatsink", 41.5, Unit.CELSIUS),
    ]

    (line,) = encode(readings)

    assert json.loads(line) == {
        "kind": "rows",
        "channels": [["left bias", "V"], ["right bias", "V"], ["heatsink", "degC"]],
        "rows": [
            [0, 1.0, 0.0135, 0.1],
            [1, 0.9, 0.0134, 0.1],
            [1.2],
            [0, 2.0, 0.0136, 0.0, ["slow", "typed"]],
            [2, 2.1, 41.5],
        ],
    }
    assert _decoded([line]) == readings


def test_another_fact_ends_a_line_of_readings() -> None:
    """Nothing moves past anything else."""
    facts: list[Fact] = [Tick(1.0), Note(1.5, "smoke"), Tick(2.0)]

    assert [json.loads(line)["kind"] for line in encode(facts)] == ["rows", "note", "rows"]


def test_a_fact_with_a_kind_of_its_own_keeps_it() -> None:
    """The line's kind and the fact's do not get mixed up."""
    fact = Disturbance(1.0, "left bias", "scratchy wiper", "The wiper crackles.")

    assert _decoded(encode([fact])) == [fact]


def test_a_number_that_is_none_does_not_stop_the_record() -> None:
    """JSON has no infinity; the line is written all the same, and the value comes back."""
    fact = Request(1.0, "r", events.Action.RANGE, "left bias", {"range_volts": float("inf")})

    (line,) = encode([fact])

    assert '"inf"' in line


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("", "the line is not complete JSON"),
        ('{"kind":"no', "the line is not complete JSON"),
        ("[1]", "the line has no kind"),
        ('{"at_s":1}', "the line has no kind"),
        ('{"kind":"poem","at_s":1}', '"poem" is no kind of fact that this version knows'),
        ('{"kind":"alarm","at_s":"soon"}', 'the fact of kind "alarm" is damaged at at_s'),
        ('{"kind":"rows","rows":[[3,1.0,2.0]]}', "a row of readings is damaged"),
        ('{"kind":"rows","rows":[["nan"]]}', "a row of readings is damaged"),
        ('{"kind":"rows","channels":[["a","V"]],"rows":[[0,NaN,2.0]]}', "a row of readings is damaged"),
        ('{"kind":"lid","at_s":"inf","fitted":true}', 'the fact of kind "lid" is damaged at at_s'),
        ('{"kind":"rows","channels":[["left","V"]],"rows":[[0,"x",2.0]]}', "a row of readings is damaged"),
    ],
)
def test_a_damaged_line_says_what_is_wrong(line: str, sentence: str) -> None:
    """One sentence, no traceback of a library."""
    with pytest.raises(LineRefused) as refused:
        decode(line)

    assert str(refused.value) == sentence


@given(st.text(max_size=200))
def test_no_text_raises_anything_else(line: str) -> None:
    """Whatever stands in a file, it is facts or it is refused."""
    with contextlib.suppress(LineRefused):
        decode(line)


def test_words_stay_words() -> None:
    """Enumerations are written as people read them."""
    (line,) = encode([Alarm(1.0, "a", Tier.OFF, None, "Switch the mains off now")])

    assert json.loads(line) == {
        "kind": "alarm",
        "at_s": 1.0,
        "id": "a",
        "tier": "off",
        "channel": None,
        "text": "Switch the mains off now",
    }


def test_half_a_letter_can_be_written_and_read() -> None:
    """A broken input hands over half letters; a record that refused them would stop the guidance."""
    (line,) = encode([Note(1.0, "a\ud800b")])

    assert line.encode("utf-8")
    assert decode(line) == (Note(1.0, "a\ufffdb"),)
    (foreign,) = decode('{"kind":"note","at_s":1,"text":"\\ud800, \\u00e4"}')
    assert foreign == Note(1.0, "\ufffd, ä")


@pytest.mark.parametrize(
    "line",
    [
        '{"kind":"rows","channels":[["left bias","V"]],"rows":[[0,1e300,0.01]]}',
        '{"kind":"rows","channels":[["left bias","V"]],"rows":[[0,"nan",0.01]]}',
        '{"kind":"rows","rows":[["-inf"]]}',
        '{"kind":"note","at_s":1e12,"text":""}',
        '{"kind":"gap","at_s":1,"until_s":"inf","channel":"left bias","reason":"timed out"}',
    ],
)
def test_a_time_that_no_session_can_have_is_damage(line: str) -> None:
    """It would overflow every calendar and picture behind it."""
    with pytest.raises(LineRefused):
        decode(line)
