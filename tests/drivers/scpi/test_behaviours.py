"""How meters differ, one behaviour after another, each as a dialect and what becomes of its answers."""

from __future__ import annotations

import pytest
from fake_instrument import FakeInstrument, FakeLink
from loopback_servers import Conversation, LineServer

from drivers.addresses import link_for
from drivers.clock import SteppedClock, host_seconds
from drivers.errors import DialectError, LinkGarbled, MeterRefused
from drivers.meter import MeterFacts, MeterSetup
from drivers.reading import Gap, GapReason, Reading, ReadingFlag
from drivers.scpi.dialect import read_dialect
from drivers.scpi.meter import ScpiMeter
from drivers.scpi.setting_up import channels_in

BARE = """
name = "own"
title = "as the test says"
range = { needed = false }
integration = { needed = false }
"""


class Bench:
    """A meter that is spoken to by a dialect of the test's own."""

    def __init__(
        self, dialect: str, answers: dict[str, str], address: str = "TCPIP::192.0.2.1::INSTR"
    ) -> None:
        self.instrument = FakeInstrument()
        self.instrument.answers = dict(answers)
        self.link = FakeLink(self.instrument, address)
        self.clock = SteppedClock(100.0)
        self.meter = ScpiMeter("m", self.link, self.clock, read_dialect(dialect, "own.toml"))

    def start(self, *inputs: str) -> MeterFacts:
        setup = MeterSetup(0.1, integration_s=0.2, inputs=inputs or ("1",))
        self.meter.connect(host_seconds() + 30.0)
        return self.meter.configure(setup, host_seconds() + 30.0)

    def read(self) -> tuple[Reading | Gap, ...]:
        return self.meter.read(host_seconds() + 30.0)

    def volts(self) -> list[float | GapReason]:
        return [fact.value if isinstance(fact, Reading) else fact.reason for fact in self.read()]


def test_a_display_that_shows_its_latest_value_is_marked_and_older() -> None:
    bench = Bench(
        BARE + '[read]\nlines = ["MEAS1?"]\nfresh = false\ndisplay_period_s = 0.4\n', {"MEAS1?": "+1.35E-02"}
    )
    facts = bench.start()
    (fact,) = bench.read()

    assert not facts.fresh
    assert isinstance(fact, Reading)
    assert fact.flags == {ReadingFlag.LATEST}
    assert (fact.start_s, fact.end_s) == (99.6, 100.0)


def test_a_stale_value_error_is_no_value() -> None:
    bench = Bench(BARE + '[read]\nlines = ["FETC?"]\n', {"FETC?": "+1.35E-02"})
    bench.start()
    bench.instrument.answers["FETC?"] = '-230,"Data corrupt or stale"'
    with pytest.raises(LinkGarbled, match="error entry"):
        bench.read()


INDEXED = """
name = "own"
title = "ranges by number"
[range]
write = ["RANGE {range_index}"]
read_back = "RANGE?"
ranges_volts = [0.3, 3.0, 30.0]
first_index = 1
[integration]
needed = false
[read]
lines = ["READ?"]
"""


def test_a_range_may_be_a_number() -> None:
    bench = Bench(INDEXED, {"RANGE?": "1", "READ?": "0.0135"})

    assert bench.start().range_volts == 0.3
    assert "RANGE 1" in bench.instrument.lines


@pytest.mark.parametrize(("said", "words"), [("2", "the meter is on 3 V"), ("9", "range number 9")])
def test_another_range_number_is_refused(said: str, words: str) -> None:
    bench = Bench(INDEXED, {"RANGE?": said, "READ?": "0.0135"})
    with pytest.raises(MeterRefused, match=words):
        bench.start()


SPEEDS = """
name = "own"
title = "speed by a word"
range = { needed = false }
[integration]
kind = "words"
write = ["RATE {speed}"]
read_back = "RATE?"
speeds = [
  { word = "F", integration_s = 0.05 },
  { word = "M", integration_s = 0.25 },
  { word = "S", integration_s = 0.4 },
]
[read]
lines = ["READ?"]
"""


