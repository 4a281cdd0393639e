"""The simulated instrument over a raw TCP connection: one line in, one line out (`TCPIP::...::SOCKET`)."""

from __future__ import annotations

import socket

from drivers.simulated.faults import faulty_messages
from drivers.simulated.loopback_server import ConnectionEnded, LoopbackServer

LONGEST_LINE = 65_536


class TcpServer(LoopbackServer):
    """Lines end with a line feed, both ways; a carriage return before it is ignored."""

    @property
    def address(self) -> str:
        """The VISA resource string."""
        return f"TCPIP::127.0.0.1::{self.port}::SOCKET"

    def _serve(self, connection: socket.socket) -> None:
        buffer = bytearray()
        while True:
            data = connection.recv(4096)
            if not data:
                return
            buffer += data
            if len(buffer) > LONGEST_LINE:
                raise ConnectionEnded  # no line of a sane client is that long
            while (end := buffer.find(b"\n")) >= 0:
                line = bytes(buffer[:end]).rstrip(b"\r")
                del buffer[: end + 1]
                self._one_line(connection, line)

    def _one_line(self, connection: socket.socket, line: bytes) -> None:
        answer = self._answer(line)
        if answer is None:
            return
        fault = self.script.next_fault(line)
        messages = faulty_messages(fault, line, answer)
        self._send(connection, fault, b"".join(message + b"\n" for message in messages))
