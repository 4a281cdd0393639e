"""A line link over TCP of our own, for `TCPIP::...::SOCKET` addresses.

PyVISA-py's raw sockets attribute late answers to the next question and spin on a closed connection
(pyvisa-py #376, #61, #83). Here everything is non-blocking with one monotonic deadline, and a wake-up
socket lets `abort` interrupt any wait, connecting included. The rules of a line are in `links.line`.
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
from drivers.errors import LinkError, LinkLost, LinkRefused, LinkTimedOut
from drivers.links.line import LINE_LIMIT, LineLink, Manners

_CHUNK = 16_384

_Destination = tuple[socket.AddressFamily, tuple[Any, ...]]


class TcpLink(LineLink):
    """One line out, one line back, over a TCP connection. See `drivers.links.Link` for the contract."""

    def __init__(
        self,
        host: str,
        port: int,
        *,
        address: str = "",
        manners: Manners | None = None,
        line_limit: int = LINE_LIMIT,
    ) -> None:
        super().__init__(address or f"TCPIP::{host}::{port}::SOCKET", manners=manners, line_limit=line_limit)
        self._host = host
        self._port = port
        self._socket: socket.socket | None = None
        self._selector: selectors.BaseSelector | None = None
        # The wake-up pair lives as long as the link, so that `abort` never meets a closed or reused socket.
        self._wake_in, self._wake_out = socket.socketpair()
        self._wake_in.setblocking(False)
        self._wake_out.setblocking(False)

    # --- opening and closing ------------------------------------------------------------------------

    def open(self, deadline: float) -> None:
        """See `Link.open`. Can be aborted at any moment, name look-up included."""
        self.close()
        self._raise_if_aborted()
        refusal: LinkError = LinkRefused(self._address, f"the name {self._host} leads nowhere")
        destinations = self._destinations(deadline)
        for place, (family, destination) in enumerate(destinations):
            # A name of two addresses may lead to a silent one first: what time is left is shared among them.
            left_s = deadline - host_seconds()
            share = host_seconds() + left_s / (len(destinations) - place)
            try:
                self._connect(family, destination, min(deadline, share))
                return
            except (LinkRefused, LinkTimedOut) as problem:
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
        if hasattr(self, "_wake_out"):
            self.close()
            self._wake_in.close()
            self._wake_out.close()

    # --- the wire -----------------------------------------------------------------------------------

    def abort(self) -> None:
        """See `Link.abort`. Ends any wait at once."""
        super().abort()
        self._wake()

    def _need_open(self) -> None:
        if self._socket is None:
            raise LinkLost(self._address, "the connection is not open")

    def _push(self, data: bytes, deadline: float) -> None:
        assert self._socket is not None
        view = memoryview(data)
        while view:
            try:
                view = view[self._socket.send(view) :]
            except BlockingIOError:
                self._wait_to_send(deadline)
            except OSError as problem:
                raise self._lost(problem) from problem

    def _wait_to_send(self, deadline: float) -> None:
        assert self._selector is not None
        assert self._socket is not None
        self._selector.modify(self._socket, selectors.EVENT_WRITE)
        try:
            self._wait(deadline, "the meter does not take what is sent to it")
        except LinkTimedOut:
            self._dirty = True  # half a command may have left
            raise
        finally:
            self._selector.modify(self._socket, selectors.EVENT_READ)

    def _receive(self) -> int:
        assert self._socket is not None
        try:
            chunk = self._socket.recv(_CHUNK)
        except BlockingIOError:
            return 0
        except OSError as problem:
            raise self._lost(problem) from problem
        if not chunk:
            raise self._lost(None)
        return self._keep(chunk)

    def _wait(self, deadline: float, sentence: str) -> None:
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

    def _wake(self) -> None:
        with contextlib.suppress(OSError):  # full means that it is awake already
            self._wake_in.send(b"\0")

    def _drain_wake(self) -> None:
        with contextlib.suppress(OSError):
            while self._wake_out.recv(64):
                pass
