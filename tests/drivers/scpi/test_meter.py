"""A SCPI meter sets up by read-back, refuses rather than guesses, and turns replies into facts."""

from __future__ import annotations

from dataclasses import dataclass, replace

import pytest
from fake_instrument import IDENTITY, FakeInstrument, FakeLink

from drivers.clock import SteppedClock, host_seconds
from drivers.errors import LinkGarbled, LinkLost, LinkRefused, LinkTimedOut, MeterRefused
from drivers.meter import MeterAccuracy, MeterFacts, MeterSetup
from drivers.reading import Gap, GapReason, Reading, ReadingFlag, Unit
from drivers.scpi.dialect import read_dialect, shipped_dialects
from drivers.scpi.meter import ScpiMeter
from drivers.scpi.pace import Pace

SETUP = MeterSetup(range_volts=0.1, mains_hz=50.0, integration_s=0.2)


def soon() -> float:
    return host_seconds() + 30.0


@dataclass
class Bench:
    instrument: FakeInstrument
    link: FakeLink
    meter: ScpiMeter
    clock: SteppedClock

    def start(self, setup: MeterSetup = SETUP) -> MeterFacts:
        self.meter.connect(soon())
        return self.meter.configure(setup, soon())

    def read(self) -> Reading | Gap:
        (fact,) = self.meter.read(soon())
        return fact


@pytest.fixture
def bench() -> Bench:
    instrument = FakeInstrument()
    link = FakeLink(instrument)
    clock = SteppedClock(100.0)
    return Bench(instrument, link, ScpiMeter("left meter", link, clock), clock)


def test_connecting_returns_the_identity(bench: Bench) -> None:
    assert bench.meter.connect(soon()) == IDENTITY


def test_a_connection_without_a_name_does_not_count(bench: Bench) -> None:
    bench.instrument.answers["*IDN?"] = ""
    with pytest.raises(LinkTimedOut, match=r"\*IDN\?"):
        bench.meter.connect(soon())
    assert not bench.link.is_open


def test_a_number_is_not_a_name(bench: Bench) -> None:
    bench.instrument.answers["*IDN?"] = "+1.0E-02"
    with pytest.raises(LinkGarbled, match="asked for its name"):
        bench.meter.connect(soon())


def test_a_terminal_port_is_recognised(bench: Bench) -> None:
    bench.instrument.answers["*IDN?"] = "\xff\xfb\x01\xff\xfb\x03login:"
    with pytest.raises(LinkRefused, match="telnet"):
        bench.meter.connect(soon())


def test_a_full_meter_is_set_up_and_read_back(bench: Bench) -> None:
    facts = bench.start()

    assert (facts.dialect, facts.range_volts, facts.integration_s) == ("full", 0.1, 0.2)
    assert facts.reading_s == pytest.approx(0.45)  # auto-zero doubles 0.2 s; 0.05 s to transfer
    assert facts.unconfirmed == ()
    assert bench.instrument.settings["SAMP:COUN"] == "1"
    assert bench.instrument.settings["INP:IMP:AUTO"] == "0"


def test_a_meter_on_another_range_is_refused(bench: Bench) -> None:
    bench.instrument.ranges = [10.0]
    with pytest.raises(MeterRefused, match=r"100 mV was asked for and the meter is on 10 V"):
        bench.start()


def test_a_somewhat_wider_range_is_taken_and_reported(bench: Bench) -> None:
    bench.instrument.ranges = [0.4, 4.0]

    assert bench.start().range_volts == 0.4


def test_a_meter_that_does_not_change_its_speed_is_refused(bench: Bench) -> None:
    bench.instrument.answers["VOLT:DC:NPLC?"] = "+2.0E-02"
    with pytest.raises(MeterRefused, match="integration"):
        bench.start()


def test_a_count_left_over_from_another_program_is_refused(bench: Bench) -> None:
    bench.instrument.answers["SAMP:COUN 1"] = ""
    with pytest.raises(MeterRefused, match="one reading for each trigger"):
        bench.start()


def test_wrong_mains_frequency_is_noted_and_the_time_is_the_true_one(bench: Bench) -> None:
    bench.instrument.settings["SYST:LFR"] = "60"
    facts = bench.start()

    assert facts.integration_s == pytest.approx(100.0 / 60.0)  # the next step above 12 cycles
    assert "60 Hz" in facts.notes[0]


def test_the_meters_complaints_are_noted(bench: Bench) -> None:
    answers = iter(['-113,"Undefined header"', '+0,"No error"'])
    take = bench.instrument.take
    bench.instrument.take = lambda line: next(answers) if line == "SYST:ERR?" else take(line)  # type: ignore[method-assign]

    assert "Undefined header" in bench.start().notes[0]


