"""The simulated multimeter: its language, its errors, and what its input makes of the volts."""

from __future__ import annotations

import numpy as np
import pytest

from drivers.clock import SteppedClock
from drivers.scpi.reply import Answer, parse_reply
from drivers.simulated.bench import Mains, SimulatedBench
from drivers.simulated.command_line import header_pattern, matches, number, split_line
from drivers.simulated.instrument import Multimeter
from drivers.simulated.multimeter import MODELS, MultimeterInput, Surroundings
from drivers.simulated.units import load_unit

QUIET = Surroundings(hum_volts=0.0)


class Desk:
    """A bench in stepped time with one meter on the left channel."""

    def __init__(self, unit: str = "healthy", model: str = "6120", around: Surroundings = QUIET) -> None:
        self.clock = SteppedClock(50.0)
        self.bench = SimulatedBench(load_unit(unit), self.clock, seed=7)
        self.bench.move_probes("left", "left bias")
        self.meter = Multimeter(MultimeterInput(self.bench, "left", MODELS[model], around), self.clock)

    def on(self, seconds: float = 60.0) -> Desk:
        self.bench.switch_mains(Mains.FULL)
        self.clock.advance_to(self.clock.now() + seconds)
        return self

    def ask(self, line: str) -> str | None:
        answer = self.meter.handle(line.encode())
        return None if answer is None else answer.decode()

    def value(self, line: str = "READ?") -> float:
        answer = self.ask(line)
        assert answer is not None
        return float(answer)

    def error(self) -> int:
        answer = self.ask("SYST:ERR?")
        assert answer is not None
        return int(answer.split(",", maxsplit=1)[0])


# -- grammar ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "header",
    ["VOLT:RANG", "VOLT:DC:RANG", "SENS:VOLT:DC:RANG:UPP", "SENSE:VOLTAGE:RANGE:UPPER", "SENSE:VOLT:RANGE"],
)
def test_long_and_short_forms_and_optional_nodes_are_one_header(header: str) -> None:
    assert matches(header_pattern("[SENSe:]VOLTage:[DC:]RANGe[:UPPer]"), header)


@pytest.mark.parametrize("header", ["VOLTA:RANG", "VOL:RANG", "RANG", "VOLT:RANGE:LOW", "VOLT"])
def test_other_abbreviations_are_not(header: str) -> None:
    assert not matches(header_pattern("[SENSe:]VOLTage:[DC:]RANGe[:UPPer]"), header)


def test_a_header_without_a_colon_continues_in_the_branch_before_it() -> None:
    headers = [unit.header for unit in split_line("VOLT:DC:RANG 0.1;NPLC 10;*CLS;APER?;:SAMP:COUN 1")]
    assert headers == ["VOLT:DC:RANG", "VOLT:DC:NPLC", "*CLS", "VOLT:DC:APER", "SAMP:COUN"]


def test_separators_inside_quotation_marks_do_not_separate() -> None:
    (unit,) = split_line("FUNC 'VOLT;DC',\"a,b\"")
    assert unit.parameters == ("'VOLT;DC'", '"a,b"')


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("0.1", 0.1),
        ("100 mV", 0.1),
        ("100MV", 0.1),
        ("1e-1", 0.1),
        ("+.1V", 0.1),
        ("1 kV", 1000.0),
        ("x", None),
    ],
)
def test_numbers_may_carry_multipliers_and_the_unit(text: str, value: float | None) -> None:
    assert number(text, "V") == (None if value is None else pytest.approx(value))


# -- settings -----------------------------------------------------------------------------------------------


def test_it_says_who_it_is() -> None:
    assert Desk().ask("*IDN?") == "Fenrow,6120,FW000001,1.04"


@pytest.mark.parametrize(
    ("asked", "got"), [("0.0135", 0.1), ("0.1", 0.1), ("0.11", 1.0), ("2", 10.0), ("MAX", 1000.0)]
)
def test_a_range_is_rounded_up_and_read_back(asked: str, got: float) -> None:
    desk = Desk()
    desk.ask(f"VOLT:DC:RANG {asked}")
    assert desk.value("VOLT:DC:RANG?") == got
    assert desk.ask("VOLT:RANG:AUTO?") == "0"


@pytest.mark.parametrize(
    ("asked", "got"),
    [("0.02", 0.02), ("0.5", 1.0), ("10", 10.0), ("11", 100.0), ("MIN", 0.02), ("DEF", 10.0)],
)
def test_integration_is_one_of_the_steps(asked: str, got: float) -> None:
    desk = Desk()
    desk.ask(f"VOLT:DC:NPLC {asked}")
    assert desk.value("VOLT:DC:NPLC?") == pytest.approx(got)
    assert desk.value("VOLT:DC:APER?") == pytest.approx(got / 50.0)


