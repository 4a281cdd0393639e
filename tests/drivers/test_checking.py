"""A check of one meter changes nothing and says what it found, line by line."""

from __future__ import annotations

from pathlib import Path

from fake_instrument import IDENTITY, FakeInstrument, FakeLink

from drivers.addresses import stream_link
from drivers.checking import CheckLine, check_meter, check_source, identity_at
from drivers.clock import LifeClock
from drivers.replayed import ReplayedMeter
from drivers.scpi.dialect import read_dialect, shipped_dialects
from drivers.stream import StreamMeter


def check(instrument: FakeInstrument, link: FakeLink | None = None) -> dict[str, CheckLine]:
    lines = check_meter(link or FakeLink(instrument), readings=5)
    return {line.what: line for line in lines}


def healthy() -> FakeInstrument:
    instrument = FakeInstrument()
    instrument.settings["SAMP:COUN"] = "1"
    return instrument


def test_a_healthy_meter_is_described() -> None:
    instrument = healthy()
    values = iter([0.0134, 0.0136] * 3)
    instrument.reading = lambda: f"{next(values):+.8E}"
    lines = check(instrument)

    assert lines["identity"].found == IDENTITY
    assert lines["dialect"].found.startswith("full")
    assert lines["range"].found == "1000 V"
    assert lines["mains hum"].good
    assert lines["rate"].good
    assert lines["mean reading"].found == "13.48 mV"
    assert lines["errors"].found == "none"


def test_no_setting_is_changed() -> None:
    instrument = healthy()
    before = dict(instrument.settings)
    check(instrument)

    assert instrument.settings == before
    assert all(line.endswith("?") for line in instrument.lines[:-1])
    assert instrument.lines[-1] == "SYST:LOC"


def test_integration_over_part_of_a_period_is_said() -> None:
    instrument = healthy()
    instrument.settings["VOLT:DC:NPLC"] = "0.02"
    assert "hum shows as noise" in check(instrument)["mains hum"].found
    instrument.settings |= {"VOLT:DC:NPLC": "10", "SYST:LFR": "60"}
    line = check(instrument)["mains hum"]

    assert not line.good
    assert "slow beat" in line.found


def test_a_list_of_readings_is_a_finding() -> None:
    line = check(FakeInstrument())["readings"]

    assert not line.good
    assert "10 fields" in line.found


def test_overload_is_a_finding() -> None:
    instrument = healthy()
    instrument.reading = lambda: "+9.9E+37"

    assert "5 of 5" in check(instrument)["overload"].found


def test_errors_are_shown() -> None:
    instrument = healthy()
    errors = iter(['-113,"Undefined header"', '+0,"No error"'])
    take = instrument.take
    instrument.take = lambda line: next(errors) if line == "SYST:ERR?" else take(line)  # type: ignore[method-assign]

    assert "Undefined header" in check(instrument)["errors"].found


def test_nobody_there_is_a_line_and_no_error() -> None:
    instrument = healthy()
    link = FakeLink(instrument)
    link.refusing = True
    lines = check(instrument, link)

    assert not lines["stopped"].good
    assert "refused" in lines["stopped"].found


def test_who_answers_is_told_without_touching_anything() -> None:
    instrument = healthy()
    link = FakeLink(instrument)

    assert identity_at(link) == IDENTITY
    assert instrument.lines == ["*IDN?"]
    link.refusing = True
    assert identity_at(link) == ""


def test_a_file_is_looked_at_without_waiting_for_it(tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    path.write_text("elapsed [s],left bias [mV],heatsink [C]\n0,13.4,31.2\n3600,13.5,31.3\nodd,1,2\n")
    lines = {line.what: line for line in check_source(ReplayedMeter("m", path, LifeClock()))}

    assert lines["inputs"].found == "left bias, heatsink"
    assert lines["input left bias"].found == "13.4 mV"
    assert lines["input heatsink"].found == "31.2 degC"
    assert "1 rows could not be used" in lines["note"].found


def test_a_stream_that_nobody_sends_is_a_line_and_no_error() -> None:
    address = "stream:TCPIP::127.0.0.1::1::SOCKET"
    lines = check_source(StreamMeter("m", stream_link(address), LifeClock()))

    assert [line.what for line in lines] == ["address", "stopped"]
    assert lines[-1].good is False


def test_a_sensor_is_told_in_degrees() -> None:
    """Ohms of a platinum sensor are no millivolts."""
    instrument = healthy()
    instrument.answers = {"MEAS:RES?": "+1.10000000E+02", "MEAS:FRES?": "+1.10000000E+02"}
    instrument.reading = lambda: "+1.10000000E+02"
    dialect = next(each for each in shipped_dialects() if each.name == "pt100")
    link = FakeLink(instrument)
    lines = {line.what: line for line in check_meter(link, readings=3, chosen=dialect)}

    # IEC 60751: 110 ohm of a Pt100 are 25.68 degrees.
    assert lines["mean reading"].found == "25.684 degC"
    assert lines["noise"].found == "0 degC (standard deviation)"


def test_a_range_that_is_told_by_its_number_is_said_in_volts() -> None:
    text = """
        name = "own"
        title = "a meter that numbers its ranges"
        [read]
        lines = ["READ?"]
        [range]
        write = ["RANG {range_index}"]
        read_back = "RANG?"
        ranges_volts = [0.1, 1.0, 10.0]
        first_index = 1
        """
    instrument = healthy()
    instrument.answers["RANG?"] = "2"
    lines = check_meter(FakeLink(instrument), readings=3, chosen=read_dialect(text, "own.toml"))

    assert {line.what: line.found for line in lines}["range"] == "1 V"
