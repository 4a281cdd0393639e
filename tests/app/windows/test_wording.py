from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import pytest
from fake_bench import LEFT, setup, state, warm_up
from hypothesis import given
from hypothesis import strategies as st

from app.windows.figures import uninformative_from
from app.windows.wording import (
    clock,
    deviation,
    digits,
    forecast_words,
    milliamperes,
    number_from,
    supply_words,
    volts_from,
)
from procedures.analysis.channel import NOT_READ, Position
from procedures.events import Supply

TRACE = warm_up(LEFT, 0.008, 0.0135, 600.0)


@given(st.floats(-90.0, 90.0))
def test_digits_never_change_their_number(volts: float) -> None:
    """The layout must not move while a reading changes."""
    assert len(digits(volts)) == 6
    assert digits(volts)[0] in " -"


@pytest.mark.parametrize(
    ("volts", "text"),
    [
        (0.01294, " 12.94"),
        (-0.01294, "-12.94"),
        (0.00091, "  0.91"),
        (0.0, "  0.00"),
        (-0.0000012, "  0.00"),
        (0.1042, " 104.2"),
        (0.099996, " 100.0"),
        (1.0424, "  1042"),
        (230.4, " 230400"),
        (-163.0, "-163000"),
        (None, " ––.––"),
        (math.nan, " ––.––"),
    ],
)
def test_a_reading_in_digits(volts: float | None, text: str) -> None:
    """Millivolts with two decimals below a hundred; no value is dashes, never zero."""
    assert digits(volts) == text


def test_digits_below_the_noise_carry_nothing() -> None:
    """A digit whose step is smaller than the scatter is drawn faint."""
    assert uninformative_from(" 12.94", 0.005) == 6
    assert uninformative_from(" 12.94", 0.02) == 5
    assert uninformative_from(" 12.94", 0.5) == 4
    assert uninformative_from(" 12.94", None) == 6


@pytest.mark.parametrize(
    ("text", "volts"),
    [
        ("13.2", 0.0132),
        ("13,2", 0.0132),
        (" 13.2 mV ", 0.0132),
        ("0.0132V", 0.0132),
        ("-4", -0.004),
        (".5", 0.0005),
    ],
)
def test_what_a_person_types(text: str, volts: float) -> None:
    """Millivolts unless a unit is given; comma or point."""
    assert volts_from(text) == pytest.approx(volts)


@pytest.mark.parametrize("text", ["", "abc", "1e3", "nan"])
def test_what_is_no_reading_is_refused_in_a_sentence(text: str) -> None:
    """The sentence says what was typed and what would be right."""
    with pytest.raises(ValueError, match=r"13\.2"):
        volts_from(text)


@pytest.mark.parametrize(
    "text", ["1,234.5", "1.234,5", "1 234", "1\u00a0234,5", "1'234", "13.2.1", "13 2", "1,234.5 mV"]
)
def test_separators_of_thousands_are_refused_with_the_reason(text: str) -> None:
    """A guess could be wrong by a factor of a thousand, so the sentence says why and what to type."""
    for reads in (volts_from, number_from):
        with pytest.raises(ValueError, match="two ways: type the digits without a separator of thousands"):
            reads(text)


def test_one_comma_alone_is_the_decimal_sign() -> None:
    """Whatever the number of digits behind it; the reading shows it back."""
    assert number_from("1,234") == 1.234
    assert digits(volts_from("1,234")) == "  1.23"


@given(st.decimals(-9999, 9999, places=3))
def test_point_and_comma_read_the_same(value: Decimal) -> None:
    """Either decimal sign, on every keyboard."""
    assert number_from(str(value)) == number_from(str(value).replace(".", ",")) == float(value)


def test_an_absurd_value_is_questioned() -> None:
    """Volts typed as millivolts are far outside."""
    with pytest.raises(ValueError, match="more than an output stage"):
        volts_from("400 V")


def test_deviation_names_no_direction_of_turning() -> None:
    """Low or high is about the reading; which way to turn is the advice's business."""
    now = state(TRACE, 0.0135)
    low = deviation(replace(now, level=0.0131, position=Position.BELOW), setup(LEFT))
    high = deviation(replace(now, level=0.0153, position=Position.ABOVE), setup(LEFT))

    assert low == "0.40 mV low"
    assert high == "1.8 mV high"
    assert deviation(replace(now, position=Position.INSIDE), setup(LEFT)) == "inside the window"


def test_a_forecast_is_told_only_when_it_may_be() -> None:
    """An interval that is too wide is not told to anybody; then the reason stands there."""
    now = state(TRACE, 0.0128)
    assert now.forecast is not None
    silent = replace(now, forecast=replace(now.forecast, spoken=False), reason="too early to say")

    assert forecast_words(now, setup(LEFT)) == "heading for 12.8 ± 0.2 mV, settled in about 4–7 min"
    assert forecast_words(silent, setup(LEFT)) == "too early to say"


@pytest.mark.parametrize(
    ("seconds", "text"), [(0, "0:00"), (59.9, "0:59"), (754, "12:34"), (3725, "1:02:05")]
)
def test_clock(seconds: float, text: str) -> None:
    """m:ss, and hours when there are any."""
    assert clock(seconds) == text


def test_the_mains_is_what_a_person_said() -> None:
    """The program cannot see the switch."""
    assert supply_words(Supply.OFF, None, 50.0) == "mains off, as you said"
    assert supply_words(Supply.OFF, None, 50.0, told=False) == "mains not told"
    assert supply_words(Supply.MAINS, 20.0, 80.0) == "on the mains for 1:00"


def test_no_current_has_no_sign() -> None:
    """A minus before nothing but zeros says nothing."""
    assert milliamperes(-0.00001) == "0.0 mA"
    assert milliamperes(None) == ""


def test_a_reading_that_stands_there_is_not_called_missing() -> None:
    """Digits are shown, what they amount to is not known: never “no reading yet” beside them."""
    read = replace(state(warm_up(LEFT, 0.01, 0.01, 2.0), 0.01), level=None, forecast=None, reason=NOT_READ)
    assert forecast_words(read, setup(LEFT)) == "judged after a few readings"
    assert forecast_words(replace(read, value=None), setup(LEFT)) == NOT_READ


def test_where_nothing_is_read_nothing_is_said_of_the_last_level() -> None:
    """A gap with a short reason has it as its heading; a long one is the meters' line's."""
    last = replace(state(warm_up(LEFT, 0.01, 0.01, 2.0), 0.01), value=None, level=None, reason="still rising")
    short = replace(last, gap="the display shows overload")
    assert (deviation(short, setup(LEFT)), forecast_words(short, setup(LEFT))) == (short.gap, "")
    long = replace(last, gap="left meter: nothing answers; check that the meter is on and its cable in")
    assert (deviation(long, setup(LEFT)), forecast_words(long, setup(LEFT))) == ("no reading", "")
    told = replace(last, gap="", reason=long.gap)
    assert (deviation(told, setup(LEFT)), forecast_words(told, setup(LEFT))) == ("no reading", "")
