"""A line link over TCP of our own, for `TCPIP::...::SOCKET` addresses.

PyVISA-py's raw sockets attribute late answers to the next question and spin on a closed connection
(pyvisa-py #376, #61, #83), so this one is written for the rules of `drivers.links`: one answer line to one
question, nothing else in between; anything else makes the link dirty. Everything is non-blocking with one
monotonic deadline, and a wake-up socket lets `abort` interrupt any wait, connecting included.

Not here: what the lines mean (`drivers.scpi`), when to ask (`drivers.worker`).
"""

from __future__ import annotations

import contextlib
import errno
import ipaddress
import os
import selectors
import socket
import threading
from typing import Any

from drivers.clock import host_seconds
from drivers.errors import LinkAborted, LinkError, LinkGarbled, LinkLost, LinkRefused, LinkTimedOut
from drivers.links import Reply

LINE_LIMIT = 65_536
_BLANK = b"\0\r\n \t"  # what may stand around a line without being one
_QUIET_S = 0.01  # how long the line must stay silent after a sentinel before it counts as clean
_CHUNK = 16_384

_Destination = tuple[socket.AddressFamily, tuple[Any, ...]]


class TcpLink:
    """One line out, one line back, over a TCP connection. See `drivers.links.Link` for the contract."""

    def __init__(self, host: str, port: int, *, address: str = "", line_limit: int = LINE_LIMIT) -> None:
        self._host = host
        self._port = port
        self._address = address or f"TCPIP::{host}::{port}::SOCKET"
        self._line_limit = line_limit
        self._socket: socket.socket | None = None
        self._selector: selectors.BaseSelector | None = None
        self._buffer = bytearray()
        self._dirty = False
        self._ending = b"\n"
        # The wake-up pair lives as long as the link, so that `abort` never meets a closed or reused socket.
        self._wake_in, self._wake_out = socket.socketpair()
        self._wake_in.setblocking(False)
        self._wake_out.setblocking(False)
        self._abort = threading.Event()

    @property
    def address(self) -> str:
        """See `Link.address`."""
        return self._address

    @property
    def dirty(self) -> bool:
        """See `Link.dirty`."""
        return self._dirty

    # --- opening and closing ------------------------------------------------------------------------

    def open(self, deadline: float) -> None:
        """See `Link.open`. Can be aborted at any moment, name look-up included."""
        self.close()
        self._raise_if_aborted()
        refusal: LinkError = LinkRefused(self._address, f"the name {self._host} leads nowhere")
        for family, destination in self._destinations(deadline):
            try:
                self._connect(family, destination, deadline)
                return
            except LinkRefused as problem:
                refusal = problem
        raise refusal

    def _destinations(self, deadline: float) -> list[_Destination]:
        """Where the host name leads. A name look-up blocks, so it gets a thread that nobody waits for."""
        try:
            numeric = ipaddress.ip_address(self._host)
        except ValueError:
            return self._look_up(deadline)
        family = socket.AF_INET6 if numeric.version == 6 else socket.AF_INET
        return [(family, (self._host, self._port))]

    def _look_up(self, deadline: float) -> list[_Destination]:
        found: list[_Destination] = []
        problems: list[str] = []
        done = threading.Event()

        def look_up() -> None:
            try:
                for family, _, _, _, where in socket.getaddrinfo(
                    self._host, self._port, type=socket.SOCK_STREAM
                ):
                    found.append((family, where))
            except (OSError, UnicodeError) as problem:
                problems.append(str(problem))
            done.set()
            self._wake()

        threading.Thread(target=look_up, name=f"look up {self._host}", daemon=True).start()
        with selectors.DefaultSelector() as selector:
            selector.register(self._wake_out, selectors.EVENT_READ)
            while not done.is_set():
                left_s = deadline - host_seconds()
                if left_s <= 0.0:
                    raise LinkTimedOut(
                        self._address,
                        f"the name {self._host} could not be looked up in time; give its number",
                    )
                selector.select(left_s)
                self._drain_wake()
                self._raise_if_aborted()
        if problems:
            raise LinkRefused(
                self._address, f"no such name on this network as {self._host}; check it or give its number"
            )
        return found

    def _connect(self, family: socket.AddressFamily, destination: tuple[Any, ...], deadline: float) -> None:
        connection = socket.socket(family, socket.SOCK_STREAM)
        self._socket = connection
        try:
            connection.setblocking(False)
            # Without this a write followed by a query waits 40 ms for a delayed acknowledgement.
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            connection.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
            self._selector = selectors.DefaultSelector()
            self._selector.register(self._wake_out, selectors.EVENT_READ)
            code = connection.connect_ex(destination)
            if code in (errno.EINPROGRESS, errno.EWOULDBLOCK, getattr(errno, "WSAEWOULDBLOCK", -1)):
                self._selector.register(connection, selectors.EVENT_WRITE)
                self._wait(deadline, f"nobody answered at {self._host} port {self._port} in time")
                code = connection.getsockopt(socket.SOL_SOCKET, socket.SO_ERROR)
                self._selector.unregister(connection)
            if code:
                raise LinkRefused(self._address, self._refusal(code))
            self._selector.register(connection, selectors.EVENT_READ)
        except OSError as problem:
            self.close()
            raise LinkRefused(self._address, self._refusal(problem.errno or 0)) from problem
        except LinkError:
            self.close()
            raise

    def _refusal(self, code: int) -> str:
        where = f"{self._host} port {self._port}"
        if code in (errno.ECONNREFUSED, getattr(errno, "WSAECONNREFUSED", -1)):
            return (
                f"{where} refuses the connection; check the port, and that no other program holds the meter"
            )
        if code in (errno.EHOSTUNREACH, errno.ENETUNREACH):
            return f"{where} cannot be reached; check the cable and the address"
        return f"{where} cannot be connected to ({os.strerror(code) if code else 'no reason given'})"

    def close(self) -> None:
        """See `Link.close`. The link may be opened again."""
        if self._selector is not None:
            self._selector.close()
            self._selector = None
        if self._socket is not None:
            with contextlib.suppress(OSError):
                self._socket.close()
            self._socket = None
        self._buffer.clear()
        self._dirty = False

    def __del__(self) -> None:
        if hasattr(self, "_abort"):
            self.close()
            self._wake_in.close()
            self._wake_out.close()

    # --- asking -------------------------------------------------------------------------------------

    def query(self, line: bytes, deadline: float) -> Reply:
        """See `Link.query`."""
        connection = self._clean_connection()
        self._refuse_unasked(connection)
        sent = host_seconds()
        self._send(connection, line + b"\n", deadline)
        self._dirty = True  # until the answer is complete, whatever ends this call
        raw = self._read_line(connection, deadline)
        received = host_seconds()
        if self._buffer.strip(_BLANK):
            # Two lines to one question: either may belong to an older one, so neither is believed.
            raise LinkGarbled(
                self._address,
                "more than one line came in answer to one question",
                raw + b"\n" + bytes(self._buffer[:200]),
            )
        self._buffer.clear()
        self._dirty = False
        return Reply(raw, sent, received)

    def write(self, line: bytes, deadline: float) -> None:
        """See `Link.write`."""
        self._raise_if_aborted()
        self._send(self._connection(), line + b"\n", deadline)

    def mark_dirty(self) -> None:
        """See `Link.mark_dirty`."""
        self._dirty = True

    def resync(self, sentinel: bytes, expected: bytes, deadline: float) -> None:
        """See `Link.resync`.

        An instrument answers in order, so whatever was late comes before the sentinel's answer. An answer
        to an earlier sentinel may be taken for this one's; the real one is then found unasked before the
        next question, and it is a name, which no parser takes for a reading.
        """
        self._raise_if_aborted()
        connection = self._connection()
        self._dirty = True
        self._buffer.clear()
        self._send(connection, sentinel + b"\n", deadline)
        while self._read_line(connection, deadline).strip(_BLANK) != expected.strip(_BLANK):
            pass
        self._wait_for_quiet(connection, deadline)
        self._dirty = False

    def abort(self) -> None:
        """See `Link.abort`. Stays pending until one call has raised it."""
        self._abort.set()
        self._wake()

    # --- the wire -----------------------------------------------------------------------------------

    def _connection(self) -> socket.socket:
        if self._socket is None:
            raise LinkLost(self._address, "the connection is not open")
        return self._socket

    def _clean_connection(self) -> socket.socket:
        self._raise_if_aborted()
        connection = self._connection()
        if self._dirty:
            raise LinkGarbled(self._address, "an earlier answer may still be on its way; resynchronise first")
        return connection

    def _refuse_unasked(self, connection: socket.socket) -> None:
        """Bytes that are there before the question cannot be its answer."""
        while self._receive(connection) and len(self._buffer) <= self._line_limit:
            pass
        if self._buffer.strip(_BLANK):
            self._dirty = True
            received = bytes(self._buffer[:200])
            self._buffer.clear()
            raise LinkGarbled(self._address, "something came that nobody asked for", received)
        self._buffer.clear()

    def _send(self, connection: socket.socket, data: bytes, deadline: float) -> None:
        view = memoryview(data)
        while view:
            try:
                view = view[connection.send(view) :]
            except BlockingIOError:
                assert self._selector is not None
                self._selector.modify(connection, selectors.EVENT_WRITE)
                try:
                    self._wait(deadline, "the meter does not take what is sent to it")
                except LinkTimedOut:
                    self._dirty = True  # half a command may have left
                    raise
                finally:
                    self._selector.modify(connection, selectors.EVENT_READ)
            except OSError as problem:
                raise self._lost(problem) from problem

    def _read_line(self, connection: socket.socket, deadline: float) -> bytes:
        """One line without its ending; blank lines are skipped. Raises with the part that came."""
        looked_at = 0
        while True:
            end = self._buffer.find(self._ending, looked_at)
            if end >= 0:
                line = bytes(self._buffer[:end]).strip(_BLANK)
                del self._buffer[: end + 1]
                looked_at = 0
                if line:
                    return line
                continue
            looked_at = len(self._buffer)
            if looked_at > self._line_limit:
                received = bytes(self._buffer[:200])
                self._buffer.clear()
                raise LinkGarbled(
                    self._address, f"{self._line_limit} bytes came without an end of line", received
                )
            try:
                self._wait(deadline, "no complete answer came in time")
            except LinkTimedOut as problem:
                return self._ended_by_carriage_return(problem)
            self._receive(connection)

    def _ended_by_carriage_return(self, problem: LinkTimedOut) -> bytes:
        """Some meters end a line with CR alone. Known from the first answer, which takes the whole time."""
        received = bytes(self._buffer)
        line = received.strip(_BLANK)
        if line and received.endswith(b"\r") and b"\r" not in line:
            self._ending = b"\r"
            self._buffer.clear()
            return line
        sentence = problem.sentence if not line else f"only {received[:80]!r} came in time"
        raise LinkTimedOut(self._address, sentence, received) from None

    def _receive(self, connection: socket.socket) -> int:
        """Take what has arrived, without waiting; the number of bytes. The end of the stream is a loss."""
        try:
            chunk = connection.recv(_CHUNK)
        except BlockingIOError:
            return 0
        except OSError as problem:
            raise self._lost(problem) from problem
        if not chunk:
            raise self._lost(None)
        if len(self._buffer) <= self._line_limit:
            self._buffer += chunk
        return len(chunk)

    def _lost(self, problem: OSError | None) -> LinkLost:
        self._dirty = True
        received = bytes(self._buffer[:200])
        reason = "the meter closed the connection" if problem is None else f"the connection broke ({problem})"
        return LinkLost(self._address, reason, received)

    def _wait_for_quiet(self, connection: socket.socket, deadline: float) -> None:
        """Return when nothing has come for a moment."""
        while True:
            self._buffer.clear()
            quiet_until = min(deadline, host_seconds() + _QUIET_S)
            try:
                self._wait(quiet_until, "")
            except LinkTimedOut:
                if host_seconds() >= deadline:
                    raise LinkTimedOut(self._address, "the meter keeps talking unasked") from None
                return
            self._receive(connection)

    def _wait(self, deadline: float, sentence: str) -> None:
        """Wait until the socket is ready. Raises LinkTimedOut with `sentence`, or LinkAborted."""
        assert self._selector is not None
        while True:
            left_s = deadline - host_seconds()
            if left_s <= 0.0:
                raise LinkTimedOut(self._address, sentence, bytes(self._buffer[:200]))
            ready = False
            for key, _ in self._selector.select(left_s):
                if key.fileobj is self._wake_out:
                    self._drain_wake()
                    self._raise_if_aborted()
                else:
                    ready = True
            if ready:
                return

    def _raise_if_aborted(self) -> None:
        if self._abort.is_set():
            self._abort.clear()
            self._drain_wake()
            raise LinkAborted(self._address, "given up on request")

    def _wake(self) -> None:
        with contextlib.suppress(OSError):  # full means that it is awake already
            self._wake_in.send(b"\0")

    def _drain_wake(self) -> None:
        with contextlib.suppress(OSError):
            while self._wake_out.recv(64):
                pass
