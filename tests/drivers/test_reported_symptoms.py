"""Symptoms from public threads of the libraries underneath, each tried against our links and meters."""

from __future__ import annotations

import errno
import itertools
import os
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import serial
from fake_instrument import IDENTITY, FakeInstrument, FakeLink
from loopback_servers import Conversation, LineServer, PtyServer, Script, answering

from drivers.addresses import link_for
from drivers.clock import LifeClock, SteppedClock, host_seconds
from drivers.errors import LinkGarbled, LinkLost, LinkRefused, LinkTimedOut
from drivers.links import Link
from drivers.links.serial import SerialLink
from drivers.links.visa import VisaLink, shared_manager
from drivers.meter import MeterSetup
from drivers.reading import MeterState, MeterStatus, Reading
from drivers.requests import PeriodRequest
from drivers.scpi.meter import ScpiMeter
from drivers.worker import Fact, WorkerCore

LONG_S = 2.0
SHORT_S = 0.04
Serve = Callable[[Script], Link]


@pytest.fixture
def serve() -> Iterator[Serve]:
    made: list[tuple[LineServer, Link]] = []

    def make(script: Script) -> Link:
        server = LineServer(script)
        link = link_for(server.address)
        made.append((server, link))
        return link

    yield make
    for server, link in made:
        link.close()
        server.stop()