def test_the_speed_may_be_a_word() -> None:
    bench = Bench(SPEEDS, {"RATE?": "M", "READ?": "0.0135"})

    assert bench.start().integration_s == 0.25
    assert "RATE M" in bench.instrument.lines


def test_another_speed_is_refused() -> None:
    bench = Bench(SPEEDS, {"RATE?": "F", "READ?": "0.0135"})
    with pytest.raises(MeterRefused, match="speed M was asked for and the meter says F"):
        bench.start()


def test_the_integration_may_be_in_seconds() -> None:
    dialect = (
        'name = "own"\ntitle = "own"\nrange = { needed = false }\n[read]\nlines = ["READ?"]\n'
        '[integration]\nkind = "seconds"\nwrite = ["VOLT:DC:APER {integration_s}"]\n'
        'read_back = "VOLT:DC:APER?"\n'
    )
    bench = Bench(dialect, {"VOLT:DC:APER?": "+2.0E-01", "READ?": "0.0135"})

    assert bench.start().integration_s == 0.2
    assert "VOLT:DC:APER 0.2" in bench.instrument.lines


def test_a_cheap_meters_overload_is_declared_by_its_dialect() -> None:
    bench = Bench(BARE + '[read]\nlines = ["READ?"]\n[reply]\noverload_at = 1e9\n', {"READ?": "1.0E+09"})
    bench.start()

    assert bench.volts() == [GapReason.OVERLOAD]


def test_a_decorated_reply_has_its_fields_counted() -> None:
    bench = Bench(
        BARE + '[read]\nlines = ["READ?"]\n[reply]\nfields = 3\n',
        {"READ?": "+1.2345E-02VDC,+0.001SECS,+00012RDNG#"},
    )
    bench.start()
    assert bench.volts() == [0.012345]
    bench.instrument.answers["READ?"] = "+1.2345E-02VDC,+0.001SECS"
    with pytest.raises(LinkGarbled, match="2 fields where 3"):
        bench.read()


@pytest.mark.parametrize(("address", "sent"), [("ASRL3::INSTR", True), ("TCPIP::192.0.2.1::INSTR", False)])
def test_remote_mode_is_asked_for_on_serial_ports_only(address: str, sent: bool) -> None:
    bench = Bench(
        BARE.replace("range", 'remote = ["SYST:REM"]\nrange', 1) + '[read]\nlines = ["READ?"]\n',
        {"READ?": "1"},
        address,
    )
    bench.start()

    assert ("SYST:REM" in bench.instrument.lines) is sent


class TestTwoDisplays:
    PAIR = BARE + (
        'input = [{ name = "1", index = 0 }, { name = "2", index = 1 }]\n'
        '[read]\nlines = ["MEAS?"]\n[reply]\nfields = 2\n'
    )
    APART = BARE + (
        'input = [{ name = "1", line = "MEAS1?" }, { name = "2", line = "MEAS2?" }]\n'
        '[read]\nlines = ["MEAS1?"]\n'
    )

    def test_a_pair_is_one_question_and_one_interval(self) -> None:
        bench = Bench(self.PAIR, {"MEAS?": "+1.35E-02,+2.5E-02"})
        bench.start("1", "2")
        first, second = bench.read()

        assert isinstance(first, Reading)
        assert isinstance(second, Reading)
        assert (first.input, first.value, second.input, second.value) == ("1", 0.0135, "2", 0.025)
        assert (first.start_s, first.end_s) == (second.start_s, second.end_s)

    def test_a_second_display_that_is_off_is_a_gap_of_its_own(self) -> None:
        bench = Bench(self.PAIR, {"MEAS?": "+1.35E-02,RANGE"})
        bench.start("1", "2")

        assert bench.volts() == [0.0135, GapReason.NO_READING]

    def test_one_field_where_two_should_be_is_refused(self) -> None:
        bench = Bench(self.PAIR, {"MEAS?": "+1.35E-02,+2.5E-02"})
        bench.start("1", "2")
        bench.instrument.answers["MEAS?"] = "+1.35E-02"
        with pytest.raises(LinkGarbled):
            bench.read()

    def test_displays_may_be_asked_apart(self) -> None:
        bench = Bench(self.APART, {"MEAS1?": "+1.35E-02", "MEAS2?": "+2.5E-02"})
        bench.start("2", "1")

        assert bench.meter.inputs == ("2", "1")
        assert bench.volts() == [0.025, 0.0135]

    def test_one_of_them_alone(self) -> None:
        bench = Bench(self.APART, {"MEAS1?": "+1.35E-02", "MEAS2?": "+2.5E-02"})
        bench.start("2")

        assert bench.volts() == [0.025]


