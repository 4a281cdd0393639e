"""What every line link has in common, whatever carries the bytes: one line out, one line back.

The rules of `drivers.links` live here: what came unasked is no answer, two lines to one question are none
either, a missed deadline leaves the link dirty, a known answer makes it clean again. TCP and serial ports
say only how bytes leave and arrive (`LineLink._push`, `_receive`, `_wait`).
"""

from __future__ import annotations

import threading
from abc import ABC, abstractmethod
from dataclasses import dataclass

from drivers.clock import host_seconds
from drivers.errors import LinkAborted, LinkGarbled, LinkLost, LinkTimedOut
from drivers.links import Reply
from drivers.links.block import BLOCK_LIMIT, bounded_place

LINE_LIMIT = 65_536
_BLOCK_HEAD = 64  # what may stand before and behind a block
_BLANK = b"\0\r\n \t"  # what may stand around a line without being one
_DROP_S = 0.5  # the longest that forgetting may take where somebody never stops talking
_QUIET_S = 0.01  # how long the line must stay silent after a sentinel before it counts as clean


@dataclass(frozen=True, slots=True)
class Manners:
    """How an instrument behaves around its lines.

    `prompts` come without an end of line after each command, as an acknowledgement; `failure_prompts` say
    that it was not understood. With `echo` every line that is sent comes back first. `gap_s` is the rest an
    instrument needs between two lines. `clear` is what makes it drop what it is doing (0x03, typed as Ctrl+C,
    on several serial meters); it is sent before an instrument is asked for its name again.
    """

    ending: bytes = b"\n"
    echo: bool = False
    prompts: tuple[bytes, ...] = ()
    failure_prompts: tuple[bytes, ...] = ()
    gap_s: float = 0.0
    clear: bytes = b""


