"""The smallest VXI-11 server (VXI-11 revision 1.0 over ONC RPC): one device, no port mapper, no locks.

Answers are made by a script in a thread of their own, so that a silent instrument still answers the RPC with
a time-out as real ones do. Unread answers stay in the output buffer when the next command comes: sloppy,
and the worst for a client.
"""

from __future__ import annotations

import contextlib
import queue
import socket
import struct
import threading

from loopback_servers import Conversation, Script, answering

_CREATE_LINK, _WRITE, _READ, _READ_STATUS = 10, 11, 12, 13
_MESSAGE_AVAILABLE = 16
_TIMED_OUT, _END = 15, 4


class Vxi11Conversation(Conversation):
    """What a script says goes to an output buffer, from where it is read."""

    def __init__(self, connection: socket.socket, ending: bytes = b"\n") -> None:
        super().__init__(connection, ending)
        self._output: list[bytes] = []  # messages
        self._arrived = threading.Condition()

    def send(self, data: bytes) -> None:
        with self._arrived:
            self._output.append(data)
            self._arrived.notify()

    @property
    def holds_output(self) -> bool:
        with self._arrived:
            return bool(self._output)

    def take(self, timeout_s: float, most: int) -> tuple[bytes, bool] | None:
        """The next bytes, at most `most`, and whether they end a message; None after `timeout_s`."""
        with self._arrived:
            if not self._arrived.wait_for(lambda: bool(self._output), timeout_s):
                return None
            taken, rest = self._output[0][:most], self._output[0][most:]
            self._output[:1] = [rest] if rest else []
            return taken, not rest


class Vxi11Server:
    """One device, one connection after another."""

    def __init__(self, script: Script = answering) -> None:
        self._script = script
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]
        self.lines: list[bytes] = []
        self.opened = 0
        self._open: list[socket.socket] = []
        self._stopping = False
        self._threads = [threading.Thread(target=self._accept, name="vxi-11 server")]
        self._threads[0].start()

    @property
    def address(self) -> str:
        return f"TCPIP::127.0.0.1,{self.port}::inst0::INSTR"

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
            thread = threading.Thread(target=self._serve, args=(connection,), name="vxi-11 connection")
            self._threads.append(thread)
            thread.start()

    def _serve(self, connection: socket.socket) -> None:
        conversation = Vxi11Conversation(connection)
        commands: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()
        device = threading.Thread(target=self._carry_out, args=(commands, conversation), name="vxi-11 device")
        device.start()
        with contextlib.suppress(OSError, struct.error):
            while record := self._record(connection):
                result = self._call(record, commands, conversation)
                reply = record[:4] + struct.pack("!IIIII", 1, 0, 0, 0, 0) + result
                connection.sendall(struct.pack("!I", 0x8000_0000 | len(reply)) + reply)
        commands.put(None)
        device.join()
        connection.close()

    @staticmethod
    def _record(connection: socket.socket) -> bytes:
        header = connection.recv(4, socket.MSG_WAITALL)
        if len(header) < 4:
            return b""
        return connection.recv(struct.unpack("!I", header)[0] & 0x7FFF_FFFF, socket.MSG_WAITALL)

    def _call(
        self, record: bytes, commands: queue.SimpleQueue[bytes | None], conversation: Vxi11Conversation
    ) -> bytes:
        procedure = struct.unpack_from("!I", record, 20)[0]
        arguments = record[40:]  # behind empty credentials and verifier
        if procedure == _CREATE_LINK:
            self.opened += 1
            return struct.pack("!iiII", 0, 1, 0, 4096)
        if procedure == _WRITE:
            length = struct.unpack_from("!I", arguments, 16)[0]
            commands.put(arguments[20 : 20 + length].strip())
            return struct.pack("!iI", 0, length)
        if procedure == _READ:
            _, most, timeout_ms = struct.unpack_from("!iII", arguments)
            taken = conversation.take(timeout_ms / 1000.0, most)
            if taken is None:
                return struct.pack("!iiI", _TIMED_OUT, 0, 0)
            data, whole = taken
            padded = data + b"\0" * (-len(data) % 4)
            return struct.pack("!iiI", 0, _END if whole else 0, len(data)) + padded
        if procedure == _READ_STATUS:
            return struct.pack("!iI", 0, _MESSAGE_AVAILABLE if conversation.holds_output else 0)
        return struct.pack("!i", 0)

    def _carry_out(self, commands: queue.SimpleQueue[bytes | None], conversation: Vxi11Conversation) -> None:
        number = 0
        while (line := commands.get()) is not None:
            number += 1
            self.lines.append(line)
            answer = self._script(number, line, conversation)
            if answer is not None:
                conversation.send(conversation.frame(answer))