def test_a_greeting_before_the_first_answer_is_not_the_name(serve: Serve) -> None:
    """pyvisa-py #149: an extra first line that the manual does not mention."""

    def greeting(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        answer = answering(number, line, conversation)
        # In one piece: sent apart, a busy computer may part them by more than any meter would.
        return b"Welcome to the instrument\n" + answer if number == 1 and answer else answer

    meter = ScpiMeter("m", serve(greeting), LifeClock())

    assert meter.connect(host_seconds() + LONG_S) == IDENTITY


def test_an_answer_left_by_an_earlier_program_is_not_the_name(serve: Serve) -> None:
    """pyvisa #535, #953: what was not read to its end comes first next time."""

    def leftover(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        if number == 1:
            conversation.send(b"+1.2E-02\n")
        return answering(number, line, conversation)

    meter = ScpiMeter("m", serve(leftover), LifeClock())

    assert meter.connect(host_seconds() + LONG_S) == IDENTITY


def test_an_idle_connection_is_kept_alive() -> None:
    """pyvisa-py #285, #292: sessions are cut after five idle minutes on the way."""
    instrument, clock = FakeInstrument(), SteppedClock()
    posted: list[Fact] = []
    core = WorkerCore(
        ScpiMeter("m", FakeLink(instrument), clock), clock, posted.append, setup=MeterSetup(0.1)
    )
    talked: list[float] = []
    take = instrument.take
    instrument.take = lambda line: (talked.append(clock.now()), take(line))[1]  # type: ignore[method-assign]
    core.ask(PeriodRequest("r", 900.0))
    due_s = core.advance(0.0)
    while due_s < 1800.0:
        clock.advance_to(due_s)
        due_s = core.advance(due_s)

    assert max(later - earlier for earlier, later in itertools.pairwise(talked)) <= 60.0


def test_several_lines_with_mixed_endings_are_not_one_reading(serve: Serve) -> None:
    """pyvisa #920: some lines end in CR LF and some in LF, and nobody knows how many come."""
    link = serve(lambda number, line, conversation: b"+1.0E-02\r\n+2.0E-02\nOK\r")
    link.open(host_seconds() + LONG_S)

    with pytest.raises(LinkGarbled, match="more than one line"):
        link.query(b"READ?", host_seconds() + LONG_S)


def test_an_answer_without_any_ending_is_shown(serve: Serve) -> None:
    """pyvisa #190: a device that does not end its lines at all."""

    def endless(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        conversation.send(IDENTITY.encode("ascii"))
        return None

    link = serve(endless)
    link.open(host_seconds() + LONG_S)
    with pytest.raises(LinkTimedOut, match="only b'INVENTED"):
        link.query(b"*IDN?", host_seconds() + SHORT_S)


@pytest.mark.skipif(os.name == "nt", reason="there are no pseudo-terminals on Windows")
class TestSerialPorts:
    @pytest.mark.parametrize(
        "problem",
        [
            # pyserial #401: unplugging raises the system's own error, not the library's
            OSError(errno.EIO, "Input/output error"),
            # pyserial #446, #474: on Windows, in the middle of reading
            serial.SerialException("ClearCommError failed (PermissionError(13, 'Access denied', None, 5))"),
            # pyserial #575: a virtual port, read without cause
            serial.SerialException("ClearCommError failed (OSError(22, 'The parameter is incorrect.'))"),
        ],
    )
    def test_whatever_reading_raises_is_a_loss(
        self, monkeypatch: pytest.MonkeyPatch, problem: Exception
    ) -> None:
        server = PtyServer()
        link = SerialLink(server.name)
        link.open(host_seconds() + LONG_S)

        def broken(port: serial.Serial, size: int = 1) -> bytes:
            raise problem

        try:
            with monkeypatch.context() as patched:
                patched.setattr(serial.Serial, "read", broken)
                with pytest.raises(LinkLost):
                    link.query(b"READ?", host_seconds() + LONG_S)
            link.open(host_seconds() + LONG_S)
            assert link.query(b"*IDN?", host_seconds() + LONG_S).raw.decode() == IDENTITY
        finally:
            link.close()
            server.stop()


@pytest.mark.parametrize(
    ("problem", "words"),
    [
        # pyserial #684, #736: the port of a program that crashed
        (
            serial.SerialException("could not open port 'COM6': PermissionError(13, 'Access is denied.')"),
            "another program holds COM6",
        ),
        # pyserial #484 and its lock: another program asked for the port alone
        (serial.SerialException(errno.EAGAIN, "Could not exclusively lock port"), "another program holds"),
        # pyserial #739: a device without the optional requests
        (serial.SerialException("Cannot configure port, something went wrong."), "cannot be opened"),
    ],
)
def test_a_port_that_cannot_be_opened_is_refused_in_words(
    monkeypatch: pytest.MonkeyPatch, problem: Exception, words: str
) -> None:
    def opening(port: serial.Serial) -> None:
        raise problem

    monkeypatch.setattr(serial.Serial, "open", opening)
    monkeypatch.setattr("drivers.links.serial._RETRY_S", 0.0)
    with pytest.raises(LinkRefused, match=words):
        SerialLink("COM6").open(host_seconds() + LONG_S)


class _Manager:
    """A resource manager whose opening fails, or whose session does."""

    def __init__(self, problem: Exception) -> None:
        self._problem = problem

    def open_resource(self, *_: Any, **__: Any) -> Any:
        raise self._problem


def test_a_device_that_another_driver_holds_is_named_as_such(monkeypatch: pytest.MonkeyPatch) -> None:
    """pyusb #76, #357: [Errno 16] Resource busy while the configuration is set."""
    problem = Exception("failed to set configuration\n [Errno 16] Resource busy")
    monkeypatch.setattr("drivers.links.visa.shared_manager", lambda library: _Manager(problem))
    with pytest.raises(LinkRefused, match="another program, or a driver"):
        VisaLink("USB0::0x1234::0x5678::SN1::INSTR").open(host_seconds() + LONG_S)


def test_an_overflow_while_reading_is_a_loss_and_not_a_value(monkeypatch: pytest.MonkeyPatch) -> None:
    """python-usbtmc #34: [Errno 75] Overflow; PyVISA-py passes the library's error on as it is."""

    class Library:
        sessions: dict[int, object] = {}

        def set_attribute(self, *_: Any) -> None:
            return None

        def write(self, *_: Any) -> None:
            return None

        def ignore_warning(self, *_: Any) -> Any:
            raise OSError(errno.EOVERFLOW, "Overflow")

    class Resource:
        visalib, session = Library(), 1

        def close(self) -> None:
            return None

    class Manager:
        def open_resource(self, *_: Any, **__: Any) -> Resource:
            return Resource()

    monkeypatch.setattr("drivers.links.visa.shared_manager", lambda library: Manager())
    link = VisaLink("USB0::0x1234::0x5678::SN1::INSTR")
    link.open(host_seconds() + LONG_S)
    with pytest.raises(LinkLost, match="Overflow"):
        link.query(b"READ?", host_seconds() + LONG_S)
    assert link.dirty
    link.close()


def test_interrupted_queries_of_an_earlier_program_are_noted_and_not_read() -> None:
    """python-usbtmc #35: -410, Query INTERRUPTED, waits in the error queue."""
    instrument = FakeInstrument()
    errors = iter(['-410,"Query INTERRUPTED"', '+0,"No error"'])
    take = instrument.take
    instrument.take = lambda line: next(errors) if line == "SYST:ERR?" else take(line)  # type: ignore[method-assign]
    clock = SteppedClock()
    posted: list[Fact] = []
    core = WorkerCore(
        ScpiMeter("m", FakeLink(instrument), clock), clock, posted.append, setup=MeterSetup(0.1)
    )
    for _ in range(3):
        clock.advance_to(core.advance(clock.now()))

    polling = [fact for fact in posted if isinstance(fact, MeterStatus) and fact.state is MeterState.POLLING]
    assert "Query INTERRUPTED" in polling[-1].detail
    assert [fact.value for fact in posted if isinstance(fact, Reading)] == [0.0135]


def test_a_raw_socket_that_drops_what_it_acknowledges_costs_one_gap(serve: Serve) -> None:
    """pyvisa #662: a question now and then is taken and never answered."""

    def forgetful(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        return None if number == 3 else answering(number, line, conversation)

    link = serve(forgetful)
    link.open(host_seconds() + LONG_S)
    link.query(b"*IDN?", host_seconds() + LONG_S)
    link.query(b"READ?", host_seconds() + LONG_S)
    with pytest.raises(LinkTimedOut):
        link.query(b"READ?", host_seconds() + SHORT_S)
    link.resync(b"*IDN?", IDENTITY.encode("ascii"), host_seconds() + LONG_S)

    assert float(link.query(b"READ?", host_seconds() + LONG_S).raw) == 0.005


def test_the_one_manager_is_shared_and_survives_its_links() -> None:
    """Closing one thing must not close another."""
    assert shared_manager() is shared_manager()
    server = LineServer()
    link = link_for(server.address)
    link.open(host_seconds() + LONG_S)
    link.close()
    server.stop()

    assert shared_manager().session
