"""Links: one line out, one line back, by a deadline.

A link is used by exactly one thread, its owner, except `abort()`. Only the five `LinkError`s leave it.
A timed-out or unparsable exchange leaves the link *dirty*: a late answer may still arrive and would be
taken for the answer to the next question. A dirty link refuses to be queried until `resync` has found a
known answer again or the link has been reopened.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from drivers.links.block import BLOCK_LIMIT


@dataclass(frozen=True, slots=True)
class Reply:
    """One answer as it came, with the host time of sending and of receiving."""

    raw: bytes
    sent: float
    received: float


class Link(Protocol):
    """A way to one instrument. `deadline` is a moment of `drivers.clock.host_seconds`."""

    @property
    def address(self) -> str:
        """The address as the user gave it; shown in errors and kept in the record."""
        ...

    @property
    def dirty(self) -> bool:
        """Whether a late answer may still be on its way."""
        ...

    def open(self, deadline: float) -> None:
        """Connect. Raises LinkRefused, LinkTimedOut, LinkAborted."""
        ...

    def query(self, line: bytes, deadline: float) -> Reply:
        """Send one line and return the next one, without its terminator.

        Raises LinkTimedOut (the link is dirty then), LinkGarbled (dirty), LinkLost, LinkAborted.
        A dirty link raises LinkGarbled at once instead of asking.
        """
        ...

    def query_block(self, line: bytes, deadline: float, most: int = BLOCK_LIMIT) -> Reply:
        """Send one line and return the bytes of the definite-length block that answers it.

        `Reply.raw` is the data alone, at most `most` bytes (IEEE 488.2, 8.7.9). Raises as `query` does; a
        block that is cut short, too long or none at all leaves the link dirty.
        """
        ...

    def write(self, line: bytes, deadline: float) -> None:
        """Send one line that has no answer."""
        ...

    def mark_dirty(self) -> None:
        """Say that the last reply was not what was asked for (the caller could not parse it)."""
        ...

    def resync(self, sentinel: bytes, expected: bytes, deadline: float) -> None:
        """Ask `sentinel` and read until `expected` comes back and the line is quiet; clears `dirty`.

        With an empty `expected` any answer will do: that empties a line whose partner is not known yet.
        Raises as `query` does.
        """
        ...

    def abort(self) -> None:
        """Make a blocked call of the owner raise LinkAborted, as soon as the transport can. Any thread."""
        ...

    def close(self) -> None:
        """Let go. Owner only; never raises."""
        ...
