"""Lines that arrive by themselves become readings; what does not fit becomes a gap with the line in it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator

import pytest
from loopback_servers import Conversation, LineServer, PtyServer

from drivers.addresses import stream_link
from drivers.clock import LifeClock, host_seconds
from drivers.errors import AddressError, LinkTimedOut, MeterRefused
from drivers.meter import MeterSetup
from drivers.reading import Gap, GapReason, Reading, Unit
from drivers.stream import LinePattern, StreamMeter

Talk = Callable[..., tuple[StreamMeter, Callable[[bytes], None]]]


@pytest.fixture(params=["tcp", "serial"])
def talk(request: pytest.FixtureRequest) -> Iterator[Talk]:
    """A meter, and a way to make its instrument say something; it answers each poke with the next words."""
    if request.param == "serial" and os.name == "nt":
        pytest.skip("there are no pseudo-terminals on Windows")
    words: list[bytes] = []

    def script(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        conversation.send(words.pop(0))
        return None

    server = LineServer(script) if request.param == "tcp" else PtyServer(script)
    made: list[StreamMeter] = []

    def make(pattern: LinePattern | None = None) -> tuple[StreamMeter, Callable[[bytes], None]]:
        link = stream_link(f"stream:{server.address}")
        meter = StreamMeter("logger", link, LifeClock(), pattern, every_s=0.01)
        made.append(meter)
        meter.connect(host_seconds() + 2.0)

        def say(data: bytes) -> None:
            words.append(data)
            link.write(b"poke", host_seconds() + 2.0)

        return meter, say

    yield make
    for meter in made:
        meter.disconnect()
    server.stop()


def configured(
    talk: Talk, first: bytes, pattern: LinePattern | None = None
) -> tuple[StreamMeter, Callable[[bytes], None]]:
    meter, say = talk(pattern)
    say(b"4.9\n")  # what is left of a line when the port is opened
    meter._link.next_line(host_seconds() + 2.0)
    words = iter([first, first])
    next_line = meter._link.next_line

    def poking(deadline: float):  # type: ignore[no-untyped-def]
        say(next(words))
        return next_line(deadline)

    meter._link.next_line = poking  # type: ignore[method-assign]
    meter.configure(MeterSetup(), host_seconds() + 2.0)
    meter._link.next_line = next_line  # type: ignore[method-assign]
    return meter, say


def read(meter: StreamMeter) -> tuple[Reading | Gap, ...]:
    return meter.read(host_seconds() + 2.0)


def test_a_bare_number_is_millivolts(talk: Talk) -> None:
    meter, say = configured(talk, b"13.1\r\n")
    say(b"13.4\r\n")
    (fact,) = read(meter)

    assert isinstance(fact, Reading)
    assert (fact.input, fact.value, fact.unit) == ("1", 0.0134, Unit.VOLT)
    assert fact.start_s <= fact.end_s


def test_every_field_is_an_input(talk: Talk) -> None:
    meter, say = configured(talk, b"13.1;6.2 mV;0.0205 V\n")
    assert meter.inputs == ("1", "2", "3")
    say(b"13.4;OL;0.0201 V\n")
    first, second, third = read(meter)

    assert isinstance(first, Reading)
    assert isinstance(second, Gap)
    assert second.reason is GapReason.OVERLOAD
    assert isinstance(third, Reading)
    assert third.value == 0.0201


@pytest.mark.parametrize(
    ("line", "fields"),
    [
        (b"13,4;6,2 mV", {"1": "13.4", "2": "6.2 mV"}),
        (b"13,4\t-0,2", {"1": "13.4", "2": "-0.2"}),
        (b"13.4,6.2", {"1": "13.4", "2": "6.2"}),
        (b"13.4", {"1": "13.4"}),
    ],
)
def test_a_comma_is_the_decimal_mark_where_it_parts_no_fields(line: bytes, fields: dict[str, str]) -> None:
    """13,4 mV are neither 13 mV nor 4 mV."""
    assert LinePattern().take_apart(line) == fields


def test_a_pattern_names_the_inputs(talk: Talk) -> None:
    pattern = LinePattern(r"L=(?P<left>\S+) T=(?P<sink>\S+)", {"left": "mV", "sink": "\xb0C"})
    meter, say = configured(talk, b"t 1 L=13.1 T=31.5\n", pattern)
    say(b"t 2 L=13.4 T=32.5\n")
    left, sink = read(meter)

    assert isinstance(left, Reading)
    assert (left.input, left.value) == ("left", 0.0134)
    assert isinstance(sink, Reading)
    assert (sink.input, sink.value, sink.unit) == ("sink", 32.5, Unit.CELSIUS)


def test_a_line_that_does_not_fit_is_a_gap_with_the_line(talk: Talk) -> None:
    meter, say = configured(talk, b"13.1\n")
    say(b"LOW BATTERY\n")
    (fact,) = read(meter)

    assert isinstance(fact, Gap)
    assert fact.reason is GapReason.GARBLED
    assert "LOW BATTERY" in fact.detail


def test_a_line_with_other_fields_is_a_gap(talk: Talk) -> None:
    meter, say = configured(talk, b"13.1,2.0\n")
    say(b"13.1\n")

    assert [type(fact) for fact in read(meter)] == [Gap, Gap]


def test_of_several_lines_that_waited_the_newest_is_taken(talk: Talk) -> None:
    meter, say = configured(talk, b"13.1\n")
    say(b"13.2\n13.3\n13.4\n")
    (fact,) = read(meter)

    assert isinstance(fact, Reading)
    assert fact.value == 0.0134


def test_silence_is_a_time_out(talk: Talk) -> None:
    meter, _ = configured(talk, b"13.1\n")
    with pytest.raises(LinkTimedOut):
        meter.read(host_seconds() + 0.04)
    meter.recover(host_seconds() + 1.0)


def test_reading_before_looking_is_refused(talk: Talk) -> None:
    meter, _ = talk()
    with pytest.raises(MeterRefused):
        read(meter)


@pytest.mark.parametrize(
    ("expression", "units", "words"),
    [
        ("(", {}, "cannot be used"),
        (r"\d+", {}, "names no input"),
        ("", {"": "furlongs"}, "not a unit"),
    ],
)
def test_a_wrong_pattern_is_refused(expression: str, units: dict[str, str], words: str) -> None:
    with pytest.raises(AddressError, match=words):
        LinePattern(expression, units)


def test_only_a_stream_address_has_a_stream() -> None:
    with pytest.raises(AddressError, match="write stream: in front"):
        stream_link("TCPIP::127.0.0.1::5025::SOCKET")
