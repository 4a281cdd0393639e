"""The simulated instrument over HiSLIP, synchronized mode (`TCPIP::...::hislip0,PORT::INSTR`).

Source: IVI-6.1 "IVI High-Speed LAN Instrument Protocol", revision 1.1, tables 3 and 4 and section 6. Each
session is a pair of connections, synchronous for data and asynchronous for control. Not offered: overlap
mode, service requests, encryption; locks are always granted.
"""

from __future__ import annotations

import contextlib
import socket
import struct
import threading
from dataclasses import dataclass, field
from enum import IntEnum
from typing import Final

from drivers.clock import Clock
from drivers.simulated.faults import ConnectionFaults, FaultScript, faulty_messages
from drivers.simulated.loopback_server import ConnectionEnded, LoopbackServer, received
from drivers.simulated.scpi_table import LineInstrument

HEADER: Final = struct.Struct("!2sBBIQ")
PROLOGUE: Final = b"HS"
VERSION: Final = 0x0100
VENDOR: Final = int.from_bytes(b"FW", "big")
LARGEST_MESSAGE: Final = 1 << 20


class Message(IntEnum):
    """Message types, IVI-6.1 table 4."""

    INITIALIZE = 0
    INITIALIZE_RESPONSE = 1
    FATAL_ERROR = 2
    ERROR = 3
    ASYNC_LOCK = 4
    ASYNC_LOCK_RESPONSE = 5
    DATA = 6
    DATA_END = 7
    DEVICE_CLEAR_COMPLETE = 8
    DEVICE_CLEAR_ACKNOWLEDGE = 9
    ASYNC_REMOTE_LOCAL_CONTROL = 10
    ASYNC_REMOTE_LOCAL_RESPONSE = 11
    TRIGGER = 12
    ASYNC_MAX_MSG_SIZE = 15
    ASYNC_MAX_MSG_SIZE_RESPONSE = 16
    ASYNC_INITIALIZE = 17
    ASYNC_INITIALIZE_RESPONSE = 18
    ASYNC_DEVICE_CLEAR = 19
    ASYNC_STATUS_QUERY = 21
    ASYNC_STATUS_RESPONSE = 22
    ASYNC_DEVICE_CLEAR_ACKNOWLEDGE = 23
    ASYNC_LOCK_INFO = 24
    ASYNC_LOCK_INFO_RESPONSE = 25


@dataclass(frozen=True, slots=True)
class _Received:
    kind: int
    control: int
    parameter: int
    payload: bytes


@dataclass(slots=True)
class _Session:
    """One client: its two connections."""

    number: int
    connections: list[socket.socket] = field(default_factory=list)
    clearing: threading.Event = field(default_factory=threading.Event)


def framed(kind: Message, control: int = 0, parameter: int = 0, payload: bytes = b"") -> bytes:
    """One message with its header."""
    return HEADER.pack(PROLOGUE, kind, control, parameter, len(payload)) + payload


