"""Temperatures from ohms and volts against the published tables."""

from __future__ import annotations

import pytest
from fake_instrument import FakeInstrument, FakeLink
from hypothesis import given
from hypothesis import strategies as st

from drivers.clock import SteppedClock, host_seconds
from drivers.meter import MeterSetup
from drivers.reading import Gap, Reading, Unit
from drivers.scpi.dialect import shipped_dialects
from drivers.scpi.meter import ScpiMeter
from drivers.scpi.sensors import Sensor, celsius, platinum_ratio, type_k_millivolts

# IEC 60751:2008, table 1: ohms of a Pt100, printed to 0.01 ohm.
PT100 = [
    (-200.0, 18.52), (-100.0, 60.26), (-50.0, 80.31), (0.0, 100.00), (25.0, 109.73), (100.0, 138.51),
    (150.0, 157.33), (200.0, 175.86), (400.0, 247.09), (850.0, 390.48),
]  # fmt: skip
# ITS-90 tables (NIST Monograph 175), type K with the terminals at 0 degrees C: millivolts, to 0.001 mV.
TYPE_K = [(25.0, 1.000), (100.0, 4.096), (200.0, 8.138), (500.0, 20.644), (1000.0, 41.276)]


@pytest.mark.parametrize(("temperature_c", "ohms"), PT100)
def test_a_pt100_has_its_tabled_resistance(temperature_c: float, ohms: float) -> None:
    assert 100.0 * platinum_ratio(temperature_c) == pytest.approx(ohms, abs=0.0051)


@pytest.mark.parametrize(("temperature_c", "millivolts"), TYPE_K)
def test_type_k_has_its_tabled_voltage(temperature_c: float, millivolts: float) -> None:
    assert type_k_millivolts(temperature_c) == pytest.approx(millivolts, abs=0.00051)


@given(st.floats(-199.0, 849.0))
def test_platinum_is_read_back(temperature_c: float) -> None:
    ratio = platinum_ratio(temperature_c)

    assert celsius(Sensor.PT100, 100.0 * ratio) == pytest.approx(temperature_c, abs=1e-3)
    assert celsius(Sensor.PT1000, 1000.0 * ratio) == pytest.approx(temperature_c, abs=1e-3)


@given(st.floats(-190.0, 1360.0), st.floats(0.0, 60.0))
def test_type_k_is_read_back_whatever_its_terminals(temperature_c: float, terminals_c: float) -> None:
    volts = (type_k_millivolts(temperature_c) - type_k_millivolts(terminals_c)) * 1e-3

    assert celsius(Sensor.TYPE_K, volts, terminals_c) == pytest.approx(temperature_c, abs=2e-3)


@pytest.mark.parametrize(
    ("sensor", "measured"),
    [(Sensor.PT100, 0.1), (Sensor.PT100, 1e6), (Sensor.TYPE_K, 1.0), (Sensor.TYPE_K, -1.0)],
)
def test_an_open_or_shorted_sensor_has_no_temperature(sensor: Sensor, measured: float) -> None:
    assert celsius(sensor, measured) is None


def reading(ohms: str) -> Reading | Gap:
    instrument = FakeInstrument()
    instrument.reading = lambda: ohms
    dialect = next(each for each in shipped_dialects() if each.name == "pt100")
    meter = ScpiMeter("sink", FakeLink(instrument), SteppedClock(), dialect)
    meter.connect(host_seconds() + 30.0)
    assert meter.configure(MeterSetup(), host_seconds() + 30.0).unit is Unit.CELSIUS
    (fact,) = meter.read(host_seconds() + 30.0)
    return fact


def test_a_meter_with_a_sensor_reads_degrees() -> None:
    fact = reading("+1.11673E+02")

    assert isinstance(fact, Reading)
    assert fact.unit is Unit.CELSIUS
    assert fact.value == pytest.approx(30.0, abs=0.01)


def test_a_broken_sensor_is_a_gap() -> None:
    fact = reading("+1.0E+06")

    assert isinstance(fact, Gap)
    assert "check its leads" in fact.detail


def test_sensor_dialects_are_never_found_by_probing() -> None:
    names = {each.name for each in shipped_dialects() if each.choose.by_name_only}

    assert names == {"pt100", "pt1000", "type k"}