def test_an_aperture_is_set_in_seconds_until_cycles_are_set_again() -> None:
    desk = Desk()
    desk.ask("VOLT:APER 0.05")
    assert desk.value("VOLT:NPLC?") == pytest.approx(2.5)
    desk.ask("VOLT:NPLC 1")
    assert desk.value("VOLT:APER?") == pytest.approx(0.02)


@pytest.mark.parametrize(
    ("tell", "ask", "answer"),
    [
        ("ZERO:AUTO OFF", "VOLT:DC:ZERO:AUTO?", "0"),
        ("VOLT:ZERO:AUTO ONCE", "ZERO:AUTO?", "0"),
        ("INP:IMP:AUTO ON", "VOLT:IMP:AUTO?", "1"),
        ("SAMP:COUN 3", "SAMPLE:COUNT?", "+3"),
        ("TRIG:COUN 2", "TRIG:COUN?", "+2"),
        ("TRIG:SOUR EXTERNAL", "TRIG:SOUR?", "EXT"),
        ("*ESE 32", "*ESE?", "32"),
    ],
)
def test_what_is_set_is_read_back(tell: str, ask: str, answer: str) -> None:
    desk = Desk()
    desk.ask(tell)
    assert desk.ask(ask) == answer
    assert desk.error() == 0


def test_configuring_sets_all_but_the_range_to_defaults() -> None:
    desk = Desk()
    desk.ask("SAMP:COUN 5;:INP:IMP:AUTO ON;:VOLT:NPLC 1")
    desk.ask("CONF:VOLT:DC 0.1")
    assert desk.ask("SAMP:COUN?;:INP:IMP:AUTO?") == "+1;0"
    assert desk.value("VOLT:NPLC?") == 10.0
    assert desk.ask("CONF?") == '"VOLT +1.000000E-01,+1.000000E-08"'
    desk.ask("CONF")
    assert desk.ask("VOLT:RANG:AUTO?") == "1"


def test_a_power_cycle_forgets_the_settings() -> None:
    desk = Desk()
    desk.ask("CONF:VOLT:DC 0.1;:NONSENSE")
    desk.meter.power_cycle()
    assert desk.value("VOLT:RANG?") == 1000.0
    assert desk.error() == 0


# -- errors -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("NONSENSE", -113),
        ("NONSENSE?", -113),
        ("VOLT:DC:RANG", -109),
        ("VOLT:DC:RANG 1,2", -108),
        ("VOLT:DC:RANG abc", -104),
        ("VOLT:DC:RANG 5000", -222),
        ("VOLT:DC:NPLC 0", -222),
        ("VOLT:APER 100", -222),
        ("TRIG:SOUR MOON", -224),
        ("ZERO:AUTO MAYBE", -224),
        ("FUNC 'CURR'", -224),
        ("SAMP:COUN 0", -222),
        ("FETC?", -230),
        ("TRIG:SOUR BUS;:READ?", -214),
        ("*TRG", -211),
        ("READ? 3", -108),
    ],
)
def test_a_mistake_gets_no_answer_and_waits_in_the_queue(line: str, code: int) -> None:
    # Error numbers: SCPI 1999.0 volume 2, chapter 21.
    desk = Desk()
    assert desk.ask(line) is None
    assert desk.error() == code
    assert desk.error() == 0


def test_a_command_error_ends_the_line_and_an_execution_error_does_not() -> None:
    desk = Desk()
    assert desk.ask("VOLT:RANG 5000;:SYST:VERS?") == "1999.0"
    assert desk.ask("NONSENSE;:SYST:VERS?") is None


def test_a_full_queue_says_so_and_clearing_empties_it() -> None:
    desk = Desk()
    for _ in range(30):
        desk.ask("NONSENSE")
    codes = [desk.error() for _ in range(21)]
    assert codes == [-113] * 19 + [-350, 0]
    desk.ask("NONSENSE")
    assert desk.ask("*ESR?") == str(128 | 32)
    desk.ask("*CLS")
    assert desk.error() == 0


# -- readings -----------------------------------------------------------------------------------------------


def test_a_reading_is_the_truth_within_a_few_microvolts() -> None:
    desk = Desk().on()
    desk.ask("CONF:VOLT:DC 0.1")
    values = []
    for _ in range(40):
        desk.clock.advance_to(desk.clock.now() + 0.5)
        values.append(desk.value() - desk.bench.truth().bias_volts[0])
    assert abs(np.mean(values)) < 5e-6
    assert 0.0 < np.std(values) < 1e-6


def test_the_answer_always_has_sign_and_exponent() -> None:
    desk = Desk().on()
    answer = desk.ask("MEAS:VOLT:DC? 0.1")
    assert answer is not None
    assert answer[0] == "+"
    assert answer[-4:] == "E-03"
    assert parse_reply(answer.encode()).answer is Answer.VALUE