class TestScanner:
    CLOSING = BARE + (
        '[scanner]\nchannels = ["101", "102", "103"]\nclose = "ROUT:CLOS (@{channel})"\nsettle_s = 0.0\n'
        '[read]\nlines = ["READ?"]\n'
    )
    SCANNING = BARE + (
        '[scanner]\nchannels = ["101", "102", "103"]\nscan = ["ROUT:SCAN (@{channels})"]\n'
        'scan_read_back = "ROUT:SCAN?"\n[read]\nlines = ["READ?"]\n'
    )

    def test_channels_are_closed_one_after_another(self) -> None:
        bench = Bench(self.CLOSING, {"READ?": "+1.0E-02"})
        bench.start("101", "103")
        bench.instrument.lines.clear()
        facts = bench.read()

        assert bench.instrument.lines == ["ROUT:CLOS (@101)", "READ?", "ROUT:CLOS (@103)", "READ?"]
        assert [fact.input for fact in facts] == ["101", "103"]

    def test_a_scan_is_one_list_in_its_order_with_a_share_of_the_time_each(self) -> None:
        bench = Bench(self.SCANNING, {"READ?": "+1.0E-02,+2.0E-02", "ROUT:SCAN?": "#214(@101,103)\n"})
        bench.start("101", "103")
        moments = iter([100.0, 101.0])
        bench.clock.at_host = lambda host_s: next(moments)  # type: ignore[method-assign]
        moments = iter([100.0, 101.0, 100.0, 101.0])
        first, second = bench.read()

        assert isinstance(first, Reading)
        assert isinstance(second, Reading)
        assert (first.value, first.start_s, first.end_s) == (0.01, 100.0, 100.5)
        assert (second.value, second.start_s, second.end_s) == (0.02, 100.5, 101.0)

    @pytest.mark.parametrize("said", ["(@101)", "(@101:103)", "#16(@101)", ""])
    def test_a_list_that_did_not_take_is_refused(self, said: str) -> None:
        bench = Bench(self.SCANNING, {"READ?": "+1.0E-02,+2.0E-02", "ROUT:SCAN?": said})
        with pytest.raises(MeterRefused, match="channels 101, 103 were asked for"):
            bench.start("101", "103")

    def test_a_list_of_another_length_is_refused(self) -> None:
        bench = Bench(self.SCANNING, {"READ?": "+1.0E-02,+2.0E-02", "ROUT:SCAN?": "(@101,103)"})
        bench.start("101", "103")
        bench.instrument.answers["READ?"] = "+1.0E-02,+2.0E-02,+3.0E-02"
        with pytest.raises(LinkGarbled):
            bench.read()

    @pytest.mark.parametrize("inputs", [("104",), ("101", "101")])
    def test_a_channel_it_has_not_is_refused(self, inputs: tuple[str, ...]) -> None:
        bench = Bench(self.CLOSING, {"READ?": "+1.0E-02"})
        with pytest.raises(MeterRefused, match="101, 102, 103, each once"):
            bench.start(*inputs)


