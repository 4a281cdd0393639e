"""Printed resistor values and what is asked about odd ones."""

from __future__ import annotations

import pytest

from procedures.resistance import E24, nearest_preferred, ohms, question


@pytest.mark.parametrize(
    ("printed", "expected"),
    [  # letter code of IEC 60062 (recalled - check before quoting)
        ("0R22", 0.22),
        ("R22", 0.22),
        ("R47", 0.47),
        ("1R0", 1.0),
        ("4k7", 4700.0),
        ("0.27", 0.27),
        ("0,27", 0.27),
        (".33", 0.33),
        ("0.22 ohm", 0.22),
        ("0.22Ω", 0.22),
        ("0.22 \u2126", 0.22),
        ("220 mΩ", 0.22),
        ("220m", 0.22),
        ("10R", 10.0),
        ("100", 100.0),
    ],
)
def test_prints_are_understood(printed: str, expected: float) -> None:
    """Each print means one value."""
    assert ohms(printed) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("entry", "sentence"),
    [
        ("OR22", '"OR22" is not a resistance: did you mean "0R22"?'),
        ("0.2.2", '"0.2.2" is not a resistance: did you mean "0R2"?'),
        ("about", '"about" is not a resistance: write it as printed, such as "0R22", "R22" or "0.22"'),
        ("", '"" is not a resistance: write it as printed, such as "0R22", "R22" or "0.22"'),
        ("0", '"0" is no resistance at all: write what lies between the test points, such as "0R22"'),
    ],
)
def test_what_is_no_print_gets_a_sentence(entry: str, sentence: str) -> None:
    """The sentence says what would be right."""
    with pytest.raises(ValueError, match="resistance") as refused:
        ohms(entry)

    assert str(refused.value) == sentence


def test_preferred_values_are_nearest_to_themselves() -> None:
    """Every value of IEC 60063's E24 series (recalled) is its own nearest."""
    for value in E24:
        assert nearest_preferred(value / 100.0) == pytest.approx(value / 100.0)


@pytest.mark.parametrize(
    ("resistance", "asked"),
    [
        (0.22, ""),
        (0.27, ""),
        (0.5, ""),  # wirewound resistors are sold in 0.25 and 0.5 as well. common practice, no source
        (0.26, "0.26 ohm is not a value that is sold: did you mean 0.27 ohm?"),
        (22.0, "An emitter resistor of 22 ohm is unusual: did you mean 0.22 ohm?"),
        (220.0, "An emitter resistor of 220 ohm is unusual: did you mean 0.22 ohm?"),
        (1e6, "An emitter resistor of 1e+06 ohm is unusual: is the entry right?"),
    ],
)
def test_odd_emitter_resistors_are_asked_about(resistance: float, asked: str) -> None:
    """An entry that is possible but unlikely is questioned, not refused."""
    assert question(resistance) == asked