class TestAMeterOfFewWords:
    """The generic dialect does a useful job with anything that answers MEAS:VOLT:DC?."""

    @pytest.fixture
    def poor(self, bench: Bench) -> Bench:
        bench.instrument.settings = {"VOLT:DC:RANG": "1.0E+01", "SAMP:COUN": "1"}
        bench.instrument.answers |= {"READ?": "", "SYST:ERR?": "", "VOLT:DC:RANG?": "", "SAMP:COUN?": ""}
        return bench

    def test_what_could_not_be_confirmed_is_said(self, poor: Bench) -> None:
        facts = poor.start()

        assert facts.dialect == "generic"
        assert facts.unconfirmed == (
            "range",
            "integration time",
            "readings without decoration",
            "one reading for each question",
        )

    def test_it_reads(self, poor: Bench) -> None:
        poor.start()
        fact = poor.read()

        assert isinstance(fact, Reading)
        assert fact.value == 0.0135
        assert poor.instrument.lines[-1] == "MEAS:VOLT:DC? 0.1"

    def test_what_it_does_not_answer_is_not_asked_again(self, poor: Bench) -> None:
        """Each such question costs its whole time limit; a change of range must not."""
        poor.start()
        poor.instrument.lines.clear()
        poor.meter.configure(replace(SETUP, range_volts=1.0), soon())

        questions = [line for line in poor.instrument.lines if "?" in line]
        assert questions == ["MEAS:VOLT:DC? 1"]

    def test_another_instrument_is_asked_everything_anew(self, poor: Bench) -> None:
        poor.start()
        poor.instrument.identity = "INVENTED,MODEL 2,0002,1.0"
        poor.instrument.answers.clear()
        poor.instrument.switch_on()

        assert poor.start().dialect == "full"

    def test_no_reading_at_all_is_refused(self, poor: Bench) -> None:
        poor.instrument.reading = lambda: "HELLO"
        with pytest.raises(MeterRefused, match="gives no reading"):
            poor.start()

    def test_its_errors_as_answers_are_not_taken_for_settings(self, bench: Bench) -> None:
        bench.instrument.answers["VOLT:DC:NPLC?"] = '-113,"Undefined header"'
        facts = bench.start()

        assert facts.dialect == "generic"
        assert "integration time" in facts.unconfirmed


def test_a_reading_carries_its_interval_and_input(bench: Bench) -> None:
    bench.start()
    fact = bench.read()

    assert fact == Reading("left meter", "1", 0.0135, Unit.VOLT, 100.0, 100.0)


def test_a_not_a_number_is_a_gap(bench: Bench) -> None:
    bench.start()
    bench.instrument.reading = lambda: "+9.91E+37"
    fact = bench.read()

    assert isinstance(fact, Gap)
    assert fact.reason is GapReason.NO_READING


def test_an_unreadable_reply_makes_the_link_dirty(bench: Bench) -> None:
    bench.start()
    bench.instrument.reading = lambda: "+1.0E-02,+2.0E-02"
    with pytest.raises(LinkGarbled, match="2 fields"):
        bench.read()
    assert bench.link.dirty
    bench.meter.recover(soon())

    assert not bench.link.dirty


def test_another_unit_is_refused(bench: Bench) -> None:
    bench.start()
    bench.instrument.reading = lambda: "12.3 mA"
    with pytest.raises(LinkGarbled, match="set it to DC volts"):
        bench.read()


def test_a_hasty_answer_is_not_believed(bench: Bench) -> None:
    class Doubting(Pace):
        def plausible(self, taken_s: float) -> bool:
            return False

    bench.meter = ScpiMeter("left meter", bench.link, bench.clock, pace=Doubting())
    bench.start()
    with pytest.raises(LinkGarbled, match="faster than this meter measures"):
        bench.read()
    assert bench.link.dirty


def test_a_lost_link_passes_up(bench: Bench) -> None:
    bench.start()
    bench.link.failures = [LinkLost]
    with pytest.raises(LinkLost):
        bench.read()