@pytest.mark.parametrize(
    ("said", "channels"),
    [
        ("(@101:103)", ("101", "102", "103")),
        ("(@101, 103)", ("101", "103")),
        ("#214(@101:102,105)", ("101", "102", "105")),
        ("(@)", ()),
        ("nothing", ()),
    ],
)
def test_channel_lists_are_read(said: str, channels: tuple[str, ...]) -> None:
    assert channels_in(said) == channels


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ('[scanner]\nchannels = ["1"]\n', "either close or scan"),
        ('input = [{ name = "2", index = 1 }]\n', "input 2 is field 1 of 1"),
    ],
)
def test_impossible_inputs_are_refused_in_the_file(more: str, words: str) -> None:
    text = 'name = "x"\ntitle = "x"\n' + more + '[read]\nlines = ["READ?"]\n'
    with pytest.raises(DialectError, match=words):
        read_dialect(text, "own.toml")


def test_a_user_dialect_is_chosen_by_identity_before_the_shipped_ones() -> None:
    own = read_dialect(BARE + '[choose]\nidentity = "^INVENTED,"\n[read]\nlines = ["VAL?"]\n', "own.toml")
    other = read_dialect(BARE + '[choose]\nidentity = "^OTHER,"\n[read]\nlines = ["X?"]\n', "other.toml")
    instrument = FakeInstrument()
    instrument.answers["VAL?"] = "+1.35E-02"
    meter = ScpiMeter("m", FakeLink(instrument), SteppedClock(), dialects=(other, own))
    meter.connect(host_seconds() + 30.0)

    assert meter.configure(MeterSetup(), host_seconds() + 30.0).dialect == "own"


def test_without_any_fitting_dialect_it_is_refused() -> None:
    other = read_dialect(BARE + '[choose]\nidentity = "^OTHER,"\n[read]\nlines = ["X?"]\n', "other.toml")
    meter = ScpiMeter("m", FakeLink(FakeInstrument()), SteppedClock(), dialects=(other,))
    meter.connect(host_seconds() + 30.0)
    with pytest.raises(MeterRefused, match="no dialect fits"):
        meter.configure(MeterSetup(), host_seconds() + 30.0)


# --- lines ------------------------------------------------------------------------------------------------


def test_a_meter_that_echoes_and_prompts_is_spoken_to_by_its_dialect() -> None:
    """Named beforehand, because such a meter answers *IDN? so as well."""

    def script(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        answer = {b"*IDN?": b"MAKER,ECHOING,1,1.0", b"READ?": b"+1.35E-02"}.get(line)
        conversation.send(line + b"\r\n" + (answer + b"\r\n" if answer else b"") + b"=> ")
        return None

    server = LineServer(script)
    dialect = read_dialect(
        BARE + 'line = { echo = true, prompts = ["=>"] }\n[read]\nlines = ["READ?"]\n', "own.toml"
    )
    meter = ScpiMeter("m", link_for(server.address), SteppedClock(), dialect)
    try:
        assert meter.connect(host_seconds() + 5.0) == "MAKER,ECHOING,1,1.0"
        meter.configure(MeterSetup(0.1, integration_s=0.2), host_seconds() + 5.0)
        (reading,) = meter.read(host_seconds() + 5.0)
    finally:
        meter.disconnect()
        server.stop()

    assert isinstance(reading, Reading)
    assert reading.value == 0.0135


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("line = { compound = false }", "one"),
        ("line = { longest = 30 }", "longest says 30"),
        ('line = { prompts = [" "] }', "printable"),
        ("line = { ctrl_d = true }", "no such entry"),
    ],
)
def test_what_a_meter_cannot_take_is_refused_when_its_file_is_read(line: str, words: str) -> None:
    """A line of 30 characters is all that some meters take; a place is counted with what may stand there."""
    text = (
        BARE
        + line
        + '\nstart = ["FORM:ELEM READ;:SENS:VOLT:RANG {range_volts}"]\n[read]\nlines = ["READ?"]\n'
    )
    with pytest.raises(DialectError, match=words):
        read_dialect(text, "own.toml")


def test_lines_that_fit_are_taken() -> None:
    text = BARE + 'line = { compound = false, longest = 30 }\nstart = ["*CLS"]\n[read]\nlines = ["READ?"]\n'

    assert read_dialect(text, "own.toml").line.longest == 30