class LineLink(ABC):
    """One line out, one line back. See `drivers.links.Link` for the contract."""

    def __init__(self, address: str, *, manners: Manners | None = None, line_limit: int = LINE_LIMIT) -> None:
        self._address = address
        self._manners = manners or Manners()
        self._line_limit = line_limit
        self._room = line_limit
        self._buffer = bytearray()
        self._dirty = False
        self._ending = b"\n"
        self._abort = threading.Event()
        self._spoke_at = 0.0
        self._half_dropped = False  # the rest of a line that was forgotten is still to come

    @property
    def address(self) -> str:
        """See `Link.address`."""
        return self._address

    @property
    def dirty(self) -> bool:
        """See `Link.dirty`."""
        return self._dirty

    def take_manners(self, manners: Manners) -> None:
        """From now on the instrument is known to behave like this. Owner only."""
        self._manners = manners

    # --- what carries the bytes ---------------------------------------------------------------------

    @abstractmethod
    def open(self, deadline: float) -> None:
        """See `Link.open`."""

    @abstractmethod
    def close(self) -> None:
        """See `Link.close`."""

    @abstractmethod
    def _need_open(self) -> None:
        """Raise LinkLost if there is no connection."""

    @abstractmethod
    def _push(self, data: bytes, deadline: float) -> None:
        """Send all of `data`. Raises LinkTimedOut (dirty), LinkLost, LinkAborted."""

    @abstractmethod
    def _receive(self) -> int:
        """Move what has arrived to the buffer, without waiting; the number of bytes. Raises LinkLost."""

    @abstractmethod
    def _wait(self, deadline: float, sentence: str) -> None:
        """Wait until something has arrived. Raises LinkTimedOut with `sentence`, LinkAborted, LinkLost."""

    # --- asking -------------------------------------------------------------------------------------

    def query(self, line: bytes, deadline: float) -> Reply:
        """See `Link.query`."""
        sent = self._ask(line, deadline)
        raw = self._read_line(deadline)
        received = self._spoke_at = host_seconds()
        self._take_prompt(deadline)
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

    def query_block(self, line: bytes, deadline: float, most: int = BLOCK_LIMIT) -> Reply:
        """See `Link.query_block`. Reads exactly the stated bytes; the end of line behind them is dropped."""
        self._room = most + _BLOCK_HEAD
        try:
            sent = self._ask(line, deadline)
            raw = self._read_block(deadline, most)
            received = self._spoke_at = host_seconds()
            self._take_prompt(deadline)
        finally:
            self._room = self._line_limit
        if self._buffer.strip(_BLANK):
            raise LinkGarbled(
                self._address, "something came behind the block of data", bytes(self._buffer[:200])
            )
        self._buffer.clear()
        self._dirty = False
        return Reply(raw, sent, received)

    def _ask(self, line: bytes, deadline: float) -> float:
        """Send a question; the moment of sending. The link is dirty until its answer is complete."""
        self._raise_if_aborted()
        self._need_open()
        if self._dirty:
            raise LinkGarbled(self._address, "an earlier answer may still be on its way; resynchronise first")
        self._refuse_unasked()
        self._rest(deadline)
        self._dirty = True  # until the answer is complete, whatever ends this call
        sent = host_seconds()
        self._push(line + self._manners.ending, deadline)
        self._take_echo(line, deadline)
        return sent

    def write(self, line: bytes, deadline: float) -> None:
        """See `Link.write`."""
        self._raise_if_aborted()
        self._need_open()
        self._rest(deadline)
        self._push(line + self._manners.ending, deadline)
        if self._manners.echo or self._manners.prompts:
            was_dirty, self._dirty = self._dirty, True
            self._take_echo(line, deadline)
            self._take_prompt(deadline)
            self._dirty = was_dirty
        self._spoke_at = host_seconds()

    def next_line(self, deadline: float) -> Reply:
        """The newest whole line of an instrument that talks by itself; waits for one if there is none.

        Older lines that nobody fetched in time are dropped, because nothing says when they came. Raises
        LinkTimedOut, LinkGarbled, LinkLost, LinkAborted.
        """
        self._raise_if_aborted()
        self._need_open()
        since = host_seconds()
        while self._receive() and host_seconds() < deadline:
            self._forget_older_lines()
        if self._half_dropped:
            self._read_line(deadline)
            self._half_dropped = False
        line = self._read_line(deadline)
        while self._ending in self._buffer.lstrip(_BLANK):
            line = self._read_line(deadline)
        return Reply(line, since, host_seconds())

    def _forget_older_lines(self) -> None:
        """Keep the newest whole line and what follows it, where more has come than anybody fetched."""
        last = self._buffer.rfind(self._ending) if len(self._buffer) > self._line_limit else -1
        before = self._buffer.rfind(self._ending, 0, last) if last > 0 else -1
        if before >= 0:
            del self._buffer[: before + 1]
            self._half_dropped = False

    def drop_received(self) -> None:
        """Forget what has come so far, half a line included, whose rest is no line either."""
        self._need_open()
        until = host_seconds() + _DROP_S
        while self._receive() and host_seconds() < until:
            self._note_half()
        self._note_half()
        self._dirty = False

    def _note_half(self) -> None:
        """Empty the buffer; whether it ended within a line."""
        if self._buffer:
            ended = self._buffer.endswith(self._ending) or not self._buffer.strip(_BLANK)
            self._half_dropped = not ended
            self._buffer.clear()

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
        self._need_open()
        self._dirty = True
        self._buffer.clear()
        self._rest(deadline)
        if self._manners.clear:
            self._push(self._manners.clear, deadline)
            self._wait_for_quiet(deadline)  # a prompt may follow, or the rest of what it was saying
        self._push(sentinel + self._manners.ending, deadline)
        # Half a line that was left over has no end of its own, so the known answer may stand behind it.
        while not self._without_prompt(self._read_line(deadline)).endswith(expected.strip(_BLANK)):
            pass
        self._spoke_at = host_seconds()
        self._wait_for_quiet(deadline)
        self._dirty = False

    def abort(self) -> None:
        """See `Link.abort`. Stays pending until one call has raised it."""
        self._abort.set()

    # --- the line -----------------------------------------------------------------------------------

    def _refuse_unasked(self) -> None:
        """Bytes that are there before the question cannot be its answer."""
        while self._receive() and len(self._buffer) <= self._line_limit:
            pass
        if self._buffer.strip(_BLANK):
            self._dirty = True
            received = bytes(self._buffer[:200])
            self._buffer.clear()
            raise LinkGarbled(self._address, "something came that nobody asked for", received)
        self._buffer.clear()

    def _rest(self, deadline: float) -> None:
        """Give the instrument the rest it needs since the last line."""
        if self._manners.gap_s <= 0.0:
            return
        until = min(deadline, self._spoke_at + self._manners.gap_s)
        if host_seconds() < until:
            try:
                self._wait(until, "")
            except LinkTimedOut:
                return
            self._refuse_unasked()

    def _read_line(self, deadline: float) -> bytes:
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
            self._refuse_failure_prompt()
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
            self._receive()

    def _read_block(self, deadline: float, most: int) -> bytes:
        """The bytes of one block. Raises with the part that came."""
        while True:
            while self._buffer[:1] and self._buffer[0] in _BLANK:
                del self._buffer[:1]
            self._refuse_failure_prompt()
            try:
                place = bounded_place(self._buffer, most)
            except ValueError as refusal:
                raise LinkGarbled(self._address, str(refusal), bytes(self._buffer[:200])) from None
            if place is not None and len(self._buffer) >= place[1]:
                raw = bytes(self._buffer[place[0] : place[1]])
                del self._buffer[: place[1]]
                return raw
            missing = "no block of data came in time"
            if place is not None:
                came = len(self._buffer) - place[0]
                missing = f"only {came} of {place[1] - place[0]} bytes of a block came in time"
            self._wait(deadline, missing)
            while self._receive() and len(self._buffer) <= self._room:
                pass

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

    def _take_echo(self, line: bytes, deadline: float) -> None:
        if self._manners.echo:
            back = self._without_prompt(self._read_line(deadline))
            if back != line.strip(_BLANK):
                raise LinkGarbled(self._address, "the echo of what was sent came back changed", back)

    def _take_prompt(self, deadline: float) -> None:
        """Wait for the prompt that ends an exchange, where there is one."""
        manners = self._manners
        if not manners.prompts:
            return
        while True:
            self._refuse_failure_prompt()
            rest = self._buffer.strip(_BLANK)
            for prompt in manners.prompts:
                if rest == prompt.strip(_BLANK):
                    self._buffer.clear()
                    return
            self._wait(deadline, "the meter did not say that it is ready for more")
            self._receive()
            if len(self._buffer) > self._line_limit:
                raise LinkGarbled(self._address, "more came than a prompt", bytes(self._buffer[:200]))

    def _refuse_failure_prompt(self) -> None:
        for prompt in self._manners.failure_prompts:
            if self._buffer.strip(_BLANK) == prompt.strip(_BLANK):
                self._buffer.clear()
                raise LinkGarbled(self._address, "the meter says that it did not understand", prompt)

    def _without_prompt(self, line: bytes) -> bytes:
        """A line behind a prompt that was never waited for."""
        for prompt in (*self._manners.failure_prompts, *self._manners.prompts):
            line = line.removeprefix(prompt.strip(_BLANK)).strip(_BLANK)
        return line.strip(_BLANK)

    def _wait_for_quiet(self, deadline: float) -> None:
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
            self._receive()

    def _keep(self, chunk: bytes) -> int:
        """Put what arrived into the buffer, which stays bounded."""
        if len(self._buffer) <= self._room:
            self._buffer += chunk
        return len(chunk)

    def _lost(self, problem: Exception | None) -> LinkLost:
        self._dirty = True
        received = bytes(self._buffer[:200])
        reason = "the meter closed the connection" if problem is None else f"the connection broke ({problem})"
        return LinkLost(self._address, reason, received)

    def _raise_if_aborted(self) -> None:
        if self._abort.is_set():
            self._abort.clear()
            raise LinkAborted(self._address, "given up on request")