class HislipServer(LoopbackServer):
    """HiSLIP for one instrument, sub-address `hislip0`."""

    connections_a_client = 2

    def __init__(
        self,
        instrument: LineInstrument,
        clock: Clock | None,
        *,
        name: str = "instrument",
        script: FaultScript | None = None,
        connection_faults: ConnectionFaults | None = None,
    ) -> None:
        super().__init__(instrument, clock, name=name, script=script, connection_faults=connection_faults)
        self._sessions: dict[int, _Session] = {}
        self._next_number = 1

    @property
    def address(self) -> str:
        """The VISA resource string."""
        return f"TCPIP::127.0.0.1::hislip0,{self.port}::INSTR"

    def _serve(self, connection: socket.socket) -> None:
        first = _receive(connection)
        if first.kind == Message.INITIALIZE:
            session = self._open_session(connection)
            version_and_session = (VERSION << 16) | session.number
            connection.sendall(framed(Message.INITIALIZE_RESPONSE, parameter=version_and_session))
            self._serve_synchronous(connection, session)
        elif first.kind == Message.ASYNC_INITIALIZE:
            joined = self._join_session(connection, first.parameter)
            if joined is None:
                connection.sendall(framed(Message.FATAL_ERROR, 3, payload=b"no such session"))
                return
            connection.sendall(framed(Message.ASYNC_INITIALIZE_RESPONSE, parameter=VENDOR))
            self._serve_asynchronous(connection, joined)
        else:
            connection.sendall(framed(Message.FATAL_ERROR, 3, payload=b"Initialize comes first"))

    # -- sessions -----------------------------------------------------------------------------------------

    def _open_session(self, connection: socket.socket) -> _Session:
        with self._lock:
            while self._next_number in self._sessions:
                self._next_number = self._next_number % 0xFFFF + 1
            session = _Session(self._next_number, [connection])
            self._sessions[session.number] = session
            self._next_number = self._next_number % 0xFFFF + 1
            return session

    def _join_session(self, connection: socket.socket, number: int) -> _Session | None:
        with self._lock:
            session = self._sessions.get(number)
            if session is not None:
                session.connections.append(connection)
            return session

    def _ended(self, connection: socket.socket) -> None:
        """A session ends with either of its connections."""
        super()._ended(connection)
        with self._lock:
            over = [s for s in self._sessions.values() if connection in s.connections]
            for session in over:
                self._sessions.pop(session.number, None)
        for session in over:
            for other in session.connections:
                if other is not connection:
                    with contextlib.suppress(OSError):
                        other.shutdown(socket.SHUT_RDWR)

    # -- the two connections ------------------------------------------------------------------------------

    def _serve_synchronous(self, connection: socket.socket, session: _Session) -> None:
        data = bytearray()
        while True:
            message = _receive(connection)
            if message.kind in (Message.DATA, Message.DATA_END):
                data += message.payload
                if len(data) > LARGEST_MESSAGE:
                    connection.sendall(framed(Message.FATAL_ERROR, 0, payload=b"the line is too long"))
                    return
                if message.kind == Message.DATA_END:
                    self._lines(connection, session, bytes(data), message.parameter)
                    data.clear()
            elif message.kind == Message.TRIGGER:
                self._answer(b"*TRG")
            elif message.kind == Message.DEVICE_CLEAR_COMPLETE:
                data.clear()
                session.clearing.clear()
                connection.sendall(framed(Message.DEVICE_CLEAR_ACKNOWLEDGE))
            else:
                connection.sendall(framed(Message.ERROR, 1, payload=b"unrecognized message type"))

    def _lines(self, connection: socket.socket, session: _Session, data: bytes, number: int) -> None:
        for line in data.rstrip(b"\r\n\0").split(b"\n"):
            answer = self._answer(line.rstrip(b"\r"))
            # A device clear while the answer was made throws it away.
            if answer is None or session.clearing.is_set():
                continue
            fault = self.script.next_fault(line)
            messages = faulty_messages(fault, line, answer)
            self._send(
                connection,
                fault,
                b"".join(framed(Message.DATA_END, 0, number, each + b"\n") for each in messages),
            )

    def _serve_asynchronous(self, connection: socket.socket, session: _Session) -> None:
        while True:
            message = _receive(connection)
            if message.kind == Message.ASYNC_MAX_MSG_SIZE:
                size = struct.pack("!Q", LARGEST_MESSAGE)
                reply = framed(Message.ASYNC_MAX_MSG_SIZE_RESPONSE, payload=size)
            elif message.kind == Message.ASYNC_DEVICE_CLEAR:
                session.clearing.set()
                reply = framed(Message.ASYNC_DEVICE_CLEAR_ACKNOWLEDGE)
            elif message.kind == Message.ASYNC_STATUS_QUERY:
                reply = framed(Message.ASYNC_STATUS_RESPONSE, self.instrument.status_byte())
            elif message.kind == Message.ASYNC_LOCK:
                reply = framed(Message.ASYNC_LOCK_RESPONSE, 1)
            elif message.kind == Message.ASYNC_LOCK_INFO:
                reply = framed(Message.ASYNC_LOCK_INFO_RESPONSE)
            elif message.kind == Message.ASYNC_REMOTE_LOCAL_CONTROL:
                reply = framed(Message.ASYNC_REMOTE_LOCAL_RESPONSE)
            else:
                reply = framed(Message.ERROR, 1, payload=b"unrecognized message type")
            connection.sendall(reply)


def _receive(connection: socket.socket) -> _Received:
    prologue, kind, control, parameter, length = HEADER.unpack(received(connection, HEADER.size))
    if prologue != PROLOGUE or length > LARGEST_MESSAGE:
        connection.sendall(framed(Message.FATAL_ERROR, 1, payload=b"poorly formed message header"))
        raise ConnectionEnded
    return _Received(kind, control, parameter, received(connection, length))
