"""A person's typing becomes readings; wrong text becomes one sentence and changes nothing."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.clock import SteppedClock
from drivers.errors import ReplyRefused
from drivers.meter import MeterAccuracy
from drivers.reading import Gap, GapReason, Reading, ReadingFlag, Unit
from drivers.typed import TypedSource, parse_typed, shown_unit


@pytest.mark.parametrize(
    ("text", "volts", "resolution"),
    [
        ("13.4", 0.0134, 1e-4),
        ("13,4", 0.0134, 1e-4),
        (" 13.4 mV ", 0.0134, 1e-4),
        ("13.4mV", 0.0134, 1e-4),
        ("13.40 MV", 0.0134, 1e-5),
        ("0.0134 V", 0.0134, 1e-4),
        ("-0.3", -0.0003, 1e-4),
        ("\u22120,3", -0.0003, 1e-4),
        ("+13", 0.013, 1e-3),
        (".5", 0.0005, 1e-4),
        ("13.", 0.013, 1e-3),
        ("250 µV", 0.00025, 1e-6),
        ("250 uv", 0.00025, 1e-6),
        ("0", 0.0, 1e-3),
    ],
)
def test_what_a_display_shows_is_understood(text: str, volts: float, resolution: float) -> None:
    typed = parse_typed(text)

    assert (typed.value, typed.unit) == (volts, Unit.VOLT)
    assert typed.resolution == pytest.approx(resolution)


@pytest.mark.parametrize("text", ["OL", "ol", "O.L", "-OL", "0L", " over "])
def test_overload_is_not_a_number(text: str) -> None:
    assert parse_typed(text).value is None


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "nothing was typed"),
        ("1,234.5", "more than one point or comma"),
        ("1.234,5", "more than one point or comma"),
        ("13 4", "not a reading"),
        ("mV", "not a reading"),
        ("-", "not a reading"),
        ("13.4.", "more than one"),
        ("nan", "not a reading"),
        ("13.4 mX", "not a unit"),
        ("1e5", "not a reading"),
        ("13-4", "not a reading"),
        ("1234567890123", "more digits"),
    ],
)
def test_wrong_text_is_one_sentence(text: str, words: str) -> None:
    with pytest.raises(ReplyRefused) as problem:
        parse_typed(text)

    assert words in str(problem.value)
    assert "\n" not in str(problem.value)


@given(st.text(max_size=30))
def test_any_text_is_a_value_or_a_sentence(text: str) -> None:
    try:
        typed = parse_typed(text)
    except ReplyRefused:
        return
    assert typed.value is None or abs(typed.value) < 1e16


@given(st.integers(-99999, 99999), st.integers(0, 4), st.sampled_from(".,"))
def test_a_typed_number_is_exactly_its_decimal_value(counts: int, decimals: int, point: str) -> None:
    text = f"{counts / 10**decimals:.{decimals}f}".replace(".", point)

    assert parse_typed(text).value == float(f"{counts}e{-3 - decimals}")


@pytest.fixture
def clock() -> SteppedClock:
    return SteppedClock(50.0)


def test_an_entry_is_a_reading_stamped_when_it_was_entered(clock: SteppedClock) -> None:
    source = TypedSource("handheld", clock)

    assert source.typed("13.4") == Reading(
        "handheld", "1", 0.0134, Unit.VOLT, 50.0, 50.0, frozenset({ReadingFlag.TYPED})
    )


def test_unchanged_repeats_the_last_value_now(clock: SteppedClock) -> None:
    source = TypedSource("handheld", clock)
    source.typed("13.4")
    clock.advance_to(80.0)
    again = source.unchanged()

    assert (again.value, again.end_s) == (0.0134, 80.0)
    assert again.flags == {ReadingFlag.TYPED, ReadingFlag.UNCHANGED}


def test_nothing_is_unchanged_before_the_first_entry_or_after_overload(clock: SteppedClock) -> None:
    source = TypedSource("handheld", clock)
    with pytest.raises(ReplyRefused, match="nothing has been typed"):
        source.unchanged()
    source.typed("13.4")
    gap = source.typed("OL")

    assert isinstance(gap, Gap)
    assert gap.reason is GapReason.OVERLOAD
    with pytest.raises(ReplyRefused):
        source.unchanged()


def test_wrong_text_leaves_the_last_value(clock: SteppedClock) -> None:
    source = TypedSource("handheld", clock)
    source.typed("13.4")
    with pytest.raises(ReplyRefused):
        source.typed("1e")

    assert source.unchanged().value == 0.0134


def test_another_quantity_is_refused(clock: SteppedClock) -> None:
    with pytest.raises(ReplyRefused, match="check the meter's function"):
        TypedSource("handheld", clock).typed("25 mA")


def test_a_temperature_may_be_typed_too(clock: SteppedClock) -> None:
    source = TypedSource("thermometer", clock, default=shown_unit("°C"))
    reading = source.typed("41,5")

    assert isinstance(reading, Reading)
    assert (reading.value, reading.unit) == (41.5, Unit.CELSIUS)


def test_resolution_is_learned_from_the_finest_entry_unless_declared(clock: SteppedClock) -> None:
    source = TypedSource("handheld", clock)
    source.typed("13")
    source.typed("13.4")
    source.typed("14")
    assert source.accuracy.resolution == pytest.approx(1e-4)

    declared = TypedSource("handheld", clock, accuracy=MeterAccuracy(of_reading=0.005, resolution=1e-5))
    declared.typed("13.4")
    assert declared.accuracy.resolution == 1e-5
