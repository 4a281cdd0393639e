from __future__ import annotations

import pytest

from drivers.reading import Unit
from procedures.analysis import figures


@pytest.mark.parametrize(
    ("value", "unit", "resolution", "text"),
    [
        (0.01346, Unit.VOLT, 1e-5, "13.46 mV"),
        (0.01346, Unit.VOLT, 1e-4, "13.5 mV"),
        (0.01346, Unit.VOLT, None, "13.5 mV"),
        (0.0, Unit.VOLT, 1e-5, "0.00 mV"),
        (-0.000001, Unit.VOLT, 1e-5, "0.00 mV"),
        (1.2, Unit.VOLT, None, "1.20 V"),
        (0.205, Unit.VOLT, 1e-6, "205.0 mV"),
        (0.025, Unit.AMPERE, None, "25.0 mA"),
        (38.4, Unit.CELSIUS, 0.1, "38.4 °C"),
        (3.75, Unit.WATT, None, "3.75 W"),
    ],
)
def test_a_value_is_said_with_the_digits_the_meter_has(
    value: float, unit: Unit, resolution: float | None, text: str
) -> None:
    assert figures.figure(value, unit, resolution) == text


def test_rates_percentages_times_and_sides() -> None:
    assert figures.rate(0.12e-3 / 60.0) == "0.12 mV/min"
    assert figures.rate(-2.0e-3 / 60.0) == "2.0 mV/min"
    assert figures.percent(0.0025) == "0.25 %"
    assert figures.percent(0.12) == "12 %"
    assert figures.duration(40.0) == "40 s"
    assert figures.duration(200.0) == "3 min"
    assert figures.duration(80 * 60.0) == "80 min"
    assert figures.duration(100 * 60.0) == "1 h 40 min"
    assert figures.side("left bias") == "left"
    assert figures.side("bias 3") == "bias 3"


@pytest.mark.parametrize(
    ("value", "resolution", "text"),
    [
        (0.002359, 1e-7, "2.4 mV"),
        (-0.000312, 1e-5, "0.31 mV"),
        (0.000312, 1e-4, "0.3 mV"),
        (0.0127, None, "13 mV"),
        (0.0099999, 1e-5, "10 mV"),
        (0.000004, 1e-5, ""),
    ],
)
def test_a_difference_is_said_with_two_figures_and_never_more_than_the_meter_has(
    value: float, resolution: float | None, text: str
) -> None:
    assert figures.amount(value, Unit.VOLT, resolution) == text


@pytest.mark.parametrize(
    ("low", "high", "resolution", "text"),
    [
        (0.01333, 0.01367, 1e-5, "between 13.3 and 13.7 mV"),
        (0.013472, 0.013521, 1e-6, "between 13.47 and 13.53 mV"),
        (0.0101, 0.0199, None, "between 10 and 20 mV"),
        (0.013499, 0.013501, 1e-4, "between 13.4 and 13.6 mV"),
        (0.0135, 0.0135, 1e-4, "at 13.5 mV"),
    ],
)
def test_an_interval_is_rounded_outwards_to_what_its_width_deserves(
    low: float, high: float, resolution: float | None, text: str
) -> None:
    assert figures.span(low, high, Unit.VOLT, resolution) == text


@pytest.mark.parametrize(
    ("ohm", "text"), [(0.0005, "0.50 m\u03a9"), (0.0124, "12 m\u03a9"), (0.35, "0.35 \u03a9")]
)
def test_a_small_difference_of_resistances_keeps_its_two_figures(ohm: float, text: str) -> None:
    """Half a milliohm is not one."""
    assert figures.amount(ohm, Unit.OHM) == text
