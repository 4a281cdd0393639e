"""A server on this computer only: one listener, one thread a connection, everything ended by `stop`.

Here: threads, sockets and their ends, faults of connections. What is said on a connection is in the servers
made from it (`tcp_server`, `hislip_server`).
"""

from __future__ import annotations

import abc
import contextlib
import os
import socket
import struct
import threading

from drivers.clock import Clock, host_seconds
from drivers.simulated.faults import (
    Close,
    ConnectionFaults,
    Fault,
    FaultScript,
    Pause,
    Pour,
    Send,
    wire_steps,
)
from drivers.simulated.scpi_table import LineInstrument

HOST = "127.0.0.1"


class ConnectionEnded(Exception):
    """The connection is over; its thread unwinds."""


class LoopbackServer(abc.ABC):
    """Serves one instrument on 127.0.0.1. The port is chosen at the first start and kept for the next.

    Args:
        instrument: answers the lines.
        clock: bench time; readings take their time on it. None in stepped time: answers come at once.
        script: which query meets which fault.
        connection_faults: what is wrong with connections as such.
    """

    connections_a_client = 1

    def __init__(
        self,
        instrument: LineInstrument,
        clock: Clock | None,
        *,
        name: str = "instrument",
        script: FaultScript | None = None,
        connection_faults: ConnectionFaults | None = None,
    ) -> None:
        self.instrument = instrument
        self.script = script or FaultScript()
        self.connection_faults = connection_faults or ConnectionFaults()
        self.accepted = 0
        self._clock = clock
        self._name = name
        self._port = 0
        self._listener: socket.socket | None = None
        self._stop = threading.Event()
        self._lock = threading.Lock()
        self._connections: set[socket.socket] = set()
        self._threads: list[threading.Thread] = []
        self._free_again_s = -1e9

    @property
    def port(self) -> int:
        """Where it listens; 0 before the first start."""
        return self._port

    def start(self) -> None:
        """Begin to listen. Raises OSError when the port of an earlier start has been taken meanwhile."""
        if self._listener is not None:
            return
        self._stop.clear()
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        try:
            if os.name == "posix":
                # So that a stopped server may come back to its port at once. Elsewhere this option would
                # let a stranger share the port.
                listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            listener.bind((HOST, self._port))
            listener.listen(16)
        except OSError:
            listener.close()
            raise
        self._port = listener.getsockname()[1]
        self._listener = listener
        self._accepting = threading.Thread(target=self._accept, name=f"{self._name} listens")
        self._threads = [self._accepting]
        self._accepting.start()

    def stop(self, timeout_s: float = 5.0) -> bool:
        """End listener and connections; True when every thread has ended within `timeout_s` of host time."""
        deadline = host_seconds() + timeout_s
        self._stop.set()
        listener, self._listener = self._listener, None
        if listener is not None:
            self._wake(listener)
            self._accepting.join(max(0.0, deadline - host_seconds()))
            listener.close()
        self.drop_connections()
        with self._lock:
            threads = list(self._threads)
        for thread in threads:
            thread.join(max(0.0, deadline - host_seconds()))
        return not any(thread.is_alive() for thread in threads)

    def drop_connections(self) -> None:
        """End the connections there are, as an instrument does that loses its power; go on listening."""
        with self._lock:
            connections = list(self._connections)
        for connection in connections:
            with contextlib.suppress(OSError):
                connection.shutdown(socket.SHUT_RDWR)

    def __enter__(self) -> LoopbackServer:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    # -- connections --------------------------------------------------------------------------------------

    def _wake(self, listener: socket.socket) -> None:
        """Make a blocked accept return; closing the listener alone does not, on Linux."""
        with contextlib.suppress(OSError), socket.create_connection(listener.getsockname(), 1.0):
            pass

    def _accept(self) -> None:
        listener = self._listener
        while listener is not None and not self._stop.is_set():
            try:
                connection, _ = listener.accept()
            except OSError:
                return
            if self._stop.is_set() or self._occupied():
                connection.close()
                continue
            self.accepted += 1
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            thread = threading.Thread(target=self._own, args=(connection,), name=f"{self._name} serves")
            with self._lock:
                self._connections.add(connection)
                self._threads = [each for each in self._threads if each.is_alive()] + [thread]
                thread.start()

    def _occupied(self) -> bool:
        if self.connection_faults.one_client_s is None:
            return False
        with self._lock:
            full = len(self._connections) >= self.connections_a_client
            return full or (not self._connections and host_seconds() < self._free_again_s)

    def _own(self, connection: socket.socket) -> None:
        """The thread of one connection, from its beginning to its end."""
        faults = self.connection_faults
        try:
            if faults.banner:
                connection.sendall(faults.banner)
            if faults.never_reads:
                self._stop.wait()
            elif faults.mute:
                while connection.recv(4096):
                    pass
            else:
                connection.settimeout(faults.idle_close_s)
                self._serve(connection)
        except (OSError, ConnectionEnded):
            pass  # the peer went away, or this side was told to
        finally:
            with contextlib.suppress(OSError):
                connection.close()
            self._ended(connection)

    @abc.abstractmethod
    def _serve(self, connection: socket.socket) -> None:
        """Speak on a connection until it ends, by returning or raising OSError or ConnectionEnded."""

    def _ended(self, connection: socket.socket) -> None:
        """Forget a connection that is over."""
        with self._lock:
            self._connections.discard(connection)
            self._free_again_s = host_seconds() + (self.connection_faults.one_client_s or 0.0)

    # -- answers ------------------------------------------------------------------------------------------

    def _answer(self, line: bytes) -> bytes | None:
        return self.instrument.handle(line, None if self._clock is None else self._wait)

    def _wait(self, until_s: float) -> bool:
        assert self._clock is not None
        self._clock.wait_until(until_s, self._stop)
        return not self._stop.is_set()

    def _send(self, connection: socket.socket, fault: Fault | None, framed: bytes) -> None:
        for step in wire_steps(fault, framed):
            if isinstance(step, Send):
                connection.sendall(step.data)
            elif isinstance(step, Pause):
                if self._stop.wait(step.seconds):
                    raise ConnectionEnded
            elif isinstance(step, Pour):
                while not self._stop.is_set():
                    connection.sendall(step.data)
            elif isinstance(step, Close):
                if step.reset:
                    # A linger time of zero turns the close into a reset.
                    at_once = struct.pack("hh" if os.name == "nt" else "ii", 1, 0)
                    connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, at_once)
                raise ConnectionEnded


def received(connection: socket.socket, length: int) -> bytes:
    """Exactly `length` bytes. Raises ConnectionEnded when the peer closes before."""
    data = bytearray()
    while len(data) < length:
        piece = connection.recv(length - len(data))
        if not piece:
            raise ConnectionEnded
        data += piece
    return bytes(data)
