"""Small scripted servers on loopback, and the script they follow.

A script is called with the number of the question (counted from 1) and the line; it returns what to send,
or acts on the connection itself. Servers listen on port 0 of 127.0.0.1 only.
"""

from __future__ import annotations

import contextlib
import os
import select
import socket
import struct
import threading
from collections.abc import Callable
from typing import TypeAlias

IDENTITY = b"INVENTED,MODEL 1,0001,1.0"

Script: TypeAlias = Callable[[int, bytes, "Conversation"], bytes | None]


class Conversation:
    """One accepted connection, as a script sees it."""

    def __init__(self, connection: socket.socket, ending: bytes = b"\n") -> None:
        self.connection = connection
        self.message_id = 0
        self._ending = ending

    def frame(self, text: bytes) -> bytes:
        """One answer as it travels."""
        return text + self._ending

    def send(self, data: bytes) -> None:
        with contextlib.suppress(OSError):
            self.connection.sendall(data)

    def finish(self) -> None:
        """Close our side, so that the client reads the end of the stream."""
        with contextlib.suppress(OSError):
            self.connection.shutdown(socket.SHUT_RDWR)
        self.connection.close()

    def reset(self) -> None:
        """Break the connection with a reset instead of an orderly end."""
        self.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        self.connection.close()


def answering(number: int, line: bytes, conversation: Conversation) -> bytes | None:
    """An instrument in health: its name, and a value that says which question it answers."""
    if line == b"*IDN?":
        return IDENTITY
    if line.endswith(b"?"):
        return b"%+.8E" % (number / 1000.0)
    return None


class LineServer:
    """Answers lines over TCP by a script, one connection after another."""

    def __init__(self, script: Script = answering, *, ending: bytes = b"\n", port: int = 0) -> None:
        self._script = script
        self._ending = ending
        self._listener = socket.create_server(("127.0.0.1", port))
        self.port = self._listener.getsockname()[1]
        self.lines: list[bytes] = []
        self.opened = 0
        self._open: list[Conversation] = []
        self._stopping = False
        self._thread = threading.Thread(target=self._serve, name="line server")
        self._thread.start()

    @property
    def address(self) -> str:
        return f"TCPIP::127.0.0.1::{self.port}::SOCKET"

    def stop(self) -> None:
        self._stopping = True
        with contextlib.suppress(OSError):
            socket.create_connection(("127.0.0.1", self.port), timeout=1.0).close()
        for conversation in self._open:
            with contextlib.suppress(OSError):
                conversation.connection.shutdown(socket.SHUT_RDWR)
        self._thread.join(5.0)
        self._listener.close()
        assert not self._thread.is_alive()

    def _serve(self) -> None:
        while True:
            connection, _ = self._listener.accept()
            if self._stopping:
                connection.close()
                return
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self.opened += 1
            conversation = Conversation(connection, self._ending)
            self._open.append(conversation)
            with contextlib.suppress(OSError):
                self._converse(conversation)
            connection.close()

    def _converse(self, conversation: Conversation) -> None:
        number = 0
        received = b""
        while chunk := conversation.connection.recv(4096):
            *lines, received = (received + chunk).split(b"\n")
            for line in lines:
                number += 1
                self.lines.append(line.strip())
                answer = self._script(number, line.strip(), conversation)
                if answer is not None:
                    conversation.send(conversation.frame(answer))


class HislipConversation(Conversation):
    """A conversation whose answers are HiSLIP messages that carry the number of the question."""

    def frame(self, text: bytes) -> bytes:
        return HislipServer.message(text, self.message_id)


