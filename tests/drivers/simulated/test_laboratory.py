"""The whole simulated bench, reached as real meters are: over sockets on this computer, or in process."""

from __future__ import annotations

import contextlib
import socket
import struct
from collections.abc import Iterator

import pytest

from drivers.clock import ScaledClock, SteppedClock, host_seconds
from drivers.errors import LinkAborted, LinkError, LinkGarbled, LinkLost, LinkRefused, LinkTimedOut
from drivers.links import Link
from drivers.meter import MeterSetup
from drivers.reading import Reading
from drivers.scpi.meter import ScpiMeter
from drivers.simulated.bench import Mains
from drivers.simulated.faults import ConnectionFaults, Fault, FaultKind, FaultScript, Rule
from drivers.simulated.hislip_server import HEADER, Message, framed
from drivers.simulated.laboratory import Laboratory, Manner

SERVED = [Manner.HISLIP, Manner.TCP]
EVERY = [*SERVED, Manner.IN_PROCESS]
ONCE = [Rule(Fault(FaultKind.SILENT), nth=2)]


def soon(seconds: float = 5.0) -> float:
    return host_seconds() + seconds


def clock_for(manner: Manner) -> SteppedClock | ScaledClock:
    return SteppedClock() if manner is Manner.IN_PROCESS else ScaledClock(200.0)


@contextlib.contextmanager
def opened(laboratory: Laboratory, meter: str = "left") -> Iterator[Link]:
    link = laboratory.link(meter)
    link.open(soon())
    try:
        yield link
    finally:
        link.close()


@pytest.mark.parametrize("manner", EVERY)
def test_each_meter_answers_with_its_own_name(manner: Manner) -> None:
    with Laboratory("healthy", clock_for(manner), seed=4, manner=manner) as laboratory:
        names = {}
        for meter in ("left", "right"):
            with opened(laboratory, meter) as link:
                names[meter] = link.query(b"*IDN?", soon()).raw
    assert names == {"left": b"Fenrow,6120,FW004001,1.04", "right": b"Fenrow,6120,FW004002,1.04"}


@pytest.mark.parametrize("manner", EVERY)
def test_a_meter_of_the_program_reads_the_bench(manner: Manner) -> None:
    clock = clock_for(manner)
    with Laboratory("healthy", clock, manner=manner) as laboratory:
        laboratory.bench.switch_mains(Mains.FULL)
        meter = ScpiMeter("left", laboratory.link("left"), clock)
        meter.connect(soon())
        try:
            facts = meter.configure(MeterSetup(0.1, integration_s=0.2), soon(20.0))
            if isinstance(clock, SteppedClock):
                clock.advance_to(clock.now() + 900.0)
            (reading,) = meter.read(soon())
            truth = laboratory.bench.truth().bias_volts[0]
        finally:
            meter.disconnect()
    assert facts.range_volts == 0.1
    assert facts.integration_s == pytest.approx(0.2)
    assert not facts.unconfirmed
    assert isinstance(reading, Reading)
    assert 0.006 < reading.value < 0.012
    assert reading.value == pytest.approx(truth, rel=0.2)


@pytest.mark.parametrize("manner", SERVED)
def test_every_value_was_measured_between_question_and_answer(manner: Manner) -> None:
    with Laboratory("healthy", ScaledClock(200.0), manner=manner) as laboratory:
        laboratory.bench.switch_mains(Mains.FULL)
        with opened(laboratory) as link:
            link.write(b"CONF:VOLT:DC 0.1;:VOLT:NPLC 0.02", soon())
            replies = [link.query(b"READ?", soon()) for _ in range(100)]
        measured = list(laboratory.instruments["left"].measured)
    assert len(measured) == 100
    for reply, entry in zip(replies, measured, strict=True):
        assert reply.raw.decode() == entry.text
        assert reply.sent <= entry.host_start <= entry.host_end <= reply.received
        assert entry.start_s <= entry.end_s


@pytest.mark.parametrize("manner", SERVED)
def test_only_this_computer_can_reach_the_servers(manner: Manner) -> None:
    with Laboratory("healthy", ScaledClock(100.0), manner=manner) as laboratory:
        listener = laboratory.server("left")._listener
        assert listener is not None
        assert listener.getsockname()[0] == "127.0.0.1"
        assert "127.0.0.1" in laboratory.addresses["left"]
        assert laboratory.addresses["left"] != laboratory.addresses["right"]


