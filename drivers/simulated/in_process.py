"""A link straight to a simulated instrument, without sockets: for stepped time, where nothing may wait.

It keeps the contract of `drivers.links.Link`; answers come at once. Faults of a script happen here too: what
would only come late or never is a time-out at once.
"""

from __future__ import annotations

import threading
from typing import Final

from drivers.clock import host_seconds
from drivers.errors import LinkAborted, LinkGarbled, LinkLost, LinkRefused, LinkTimedOut
from drivers.links import Reply
from drivers.links.block import BLOCK_LIMIT, whole_block
from drivers.simulated.faults import Fault, FaultKind, FaultScript, faulty_messages
from drivers.simulated.scpi_table import LineInstrument

_NEVER_IN_TIME: Final = frozenset(
    {
        FaultKind.SILENT,
        FaultKind.LATE,
        FaultKind.HALF,
        FaultKind.HALF_LATE,
        FaultKind.DRIP,
        FaultKind.STREAM,
    }
)


class InProcessLink:
    """The way to one instrument in this process."""

    def __init__(self, instrument: LineInstrument, address: str, script: FaultScript | None = None) -> None:
        self._instrument = instrument
        self._address = address
        self._script = script or FaultScript()
        self._open = False
        self._dirty = False
        self._plugged = True
        self._aborting = threading.Event()

    @property
    def address(self) -> str:
        """See `Link.address`."""
        return self._address

    @property
    def dirty(self) -> bool:
        """See `Link.dirty`."""
        return self._dirty

    def unplug(self) -> None:
        """Pull the cable: the connection is lost, and opening is refused until `plug`."""
        self._plugged = False
        self._open = False

    def plug(self) -> None:
        """Put the cable back; the link is still closed."""
        self._plugged = True

    def open(self, deadline: float) -> None:
        """See `Link.open`."""
        self._raise_if_aborting()
        if not self._plugged:
            raise LinkRefused(self._address, "nothing answers; check that the meter is on and its cable in")
        self._open, self._dirty = True, False

    def query(self, line: bytes, deadline: float) -> Reply:
        """See `Link.query`."""
        self._ready()
        if self._dirty:
            raise LinkGarbled(self._address, "an earlier answer may still be on its way; resynchronise first")
        sent = host_seconds()
        message = self._exchange(line)
        return Reply(message, sent, host_seconds())

    def query_block(self, line: bytes, deadline: float, most: int = BLOCK_LIMIT) -> Reply:
        """See `Link.query_block`."""
        reply = self.query(line, deadline)
        try:
            return Reply(whole_block(reply.raw, most), reply.sent, reply.received)
        except ValueError as refusal:
            self._dirty = True
            raise LinkGarbled(self._address, str(refusal), reply.raw[:200]) from None

    def write(self, line: bytes, deadline: float) -> None:
        """See `Link.write`."""
        self._ready()
        if self._instrument.handle(line) is not None:
            self._dirty = True  # an answer that nobody asked to see lies on the way

    def mark_dirty(self) -> None:
        """See `Link.mark_dirty`."""
        self._dirty = True

    def resync(self, sentinel: bytes, expected: bytes, deadline: float) -> None:
        """See `Link.resync`."""
        self._ready()
        self._dirty = True
        answer = self._exchange(sentinel)
        if answer.strip() != expected.strip():
            raise LinkGarbled(self._address, f"another answer than expected came: {answer!r}", answer)
        self._dirty = False

    def abort(self) -> None:
        """See `Link.abort`."""
        self._aborting.set()

    def close(self) -> None:
        """See `Link.close`."""
        self._open = self._dirty = False

    def _ready(self) -> None:
        self._raise_if_aborting()
        if not self._open:
            raise LinkLost(self._address, "the connection is gone; it has to be opened again")

    def _raise_if_aborting(self) -> None:
        if self._aborting.is_set():
            self._aborting.clear()
            raise LinkAborted(self._address, "given up on request")

    def _exchange(self, line: bytes) -> bytes:
        answer = self._instrument.handle(line)
        if answer is None:
            self._dirty = True
            raise LinkTimedOut(self._address, f"no answer to {line.decode('latin-1')} came in time")
        fault = self._script.next_fault(line)
        if fault is not None:
            self._fail(fault, line, answer)
        messages = faulty_messages(fault, line, answer)
        if len(messages) > 1:
            self._dirty = True
            raise LinkGarbled(
                self._address, "more than one line came in answer to one question", b"\n".join(messages)
            )
        return messages[0]

    def _fail(self, fault: Fault, line: bytes, answer: bytes) -> None:
        if fault.kind in _NEVER_IN_TIME:
            self._dirty = True
            part = answer[: len(answer) // 2] if fault.kind in (FaultKind.HALF, FaultKind.HALF_LATE) else b""
            raise LinkTimedOut(
                self._address, f"no complete answer to {line.decode('latin-1')} came in time", part
            )
        if fault.kind in (FaultKind.FIN, FaultKind.RST):
            self._open = False
            raise LinkLost(self._address, "the other side has closed the connection")