class HislipServer:
    """The smallest HiSLIP 1.0 server (IVI-6.1): one client at a time, synchronous data only."""

    _HEADER = struct.Struct("!2sBBIQ")

    def __init__(self, script: Script = answering) -> None:
        self._script = script
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]
        self.lines: list[bytes] = []
        self.opened = 0
        self._open: list[socket.socket] = []
        self._stopping = False
        self._threads = [threading.Thread(target=self._accept, name="hislip server")]
        self._threads[0].start()

    @property
    def address(self) -> str:
        return f"TCPIP::127.0.0.1::hislip0,{self.port}::INSTR"

    def stop(self) -> None:
        self._stopping = True
        with contextlib.suppress(OSError):
            socket.create_connection(("127.0.0.1", self.port), timeout=1.0).close()
        for connection in self._open:
            with contextlib.suppress(OSError):
                connection.shutdown(socket.SHUT_RDWR)
        for thread in self._threads:
            thread.join(5.0)
            assert not thread.is_alive()
        self._listener.close()

    def _accept(self) -> None:
        while True:
            connection, _ = self._listener.accept()
            if self._stopping:
                connection.close()
                return
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self._open.append(connection)
            thread = threading.Thread(target=self._serve, args=(connection,), name="hislip channel")
            self._threads.append(thread)
            thread.start()

    def _serve(self, connection: socket.socket) -> None:
        conversation = HislipConversation(connection)
        number = 0
        received = bytearray()
        with contextlib.suppress(OSError), connection:
            while True:
                header = connection.recv(16, socket.MSG_WAITALL)
                if len(header) < 16:
                    return
                _, kind, _, parameter, length = self._HEADER.unpack(header)
                payload = connection.recv(length, socket.MSG_WAITALL) if length else b""
                if kind == 0:  # Initialize: protocol 1.0, session 1
                    self.opened += 1
                    connection.sendall(self._HEADER.pack(b"HS", 1, 0, 0x0100_0001, 0))
                elif kind == 17:  # AsyncInitialize
                    connection.sendall(self._HEADER.pack(b"HS", 18, 0, 0, 0))
                elif kind == 15:  # AsyncMaxMsgSize
                    connection.sendall(self._HEADER.pack(b"HS", 16, 0, 0, 8) + struct.pack("!Q", 1 << 20))
                elif kind in (6, 7):  # Data, DataEnd
                    received += payload
                    if kind == 7:
                        number += 1
                        conversation.message_id = parameter
                        self._answer(number, bytes(received).strip(), conversation)
                        received.clear()

    def _answer(self, number: int, line: bytes, conversation: Conversation) -> None:
        self.lines.append(line)
        answer = self._script(number, line, conversation)
        if answer is not None:
            conversation.send(conversation.frame(answer))

    @classmethod
    def message(cls, text: bytes, message_id: int) -> bytes:
        """One whole DataEnd message."""
        return cls._HEADER.pack(b"HS", 7, 0, message_id, len(text) + 1) + text + b"\n"


class PtyConversation(Conversation):
    """A conversation over the controlling side of a pseudo-terminal."""

    def __init__(self, descriptor: int, ending: bytes = b"\n") -> None:
        self._descriptor = descriptor
        self._ending = ending
        self.message_id = 0

    def send(self, data: bytes) -> None:
        with contextlib.suppress(OSError):
            while data:
                data = data[os.write(self._descriptor, data) :]


class PtyServer:
    """An instrument behind a serial port: a pseudo-terminal that stays when the client closes it."""

    def __init__(self, script: Script = answering, *, ending: bytes = b"\n") -> None:
        import tty  # there are no pseudo-terminals on Windows

        self._script = script
        self._ours, self._theirs = os.openpty()
        tty.setraw(self._ours)
        tty.setraw(self._theirs)
        self.name = os.ttyname(self._theirs)
        self.lines: list[bytes] = []
        self.opened = 1
        self._stop_out, self._stop_in = os.pipe()
        self._conversation = PtyConversation(self._ours, ending)
        self._thread = threading.Thread(target=self._serve, name="pty server")
        self._thread.start()

    @property
    def address(self) -> str:
        return f"ASRL{self.name}::INSTR 115200"

    def say(self, data: bytes) -> None:
        """Something that nobody asked for."""
        self._conversation.send(data)

    def unplug(self) -> None:
        """Take the port away."""
        self.stop()

    def stop(self) -> None:
        if self._thread.is_alive():
            os.write(self._stop_in, b"\0")
            self._thread.join(5.0)
            assert not self._thread.is_alive()
            for descriptor in (self._ours, self._theirs, self._stop_in, self._stop_out):
                os.close(descriptor)

    def _serve(self) -> None:
        number = 0
        received = b""
        while True:
            ready, _, _ = select.select([self._ours, self._stop_out], [], [])
            if self._stop_out in ready:
                return
            *lines, received = (received + os.read(self._ours, 4096)).split(b"\n")
            for line in lines:
                number += 1
                self.lines.append(line.strip())
                answer = self._script(number, line.strip(), self._conversation)
                if answer is not None:
                    self._conversation.send(self._conversation.frame(answer))