@pytest.mark.parametrize("manner", SERVED)
def test_stopping_ends_all_connections_and_the_same_port_serves_again(manner: Manner) -> None:
    laboratory = Laboratory("healthy", ScaledClock(100.0), manner=manner)
    laboratory.start()
    address = laboratory.addresses["left"]
    with opened(laboratory) as link:
        assert laboratory.stop()
        with pytest.raises(LinkError):
            link.query(b"*IDN?", soon(2.0))
        link.close()
        with pytest.raises(LinkRefused):
            link.open(soon(2.0))
        laboratory.start()
        assert laboratory.addresses["left"] == address
        link.open(soon())
        assert link.query(b"*OPC?", soon()).raw == b"1"
    assert laboratory.stop()


@pytest.mark.parametrize("manner", SERVED)
def test_stopping_does_not_wait_for_a_long_reading(manner: Manner) -> None:
    laboratory = Laboratory("healthy", ScaledClock(0.1), manner=manner)
    laboratory.start()
    with opened(laboratory) as link:
        link.write(b"VOLT:NPLC 100;:READ?", soon())  # forty seconds at this speed
        began = host_seconds()
        assert laboratory.stop(5.0)
        assert host_seconds() - began < 3.0
        with pytest.raises(LinkError):
            link.query(b"*OPC?", soon(0.5))


@pytest.mark.parametrize("manner", EVERY)
def test_an_answer_that_does_not_come_is_a_time_out_and_the_next_is_right(manner: Manner) -> None:
    scripts = {"left": FaultScript(ONCE)}
    with (
        Laboratory("healthy", clock_for(manner), manner=manner, scripts=scripts) as laboratory,
        opened(laboratory) as link,
    ):
        name = link.query(b"*IDN?", soon()).raw
        with pytest.raises(LinkTimedOut):
            link.query(b"*OPC?", soon(0.1))
        assert link.dirty
        link.resync(b"*IDN?", name, soon())
        assert not link.dirty
        assert link.query(b"SYST:VERS?", soon()).raw == b"1999.0"


@pytest.mark.parametrize("manner", EVERY)
@pytest.mark.parametrize("kind", [FaultKind.FIN, FaultKind.RST])
def test_a_closed_connection_is_lost_and_can_be_opened_again(manner: Manner, kind: FaultKind) -> None:
    scripts = {"left": FaultScript([Rule(Fault(kind), nth=1)])}
    with (
        Laboratory("healthy", clock_for(manner), manner=manner, scripts=scripts) as laboratory,
        opened(laboratory) as link,
    ):
        with pytest.raises(LinkLost):
            link.query(b"*IDN?", soon(2.0))
        link.open(soon())
        assert link.query(b"*OPC?", soon()).raw == b"1"


@pytest.mark.parametrize("manner", [Manner.TCP, Manner.IN_PROCESS])
@pytest.mark.parametrize("kind", [FaultKind.TWO, FaultKind.ECHO])
def test_two_lines_for_one_question_are_refused(manner: Manner, kind: FaultKind) -> None:
    scripts = {"left": FaultScript([Rule(Fault(kind), nth=1)])}
    with (
        Laboratory("healthy", clock_for(manner), manner=manner, scripts=scripts) as laboratory,
        opened(laboratory) as link,
        pytest.raises(LinkGarbled),
    ):
        link.query(b"*OPC?", soon(2.0))


def test_hislip_drops_a_late_answer_by_its_number() -> None:
    scripts = {"left": FaultScript([Rule(Fault(FaultKind.LATE, 0.2), nth=1)])}
    with (
        Laboratory("healthy", ScaledClock(100.0), scripts=scripts) as laboratory,
        opened(laboratory) as link,
    ):
        with pytest.raises(LinkTimedOut):
            link.query(b"*OPC?", soon(0.05))
        link.resync(b"*IDN?", b"Fenrow,6120,FW000001,1.04", soon())
        assert link.query(b"SYST:VERS?", soon()).raw == b"1999.0"


def test_one_client_at_a_time_where_the_instrument_allows_only_one() -> None:
    faults = {"left": ConnectionFaults(one_client_s=0.0)}
    with Laboratory("healthy", ScaledClock(100.0), manner=Manner.TCP, connection_faults=faults) as laboratory:
        with opened(laboratory) as first:
            assert first.query(b"*OPC?", soon()).raw == b"1"
            with opened(laboratory) as second, pytest.raises(LinkError):
                second.query(b"*OPC?", soon(1.0))
            assert first.query(b"*OPC?", soon()).raw == b"1"
        assert laboratory.server("left").accepted == 1


