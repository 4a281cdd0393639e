"""Question and answer with one instrument, over its link: what every SCPI instrument has in common.

A question that a meter does not know may be answered by silence, by an error text or not at all until the
next question (behaviours of many meters). Either way the exchange is not what was asked for, the link is
dirty, and the instrument's own name is asked until it comes back.
"""

from __future__ import annotations

import contextlib

from drivers.clock import host_seconds
from drivers.errors import (
    LinkAborted,
    LinkGarbled,
    LinkLost,
    LinkRefused,
    LinkTimedOut,
    ReplyRefused,
)
from drivers.links import Link, Reply
from drivers.scpi.reply import Answer, NumberShape, parse_reply

IDENTITY_QUESTION = b"*IDN?"
_NO_ERROR = ("0", "+0")
_MOST_ERRORS = 30


class Dialogue:
    """The conversation with one instrument. One thread, as its link."""

    def __init__(self, link: Link) -> None:
        self.link = link
        self.identity = ""
        self._identity_line = b""

    def identify(self, deadline: float) -> str:
        """Ask for the instrument's name; only a good answer makes it our partner.

        A greeting, or an answer that an earlier program left unread, may stand before it; so after a first
        strange answer the line is emptied and the question is asked once more.

        Raises:
            LinkError: also when what answers is no instrument (LinkRefused).
        """
        try:
            return self._ask_name(deadline)
        except LinkGarbled:
            self.link.resync(IDENTITY_QUESTION, b"", deadline)
            return self._ask_name(deadline)

    def _ask_name(self, deadline: float) -> str:
        try:
            line = self.link.query(IDENTITY_QUESTION, deadline).raw
        except LinkTimedOut as problem:
            raise LinkTimedOut(
                self.link.address,
                "something is there, but it does not answer to *IDN?; check that this is the port for remote "
                "control (often 5025 or 5555) and that remote control is on",
                problem.received,
            ) from problem
        text = line.decode("latin-1").strip("\0 \r\n\t\"'")
        if b"\xff\xfb" in line or b"\xff\xfd" in line:
            raise LinkRefused(
                self.link.address, "this is a terminal (telnet) port; use the port for SCPI, often 5025", line
            )
        if not text.isprintable() or len(text) < 3 or _is_number(line):
            self.link.mark_dirty()
            raise LinkGarbled(self.link.address, f"asked for its name it says {text[:60]!r}", line)
        self.identity, self._identity_line = text, line
        return text

    def recover(self, deadline: float) -> None:
        """Ask for the known name until it comes back and the line is quiet."""
        if not self._identity_line:
            raise LinkLost(self.link.address, "the instrument has not said its name yet")
        self.link.resync(IDENTITY_QUESTION, self._identity_line, deadline)

    def tell(self, line: bytes, deadline: float) -> None:
        """Send a line that has no answer."""
        self.link.write(line, deadline)

    def ask(self, line: bytes, deadline: float) -> Reply:
        """Send a question and return its answer."""
        return self.link.query(line, deadline)

    def refuse(self, problem: ReplyRefused) -> LinkGarbled:
        """The link error for a reply that the parser refused; the link is dirty now."""
        self.link.mark_dirty()
        return LinkGarbled(self.link.address, str(problem), problem.received)

    def ask_word(self, line: bytes, answer_s: float, deadline: float) -> str | None:
        """The answer to a question about a setting, or None where the meter does not answer it.

        The link is clean afterwards. Raises LinkError when it is gone or cannot be made clean.
        """
        try:
            raw = self.ask(line, min(deadline, host_seconds() + answer_s)).raw
        except (LinkTimedOut, LinkGarbled):
            self.recover(min(deadline, host_seconds() + 2.0 * answer_s))
            return None
        text = raw.decode("latin-1").strip("\0 \r\n\t").strip('"').strip()
        if not text or not text.isprintable() or ',"' in text or raw == self._identity_line:
            # An error entry, or the answer to something else.
            self.link.mark_dirty()
            self.recover(min(deadline, host_seconds() + 2.0 * answer_s))
            return None
        return text

    def ask_number(self, line: bytes, answer_s: float, deadline: float) -> float | None:
        """As `ask_word`, for a number."""
        word = self.ask_word(line, answer_s, deadline)
        if word is None:
            return None
        try:
            reply = parse_reply(word.encode("latin-1"), shape=NumberShape.FREE)
        except ReplyRefused:
            self.link.mark_dirty()
            self.recover(min(deadline, host_seconds() + 2.0 * answer_s))
            return None
        return reply.value if reply.answer is Answer.VALUE else None

    def drain_errors(self, line: bytes, answer_s: float, deadline: float) -> tuple[str, ...] | None:
        """What the meter's error queue holds, oldest first; None where it does not answer."""
        found: list[str] = []
        for _ in range(_MOST_ERRORS):
            try:
                raw = self.ask(line, min(deadline, host_seconds() + answer_s)).raw
            except (LinkTimedOut, LinkGarbled):
                self.recover(min(deadline, host_seconds() + 2.0 * answer_s))
                return tuple(found) if found else None
            text = raw.decode("latin-1").strip("\0 \r\n\t")
            if text.split(",", maxsplit=1)[0].strip() in _NO_ERROR or not text:
                break
            found.append(text)
        return tuple(found)

    def leave(self, lines: tuple[bytes, ...], each_s: float) -> None:
        """Give the front panel back and close; never raises."""
        for line in lines:
            # An abort that came while nobody was waiting is still pending: it ends the first try only.
            for _ in range(2):
                try:
                    self.tell(line, host_seconds() + each_s)
                except LinkAborted:
                    continue
                except Exception:  # leaving never fails; the connection is closed in any case
                    break
                break
        with contextlib.suppress(Exception):
            self.link.close()


def _is_number(line: bytes) -> bool:
    try:
        parse_reply(line)
    except ReplyRefused:
        return False
    return True