class TestOverRange:
    """A higher range is tried before there is a gap, and left again when the value fits."""

    def test_a_higher_range_gives_the_value_with_a_flag(self, bench: Bench) -> None:
        bench.start()
        bench.instrument.volts = 3.0
        fact = bench.read()

        assert isinstance(fact, Reading)
        assert fact.value == 3.0
        assert fact.flags == {ReadingFlag.OTHER_RANGE}

    def test_it_returns_to_the_wanted_range(self, bench: Bench) -> None:
        bench.start()
        bench.instrument.volts = 3.0
        bench.read()
        bench.instrument.volts = 0.02
        bench.read()
        fact = bench.read()

        assert isinstance(fact, Reading)
        assert fact.flags == frozenset()
        assert float(bench.instrument.settings["VOLT:DC:RANG"]) == 0.1

    def test_beyond_every_range_it_is_a_gap(self, bench: Bench) -> None:
        bench.start()
        bench.instrument.reading = lambda: "+9.9E+37"
        fact = bench.read()

        assert isinstance(fact, Gap)
        assert fact.reason is GapReason.OVERLOAD
        assert "left meter" in fact.detail

    def test_a_meter_without_a_higher_range_stays_where_it_is(self, bench: Bench) -> None:
        bench.instrument.ranges = [0.1]
        bench.start()
        bench.instrument.volts = 3.0
        fact = bench.read()

        assert isinstance(fact, Gap)
        assert fact.reason is GapReason.OVERLOAD
        assert isinstance(replace(fact), Gap)
        bench.instrument.volts = 0.01
        assert isinstance(bench.read(), Reading)

    def test_what_one_meter_lacks_the_next_one_may_have(self, bench: Bench) -> None:
        """Another instrument at the same address is asked for its higher ranges anew."""
        bench.instrument.ranges = [0.1]
        bench.start()
        bench.instrument.volts = 3.0
        bench.read()
        bench.meter.disconnect()
        bench.instrument.identity = "INVENTED,MODEL 2,0002,1.0"
        bench.instrument.ranges = [0.1, 1.0, 10.0]
        bench.start()

        assert isinstance(bench.read(), Reading)

    def test_without_time_for_another_reading_it_is_a_gap_at_once(self, bench: Bench) -> None:
        bench.start()
        bench.instrument.volts = 3.0
        (fact,) = bench.meter.read(host_seconds() + 0.1)

        assert isinstance(fact, Gap)


def test_reading_before_setting_up_is_refused(bench: Bench) -> None:
    bench.meter.connect(soon())
    with pytest.raises(MeterRefused, match="not been set up"):
        bench.read()


def test_an_unknown_input_is_refused(bench: Bench) -> None:
    bench.meter.connect(soon())
    with pytest.raises(MeterRefused, match="this meter has 1, each once"):
        bench.meter.configure(MeterSetup(inputs=("1", "2")), soon())


def test_leaving_gives_the_front_panel_back_even_after_an_abort(bench: Bench) -> None:
    bench.start()
    bench.meter.abort()
    bench.meter.disconnect()

    assert bench.instrument.lines[-1] == "SYST:LOC"
    assert not bench.link.is_open
    bench.meter.disconnect()


def test_accuracy_may_come_from_settings_by_identity(bench: Bench) -> None:
    known = MeterAccuracy(of_reading=0.0005, resolution=1e-6, declared_by="the manual")
    meter = ScpiMeter(
        "left meter",
        bench.link,
        bench.clock,
        accuracy=lambda identity, range_volts: known if (identity, range_volts) == (IDENTITY, 0.1) else None,
    )
    meter.connect(soon())

    assert meter.configure(SETUP, soon()).accuracy == known


def test_accuracy_may_come_from_the_dialect(bench: Bench) -> None:
    text = """
        name = "own"
        title = "a user's meter"
        declared_by = "its manual, page 12"
        [read]
        lines = ["READ?"]
        [range]
        write = ["VOLT:DC:RANG {range_volts}"]
        read_back = "VOLT:DC:RANG?"
        ranges_volts = [0.1, 1.0]
        [[setting]]
        name = "one reading"
        way = [{ write = ["SAMP:COUN 1"], read_back = "SAMP:COUN?", accept = ["1"] }]
        [integration]
        needed = false
        [[accuracy]]
        range_volts = 0.1
        of_reading = 0.0002
        of_range = 0.0001
        """
    meter = ScpiMeter("m", bench.link, bench.clock, read_dialect(text, "own.toml"))
    meter.connect(soon())
    accuracy = meter.configure(SETUP, soon()).accuracy

    assert (accuracy.of_reading, accuracy.range_value) == (0.0002, 0.1)
    assert accuracy.declared_by == "its manual, page 12"


def test_the_dialects_that_ship_end_with_the_generic_one() -> None:
    names = [dialect.name for dialect in shipped_dialects()]

    assert "full" in names
    assert names[-1] == "generic"
