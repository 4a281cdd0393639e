"""Target arithmetic against published and calculated figures; source marks as in the trade's own tables."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.amplifier import EMITTER_POINTS, Amplifier, AmplifierChannel, OutputStage, TestPoint
from procedures.target import (
    amperes_for,
    span_question,
    spanned_ohm,
    target_of,
    target_questions,
    volts_at,
)

ONE, SERIES = TestPoint.ONE_RESISTOR, TestPoint.PAIR_IN_SERIES
ONE_OF, PAIR_OF = TestPoint.ONE_OF_SEVERAL, TestPoint.PAIR_OF_SEVERAL


def _amplifier(
    stage: OutputStage = OutputStage.EMITTER_FOLLOWER, pairs: int = 1, **channel: object
) -> Amplifier:
    fields: dict[str, object] = {"name": "left bias", "test_point": SERIES, "emitter_resistor": "0R27"}
    return Amplifier(
        format=1,
        maker="Brinefold",
        model="Test",
        output_stage=stage,
        pairs=pairs,
        channel=(AmplifierChannel.model_validate(fields | channel),),
    )


def _window(**channel: object) -> tuple[float, float, float]:
    amplifier = _amplifier(**channel)  # type: ignore[arg-type]
    target = target_of(amplifier, amplifier.channel[0])
    assert target is not None
    return tuple(round(v * 1000.0, 6) for v in (target.volts, target.low_volts, target.high_volts))  # type: ignore[return-value]


@pytest.mark.parametrize(
    ("point", "milliamperes", "resistor", "millivolts"),
    [
        (SERIES, 25.0, 0.27, 13.5),  # Ohm's law
        (ONE, 25.0, 0.27, 6.75),  # Ohm's law
        (SERIES, 45.0, 0.1, 9.0),  # service manual of an integrated amplifier, p. 10 § 8: 9 mV is 45 mA
        (ONE, 40.0, 0.22, 8.8),  # reported by practitioners on a forum
        (SERIES, 40.0, 0.22, 17.6),  # reported by practitioners on a forum
        (ONE, 40.0, 0.1, 4.0),  # calculated
        (SERIES, 40.0, 0.1, 8.0),  # calculated
        (ONE, 68.0, 0.16, 10.88),  # integrated amplifier, figure reported on a forum
        (ONE_OF, 25.0, 0.27, 6.75),  # one of several pairs: the current of that pair alone
        (PAIR_OF, 25.0, 0.27, 13.5),
    ],
)
def test_current_and_resistor_give_the_reading(
    point: TestPoint, milliamperes: float, resistor: float, millivolts: float
) -> None:
    """V = Iq R, with R as it lies between the probes."""
    assert volts_at(point, milliamperes / 1000.0, resistor) * 1000.0 == pytest.approx(millivolts, rel=1e-12)


@pytest.mark.parametrize(
    ("millivolts", "resistor", "milliamperes"),
    [
        (4.0, 0.27, 14.81),  # reported by practitioners on a forum
        (6.0, 0.27, 22.22),  # the same
        (8.0, 0.22, 36.4),  # the same, an amplifier measured at four settings
        (14.0, 0.22, 63.6),
        (21.0, 0.22, 95.5),
        (50.0, 0.22, 227.3),
        # "26 mV across each resistor": Oliver's optimum with internal resistance ignored; HP Journal,
        # Feb 1971, read on a page that cites it
        (26.0, 0.22, 118.2),
        (26.0, 0.27, 96.3),
        (26.0, 0.33, 78.8),
        (26.0, 0.47, 55.3),
        (26.0, 0.1, 260.0),
        (23.1, 0.22, 105.0),  # Self, emitter follower optimum, quoted on a forum; book not opened
    ],
)
def test_reading_and_resistor_give_the_current(
    millivolts: float, resistor: float, milliamperes: float
) -> None:
    """The current behind a reading across one resistor, to the digits that were published."""
    assert amperes_for(ONE, millivolts / 1000.0, resistor) * 1000.0 == pytest.approx(milliamperes, abs=0.06)


@pytest.mark.parametrize(
    ("channel", "window"),
    [
        ({"target_milliamperes": 25.0, "tolerance_percent": 10.0}, (13.5, 12.15, 14.85)),
        # service manual of an integrated amplifier, § 4.2.35: 22 +-0.5 mV, which is +-2.27 %
        ({"test_point": ONE, "target_millivolts": 22.0, "tolerance_millivolts": 0.5}, (22.0, 21.5, 22.5)),
        # service manual of an integrated amplifier, § 8: 9 +-1 mV
        ({"target_millivolts": 9.0, "tolerance_millivolts": 1.0}, (9.0, 8.0, 10.0)),
        # service manual of a PA amplifier, steps 4-7: set 10 +-1, the others may read 7 to 13
        ({"target_millivolts": 10.0, "low_millivolts": 7.0, "high_millivolts": 13.0}, (10.0, 7.0, 13.0)),
        # service manual of a PA power amplifier, § 3.2: 4.5 +-0.5 mV
        ({"target_millivolts": 4.5, "tolerance_millivolts": 0.5}, (4.5, 4.0, 5.0)),
        # service manual of an integrated amplifier, § 2 (machine-read): 15 +-5 mV
        ({"target_millivolts": 15.0, "tolerance_millivolts": 5.0}, (15.0, 10.0, 20.0)),
    ],
)
def test_tolerances_give_the_window(channel: dict[str, object], window: tuple[float, float, float]) -> None:
    """Absolute, in percent, or unequal: the limits in millivolts."""
    assert _window(**channel) == pytest.approx(window)


def test_a_printed_tolerance_in_millivolts_is_so_many_percent() -> None:
    """22 +-0.5 mV is +-2.27 % (service manual of an integrated amplifier, § 4.2.35)."""
    target, low, _ = _window(test_point=ONE, target_millivolts=22.0, tolerance_millivolts=0.5)

    assert (target - low) / target * 100.0 == pytest.approx(2.27, abs=0.005)


@pytest.mark.parametrize(("pairs", "point", "millivolts"), [(4, ONE_OF, 9.9), (4, PAIR_OF, 19.8)])
def test_a_total_current_is_shared_by_the_pairs(pairs: int, point: TestPoint, millivolts: float) -> None:
    """V = (Iq / N) Re, or twice that from emitter to emitter (variants C and D)."""
    amplifier = _amplifier(
        pairs=pairs,
        test_point=point,
        emitter_resistor="0R33",
        target_total_milliamperes=120.0,
        tolerance_percent=5.0,
    )

    target = target_of(amplifier, amplifier.channel[0])

    assert target is not None
    assert target.volts * 1000.0 == pytest.approx(millivolts)


def test_a_total_current_flows_whole_through_a_link_in_the_supply_rail() -> None:
    """All pairs draw it there: 120 mA across 1 ohm are 120 mV, however many pairs share it (Ohm's law)."""
    amplifier = _amplifier(
        pairs=4,
        test_point=TestPoint.SUPPLY_RAIL,
        sense_resistor="1R0",
        target_total_milliamperes=120.0,
        tolerance_percent=5.0,
    )

    target = target_of(amplifier, amplifier.channel[0])

    assert target is not None
    assert target.volts * 1000.0 == pytest.approx(120.0)


@given(
    st.sampled_from(sorted(EMITTER_POINTS)),
    st.floats(min_value=1e-4, max_value=1.0),
    st.floats(min_value=0.05, max_value=2.2),
)
def test_current_and_reading_undo_each_other(point: TestPoint, amperes: float, resistor: float) -> None:
    """From current to reading and back, whatever the test point."""
    assert amperes_for(point, volts_at(point, amperes, resistor), resistor) == pytest.approx(amperes)


def test_a_channel_without_a_target_has_no_window() -> None:
    """Missing is not zero."""
    amplifier = _amplifier()

    assert target_of(amplifier, amplifier.channel[0]) is None


@pytest.mark.parametrize(
    ("milliamperes", "asked"),
    [(1.0, "very little"), (2.0, ""), (25.0, ""), (300.0, ""), (310.0, "very much")],
)
def test_an_implausible_current_is_asked_about(milliamperes: float, asked: str) -> None:
    """Below 2 mA or above 300 mA in one device of a follower. Common practice, no source."""
    questions = target_questions(_amplifier(target_milliamperes=milliamperes, tolerance_percent=10.0))

    assert [asked in question for question in questions] == ([True] if asked else [])


@pytest.mark.parametrize(
    ("stage", "milliamperes", "asked"),
    [
        (OutputStage.LATERAL_MOSFET, 100.0, ""),  # common practice, no source: about 100 mA a device
        (OutputStage.LATERAL_MOSFET, 5.0, "very little for a lateral MOSFET"),
        (OutputStage.VERTICAL_MOSFET, 200.0, ""),
        (OutputStage.CLASS_AB_B, 0.01, ""),  # its outputs idle at 0 mA
        (OutputStage.CLASS_AB_B, 80.0, "very much for an AB+B output"),
        (OutputStage.CFP, 20.0, ""),  # Self, CFP at 0.22 ohm: recalled - check before quoting
        (OutputStage.CFP, 200.0, "very much for a complementary feedback pair"),
        (OutputStage.UNKNOWN, 900.0, ""),
    ],
)
def test_what_is_plausible_follows_the_stage(stage: OutputStage, milliamperes: float, asked: str) -> None:
    """0 mA in the outputs of an AB+B stage is normal, and MOSFETs take more. Common practice, no source."""
    questions = target_questions(_amplifier(stage, target_milliamperes=milliamperes, tolerance_percent=10.0))

    assert [asked in question for question in questions] == ([True] if asked else [])


def test_a_target_outside_its_own_limits_is_asked_about() -> None:
    """A kit manual misprints 19 and 11 mV as the limits of 10 mV; that must be noticed."""
    amplifier = _amplifier(test_point=ONE, target_millivolts=10.0, low_millivolts=11.0, high_millivolts=19.0)

    assert target_questions(amplifier) == (
        "The target of left bias, 10.0 mV, is outside its own limits, 11.0 mV to 19.0 mV: "
        "is a figure misprinted?",
    )


@pytest.mark.parametrize(
    ("millivolts", "point", "asked"),
    [
        (6.8, SERIES, "do the probes span one resistor instead of two?"),
        (27.1, SERIES, ""),  # too high, but not by the probes: two are spanned already
        (27.1, ONE, "do the probes span two resistors instead of one?"),
        (-27.1, ONE, "do the probes span two resistors instead of one?"),
        (6.8, ONE, ""),
        (13.0, SERIES, ""),
        (0.0, SERIES, ""),
    ],
)
def test_half_or_twice_the_expected_asks_about_the_probes(
    millivolts: float, point: TestPoint, asked: str
) -> None:
    """Only the mistake that the test point allows is asked about."""
    assert span_question(millivolts / 1000.0, 13.5e-3, point).endswith(asked)
    assert bool(span_question(millivolts / 1000.0, 13.5e-3, point)) == bool(asked)


def test_what_lies_between_the_probes() -> None:
    """One resistor, or two in series."""
    assert [spanned_ohm(point, 0.22) for point in (ONE, SERIES, ONE_OF, PAIR_OF)] == [0.22, 0.44, 0.22, 0.44]