def test_the_coarse_model_shows_steps_of_ten_microvolts() -> None:
    desk = Desk(model="4510").on()
    desk.ask("CONF:VOLT:DC 0.1")
    steps = desk.value() / 1e-5
    assert steps == pytest.approx(round(steps), abs=1e-6)


def test_beyond_120_per_cent_of_the_range_is_overload() -> None:
    desk = Desk("over_biased").on()
    desk.ask("CONF:VOLT:DC 0.1")
    assert desk.ask("READ?") == "+9.90000000E+37"
    desk.ask("VOLT:RANG 1")
    assert 0.1 < desk.value() < 0.4


def test_auto_range_finds_the_range_up_and_down() -> None:
    desk = Desk().on()
    assert desk.value("MEAS:VOLT:DC?") == pytest.approx(desk.bench.truth().bias_volts[0], abs=1e-5)
    assert desk.value("VOLT:RANG?") == 0.1
    desk.bench.turn_trimmer("left", 150.0)
    assert desk.value("READ?") > 0.12
    assert desk.value("VOLT:RANG?") == 1.0


def test_samples_and_triggers_multiply_into_a_list() -> None:
    desk = Desk().on()
    desk.ask("CONF:VOLT:DC 0.1;:SAMP:COUN 3;:TRIG:COUN 2")
    answer = desk.ask("READ?")
    assert answer is not None
    assert len(answer.split(",")) == 6


def test_initiate_and_fetch_give_the_same_reading_again() -> None:
    desk = Desk().on()
    desk.ask("CONF:VOLT:DC 0.1;:INIT")
    first = desk.ask("FETC?")
    assert first is not None
    assert desk.ask("FETCH?") == first
    desk.ask("CONF:VOLT:DC 0.1;:TRIG:SOUR BUS;*TRG")
    assert desk.ask("FETC?") is not None


def test_open_probes_read_nearly_zero_at_ten_megohm_and_float_above() -> None:
    desk = Desk().on()
    desk.bench.move_probes("left", None)
    desk.ask("CONF:VOLT:DC 0.1")
    low, high = [], []
    for _ in range(60):
        desk.clock.advance_to(desk.clock.now() + 10.0)
        desk.ask("INP:IMP:AUTO OFF")
        low.append(desk.value())
        desk.ask("INP:IMP:AUTO ON")
        high.append(desk.value())
    assert np.abs(low).max() < 50e-6
    assert 3e-3 < np.std(high) < 40e-3


def test_hum_folds_into_a_beat_at_short_integration_and_vanishes_at_whole_cycles() -> None:
    scatter = {}
    for nplc in ("0.02", "1", "10"):
        desk = Desk(around=Surroundings(hum_volts=1e-3, hum_hz=50.05))
        desk.bench.move_probes("left", "left offset")  # nothing of its own while the power is off
        desk.ask(f"CONF:VOLT:DC 0.1;:VOLT:NPLC {nplc}")
        values = []
        for _ in range(200):
            desk.clock.advance_to(desk.clock.now() + 0.5)
            values.append(desk.value())
        scatter[nplc] = np.std(values)
    assert scatter["0.02"] == pytest.approx(1e-3 / np.sqrt(2.0), rel=0.1)
    # 50.05 Hz over one cycle of 50 Hz: sinc rejection of about 60 dB (computation reference, section 2).
    assert scatter["1"] < 2e-6
    assert scatter["10"] < 2e-6


def test_the_same_seed_gives_the_same_readings() -> None:
    courses = []
    for _ in range(2):
        desk = Desk().on()
        desk.ask("CONF:VOLT:DC 0.1")
        courses.append([desk.ask("READ?") for _ in range(5)])
    assert courses[0] == courses[1]
    assert len(set(courses[0])) > 1


def test_with_a_wait_a_reading_takes_its_time_and_is_the_mean_over_it() -> None:
    desk = Desk().on(2.0)
    waited: list[float] = []

    def wait(until_s: float) -> bool:
        waited.append(until_s - desk.clock.now())
        desk.clock.advance_to(until_s)
        return True

    desk.meter.handle(b"CONF:VOLT:DC 0.1;:VOLT:NPLC 100")
    began_s = desk.clock.now()
    desk.meter.handle(b"READ?", wait)
    (entry,) = desk.meter.measured
    assert waited == [pytest.approx(4.001)]  # 100 cycles of 20 ms, twice for auto-zero
    assert (entry.start_s, entry.end_s) == (began_s, pytest.approx(began_s + 2.0))
    assert entry.volts < desk.bench.truth().bias_volts[0] - 2e-5  # it rises while being measured
    assert entry.host_start <= entry.host_end


def test_a_wait_that_is_given_up_gives_no_answer() -> None:
    desk = Desk().on()
    assert desk.meter.handle(b"READ?", lambda until_s: False) is None
    assert not desk.meter.measured