def test_an_idle_connection_is_closed_where_the_instrument_does_so() -> None:
    faults = {"left": ConnectionFaults(idle_close_s=0.05)}
    with (
        Laboratory("healthy", ScaledClock(100.0), manner=Manner.TCP, connection_faults=faults) as laboratory,
        socket.create_connection(("127.0.0.1", laboratory.server("left").port), 5.0) as connection,
    ):
        assert connection.recv(10) == b""


def test_a_banner_greets_and_a_mute_server_says_nothing() -> None:
    faults = {"left": ConnectionFaults(banner=b"\xff\xfb\x01"), "right": ConnectionFaults(mute=True)}
    with Laboratory("healthy", ScaledClock(100.0), manner=Manner.TCP, connection_faults=faults) as laboratory:
        with socket.create_connection(("127.0.0.1", laboratory.server("left").port), 5.0) as connection:
            assert connection.recv(3) == b"\xff\xfb\x01"
        with opened(laboratory, "right") as link, pytest.raises(LinkTimedOut):
            link.query(b"*IDN?", soon(0.1))


@pytest.mark.parametrize("kind", [FaultKind.STREAM, FaultKind.DRIP, FaultKind.HALF_LATE])
def test_a_server_ends_in_the_middle_of_a_fault(kind: FaultKind) -> None:
    scripts = {"left": FaultScript([Rule(Fault(kind, 30.0), nth=1)])}
    laboratory = Laboratory("healthy", ScaledClock(100.0), manner=Manner.TCP, scripts=scripts)
    laboratory.start()
    with opened(laboratory) as link:
        with pytest.raises(LinkError):
            link.query(b"*IDN?", soon(0.1))
        assert laboratory.stop(5.0)


# -- HiSLIP messages, by hand -------------------------------------------------------------------------------


@contextlib.contextmanager
def raw(laboratory: Laboratory) -> Iterator[socket.socket]:
    with socket.create_connection(("127.0.0.1", laboratory.server("left").port), 5.0) as connection:
        yield connection


def message_from(connection: socket.socket) -> tuple[int, int, int, bytes]:
    header = b""
    while len(header) < HEADER.size:
        piece = connection.recv(HEADER.size - len(header))
        assert piece, "the server closed the connection"
        header += piece
    prologue, kind, control, parameter, length = HEADER.unpack(header)
    assert prologue == b"HS"
    payload = b""
    while len(payload) < length:
        payload += connection.recv(length - len(payload))
    return kind, control, parameter, payload


def open_session(sync: socket.socket, control: socket.socket) -> None:
    sync.sendall(framed(Message.INITIALIZE, parameter=0x0100_0000, payload=b"hislip0"))
    kind, overlap, parameter, _ = message_from(sync)
    assert (kind, overlap, parameter >> 16) == (Message.INITIALIZE_RESPONSE, 0, 0x0100)
    control.sendall(framed(Message.ASYNC_INITIALIZE, parameter=parameter & 0xFFFF))
    assert message_from(control)[0] == Message.ASYNC_INITIALIZE_RESPONSE


def test_hislip_control_messages_are_answered_in_kind() -> None:
    # Message types: IVI-6.1 table 4.
    with (
        Laboratory("healthy", ScaledClock(100.0)) as laboratory,
        raw(laboratory) as sync,
        raw(laboratory) as ctl,
    ):
        open_session(sync, ctl)
        ctl.sendall(framed(Message.ASYNC_MAX_MSG_SIZE, payload=struct.pack("!Q", 4096)))
        kind, _, _, payload = message_from(ctl)
        assert kind == Message.ASYNC_MAX_MSG_SIZE_RESPONSE
        assert struct.unpack("!Q", payload)[0] >= 4096
        for asked, answered in [
            (Message.ASYNC_LOCK, Message.ASYNC_LOCK_RESPONSE),
            (Message.ASYNC_LOCK_INFO, Message.ASYNC_LOCK_INFO_RESPONSE),
            (Message.ASYNC_STATUS_QUERY, Message.ASYNC_STATUS_RESPONSE),
            (Message.ASYNC_REMOTE_LOCAL_CONTROL, Message.ASYNC_REMOTE_LOCAL_RESPONSE),
        ]:
            ctl.sendall(framed(asked))
            assert message_from(ctl)[0] == answered
        ctl.sendall(HEADER.pack(b"HS", 200, 0, 0, 3) + b"abc")
        assert message_from(ctl)[:2] == (Message.ERROR, 1)


