"""The reply parser: published forms of readings in, values out; everything doubtful refused."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import ReplyRefused
from drivers.reading import Unit
from drivers.scpi.reply import Answer, NumberShape, ReplyValue, parse_reply

OVERLOAD = ReplyValue(Answer.OVERLOAD)
NO_READING = ReplyValue(Answer.NO_READING)
EXPONENT = NumberShape.EXPONENT
SIGNED = NumberShape.SIGNED_EXPONENT

# Forms taken from the published programming manuals of several makers' bench meters.
TAKEN = [
    (b"+1.23456789E-02", {}, 0.0123456789),
    (b" 1.2345E-02\r", {}, 0.012345),
    (b"+1.2345E-02VDC,+0.001SECS,+00012RDNG#", {"fields": 3}, 0.012345),
    (b"+1.23456789E-03VDC, +11.664SECS, +236RDNG, 000, 0000LIMITS", {"fields": 5}, 0.00123456789),
    (b"101.234e-3 V DC", {}, 0.101234),
    (b"-000.06580 mV,10/14/2014,-6.580474E-05", {"fields": 3, "index": 2}, -6.580474e-5),
    (b"-000.06580 mV,10/14/2014,-6.580474E-05", {"fields": 3, "index": 0}, -6.58e-5),
    (b">+1.0E-02", {}, 0.01),
    (b"\0+3.0E-2\0\r", {}, 0.03),
    (b"1.2345 \xa6\xb8", {}, 1.2345),
    (b"+1.0E-02,+5.0E+01", {"fields": 2, "index": 1}, 50.0),
    (b"1.5 kOhm", {}, 1500.0),
    (b"12.3 mV", {}, 0.0123),
    (b"005.26mV", {}, 0.00526),
    (b"\xff\xfb\x01\xff\xfb\x03+4.0E-2\r", {}, 0.04),
]
ABSENT = [
    (b"OVLOAD", OVERLOAD),
    (b"+9.90000000E+37", OVERLOAD),
    (b"-9.9E37", OVERLOAD),
    (b"+9.9E37", OVERLOAD),
    (b"9.91E37", NO_READING),
]
REFUSED = [
    (b"=>", {}),
    (b"#9000000010", {}),
    (b"READ?", {}),
    (b"", {}),
    (b"-02", {"shape": EXPONENT}),
    (b"+2.00000E", {}),
    (b"+3.0", {"shape": EXPONENT}),
    (b"1", {"shape": EXPONENT}),
    (b"+1.0E-02,+5.0E+01", {}),
    (b'-113,"Undefined header"', {}),
    (b'0,"No error"', {}),
    (b"12,34", {}),
    (b"ACME,SIM,1,1", {}),
]


def test_the_corpus_is_complete() -> None:
    assert len(TAKEN) + len(ABSENT) + len(REFUSED) == 33


@pytest.mark.parametrize(("raw", "options", "wanted"), TAKEN)
def test_a_clear_reading_is_taken(raw: bytes, options: dict[str, int], wanted: float) -> None:
    answer = parse_reply(raw, **options)  # type: ignore[arg-type]

    assert answer.answer is Answer.VALUE
    assert answer.value == pytest.approx(wanted, rel=1e-14)


@pytest.mark.parametrize(("raw", "wanted"), ABSENT)
def test_sentinels_are_flags_never_numbers(raw: bytes, wanted: ReplyValue) -> None:
    assert parse_reply(raw) == wanted


@pytest.mark.parametrize(("raw", "options"), REFUSED)
def test_everything_else_is_refused(raw: bytes, options: dict[str, NumberShape]) -> None:
    with pytest.raises(ReplyRefused) as refusal:
        parse_reply(raw, **options)  # type: ignore[arg-type]

    assert refusal.value.received == raw


@pytest.mark.parametrize("word", [b"OL", b"-OL", b"O.L", b"+OVFLOW", b"OVLD", b"OVERLOAD", b"0L"])
def test_every_word_for_overload_is_overload(word: bytes) -> None:
    assert parse_reply(word) == OVERLOAD


def test_a_cheap_meters_overload_number_is_declared() -> None:
    assert parse_reply(b"1.0E+9", overload_at=1e9) == OVERLOAD
    assert parse_reply(b"1.0E+9").value == 1e9


def test_an_error_entry_is_refused_even_where_two_fields_are_expected() -> None:
    with pytest.raises(ReplyRefused):
        parse_reply(b'-113,"Undefined header"', fields=2)


def test_a_failure_prompt_is_refused() -> None:
    with pytest.raises(ReplyRefused):
        parse_reply(b"?>+1.0E-02")


def test_milli_and_mega_are_told_apart_or_refused() -> None:
    assert parse_reply(b"1.0 mOhm").value == 0.001
    assert parse_reply(b"1.0 MOhm").value == 1e6
    with pytest.raises(ReplyRefused):
        parse_reply(b"1.0 MV")


def test_the_unit_that_was_sent_is_reported() -> None:
    assert parse_reply(b"12.3 mV").unit is Unit.VOLT
    assert parse_reply(b"21.5 degC").unit is Unit.CELSIUS
    assert parse_reply(b"12.3").unit is None


@given(st.binary(max_size=80), st.integers(1, 3), st.sampled_from(NumberShape))
def test_any_bytes_give_an_answer_or_a_refusal(raw: bytes, fields: int, shape: NumberShape) -> None:
    """Nothing but ReplyRefused ever leaves the parser, and a value is always a finite number."""
    try:
        answer = parse_reply(raw, fields=fields, shape=shape)
    except ReplyRefused:
        return

    assert (answer.value is not None) == (answer.answer is Answer.VALUE)
    assert answer.value is None or abs(answer.value) < 9.9e37 * 1e6


numbers = st.one_of(st.floats(1e-30, 1e30), st.floats(-1e30, -1e-30), st.just(0.0))


@given(numbers, st.integers(1, 9))
def test_a_whole_reading_is_read_back(value: float, digits: int) -> None:
    shown = f"{value:+.{digits}E}"

    assert parse_reply(shown.encode(), shape=SIGNED).value == float(shown)


@given(numbers, st.integers(1, 9), st.data())
def test_no_part_of_a_signed_reading_is_a_reading(value: float, digits: int, data: st.DataObject) -> None:
    """Whatever a broken line leaves of `+1.2345E-02`, it is refused where that shape is declared."""
    shown = f"{value:+.{digits}E}"
    start = data.draw(st.integers(0, len(shown) - 1))
    end = data.draw(st.integers(start, len(shown)))
    fragment = shown[start:end]
    if fragment == shown:
        return

    with pytest.raises(ReplyRefused):
        parse_reply(fragment.encode(), shape=SIGNED)


@given(numbers, st.integers(1, 9), st.data())
def test_no_head_of_a_reading_with_exponent_is_a_reading(
    value: float, digits: int, data: st.DataObject
) -> None:
    """Without a sign to rely on, a line that lost its tail is still refused."""
    shown = re.sub(r"^\+", "", f"{value:.{digits}E}")
    end = data.draw(st.integers(0, len(shown) - 1))

    with pytest.raises(ReplyRefused):
        parse_reply(shown[:end].encode(), shape=EXPONENT)