def test_hislip_data_may_come_in_pieces_and_the_answer_carries_the_number_of_the_last() -> None:
    with (
        Laboratory("healthy", ScaledClock(100.0)) as laboratory,
        raw(laboratory) as sync,
        raw(laboratory) as ctl,
    ):
        open_session(sync, ctl)
        sync.sendall(framed(Message.DATA, parameter=0xFFFFFF00, payload=b"SYST:"))
        sync.sendall(framed(Message.DATA_END, parameter=0xFFFFFF02, payload=b"VERS?\n"))
        assert message_from(sync) == (Message.DATA_END, 0, 0xFFFFFF02, b"1999.0\n")


def test_hislip_device_clear_forgets_what_was_said_by_halves() -> None:
    with (
        Laboratory("healthy", ScaledClock(100.0)) as laboratory,
        raw(laboratory) as sync,
        raw(laboratory) as ctl,
    ):
        open_session(sync, ctl)
        sync.sendall(framed(Message.DATA, parameter=0xFFFFFF00, payload=b"NONSENSE "))
        ctl.sendall(framed(Message.ASYNC_DEVICE_CLEAR))
        assert message_from(ctl)[0] == Message.ASYNC_DEVICE_CLEAR_ACKNOWLEDGE
        sync.sendall(framed(Message.DEVICE_CLEAR_COMPLETE))
        assert message_from(sync)[0] == Message.DEVICE_CLEAR_ACKNOWLEDGE
        sync.sendall(framed(Message.DATA_END, parameter=0xFFFFFF00, payload=b"*OPC?\n"))
        assert message_from(sync)[3] == b"1\n"


@pytest.mark.parametrize(
    ("sent", "code"),
    [
        (b"GET / HTTP/1.1\r\n\r\n", 1),
        (framed(Message.ASYNC_INITIALIZE, parameter=999), 3),
        (framed(Message.DATA_END, payload=b"*IDN?\n"), 3),
    ],
)
def test_hislip_says_what_is_wrong_with_a_stranger_and_hangs_up(sent: bytes, code: int) -> None:
    with Laboratory("healthy", ScaledClock(100.0)) as laboratory, raw(laboratory) as connection:
        connection.sendall(sent)
        assert message_from(connection)[:2] == (Message.FATAL_ERROR, code)
        with contextlib.suppress(ConnectionResetError):  # unread bytes turn the close into a reset
            assert connection.recv(1) == b""


def test_a_hislip_session_ends_with_either_of_its_connections() -> None:
    with (
        Laboratory("healthy", ScaledClock(100.0)) as laboratory,
        raw(laboratory) as sync,
        raw(laboratory) as ctl,
    ):
        open_session(sync, ctl)
        ctl.close()
        assert sync.recv(1) == b""


# -- in process ---------------------------------------------------------------------------------------------


def test_an_unplugged_link_is_lost_then_refused_then_open_again() -> None:
    laboratory = Laboratory("healthy", SteppedClock(), manner=Manner.IN_PROCESS)
    link = laboratory._links["left"]
    link.open(soon())
    link.unplug()
    with pytest.raises(LinkLost):
        link.query(b"*IDN?", soon())
    with pytest.raises(LinkRefused):
        link.open(soon())
    link.plug()
    link.open(soon())
    assert link.query(b"*OPC?", soon()).raw == b"1"


def test_an_aborted_link_says_so_once() -> None:
    with opened(Laboratory("healthy", SteppedClock(), manner=Manner.IN_PROCESS)) as link:
        link.abort()
        with pytest.raises(LinkAborted):
            link.query(b"*IDN?", soon())
        assert link.query(b"*OPC?", soon()).raw == b"1"


def test_an_answer_nobody_asked_for_makes_the_link_dirty() -> None:
    with opened(Laboratory("healthy", SteppedClock(), manner=Manner.IN_PROCESS)) as link:
        link.write(b"*IDN?", soon())
        with pytest.raises(LinkGarbled):
            link.query(b"*OPC?", soon())


def test_half_an_hour_in_steps_gives_the_same_readings_every_time() -> None:
    courses = []
    for _ in range(2):
        clock = SteppedClock()
        with opened(Laboratory("intermittent_joint", clock, seed=9, manner=Manner.IN_PROCESS)) as link:
            link.write(b"CONF:VOLT:DC 0.1", soon())
            course = []
            for _ in range(60):
                clock.advance_to(clock.now() + 5.0)
                course.append(link.query(b"READ?", soon()).raw)
            courses.append(course)
    assert courses[0] == courses[1]


def test_what_cannot_be_built_is_refused_in_words() -> None:
    with pytest.raises(ValueError, match="in process"):
        Laboratory("healthy", SteppedClock(), manner=Manner.TCP)
    with pytest.raises(ValueError, match="different names"):
        Laboratory("healthy", SteppedClock(), manner=Manner.IN_PROCESS, meters=("a", "a"))
