"""An instrument that misbehaves by a seeded script, and remembers when it measured each value.

Values count upwards, so each belongs to one question; the log says when it was measured. A client is right
when every value it accepts was measured inside its own question and answer, and was sent whole.

Each fault is a function of (instrument, conversation, the reading's text); what travels is made by
`Conversation.frame`, so one script serves every transport.
"""

from __future__ import annotations

import random
import threading
from collections import Counter
from collections.abc import Callable
from typing import TypeAlias

from fake_instrument import IDENTITY, FakeInstrument
from loopback_servers import Conversation

from drivers.clock import host_seconds

Fault: TypeAlias = "Callable[[FaultyInstrument, Conversation, bytes], None]"


class FaultyInstrument:
    """Answers like `FakeInstrument`, except that some readings go wrong.

    Args:
        seed: decides which questions go wrong, and how.
        patience_s: how long the client waits; what is late is later than that.
        rate: the share of readings that go wrong.
        faults: the kinds to draw from.
        measuring_s: how long a reading takes.
    """

    def __init__(
        self,
        seed: int,
        *,
        patience_s: float,
        rate: float = 0.04,
        faults: dict[str, Fault] | None = None,
        measuring_s: float = 0.001,
    ) -> None:
        self.instrument = FakeInstrument()
        self.patience_s = patience_s
        self.measuring_s = measuring_s
        self.faults = FAULTS if faults is None else faults
        self.happened: Counter[str] = Counter()
        self.measured: dict[float, float] = {}
        self.held: list[bytes] = []
        self.stopped = threading.Event()
        self._rate = rate
        self._random = random.Random(seed)
        self._count = 0

    def pause(self, seconds: float) -> None:
        """Take time; not longer than the test."""
        self.stopped.wait(seconds)

    def measure(self) -> bytes:
        """A new value, logged with the moment in the middle of its measurement."""
        self.pause(self.measuring_s / 2.0)
        self._count += 1
        text = f"{self._count * 1e-6:+.8E}"
        self.measured[float(text)] = host_seconds()
        self.pause(self.measuring_s / 2.0)
        return text.encode("ascii")

    def script(self, number: int, line: bytes, conversation: Conversation) -> bytes | None:
        """See `loopback_servers.Script`."""
        while self.held:
            conversation.send(self.held.pop(0))
        if line != b"READ?":
            answer = self.instrument.take(line.decode("ascii"))
            return None if answer is None else answer.encode("ascii")
        text = self.measure()
        if self._random.random() >= self._rate:
            return text
        name = self._random.choice(sorted(self.faults))
        self.happened[name] += 1
        self.faults[name](self, conversation, text)
        return None


def silent(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    """No answer at all."""


def late(it: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    it.pause(1.3 * it.patience_s)
    conversation.send(conversation.frame(text))


def very_late(it: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    it.pause(2.6 * it.patience_s)
    conversation.send(conversation.frame(text))


def held_back(it: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    """Sent when the next command arrives, in front of its answer."""
    it.held.append(conversation.frame(text))


def half(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(text)[:-6])


def half_then_tail(it: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    whole = conversation.frame(text)
    conversation.send(whole[:-4])
    it.pause(1.3 * it.patience_s)
    conversation.send(whole[-4:])


def tail_held_back(it: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    whole = conversation.frame(text)
    conversation.send(whole[:-4])
    it.held.append(whole[-4:])


def head_lost(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(text[6:]))


def sign_lost(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(text[1:]))


def dripping(it: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    """Byte by byte, but in time."""
    for byte in conversation.frame(text):
        conversation.send(bytes([byte]))
        it.pause(0.0002)


def dripping_too_slowly(it: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    for byte in conversation.frame(text):
        conversation.send(bytes([byte]))
        it.pause(it.patience_s / 10.0)


def ended(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.finish()


def ended_half_way(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(text)[:-6])
    conversation.finish()


def reset(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.reset()


def switched_off_and_on(it: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    it.instrument.switch_on()
    conversation.finish()


def garbage(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(b"\x80\xfe\x01\xb5" + text[4:]))


def padded(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    """Harmless: NULs around a good answer."""
    conversation.send(conversation.frame(b"\0" + text + b"\0\0"))


def twice(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(text) + conversation.frame(text))


def twice_later(it: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    """The same again as soon as the next question has arrived.

    Only a message that carries its question's number can be told from the answer then; on a line nothing
    but its haste gives it away (`drivers.scpi.pace`), which a test with real milliseconds cannot rely on.
    """
    conversation.send(conversation.frame(text))
    it.held.append(conversation.frame(text))


def older_first(it: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(text) + conversation.frame(it.measure()))


def echoed(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(b"READ?") + conversation.frame(text))


def prompted(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(text) + b"> ")


def banner(it: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    """Words that nobody asked for, a little after the answer."""
    conversation.send(conversation.frame(text))
    it.held.append(conversation.frame(b"BATTERY LOW"))


def overload(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(b"+9.90000000E+37"))


def not_a_number(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(b"+9.91000000E+37"))


def a_list(it: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(b",".join([text] * 10)))


def an_error_entry(it: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    """The error instead of the answer, and the answer at the next question."""
    conversation.send(conversation.frame(b'-230,"Data corrupt or stale"'))
    it.held.append(conversation.frame(text))


def its_name(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(IDENTITY.encode("ascii")))


def another_unit(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(text + b" OHM"))


def empty(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(b""))


def exponent_cut(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(conversation.frame(text[:-2]))


def talking_on(it: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    """Several readings to one question."""
    conversation.send(b"".join(conversation.frame(each) for each in (text, it.measure(), it.measure())))


def endless_line(_: FaultyInstrument, conversation: Conversation, text: bytes) -> None:
    conversation.send(b"7" * 70_000)


FAULTS: dict[str, Fault] = {
    fault.__name__: fault
    for fault in (
        silent, late, very_late, held_back, half, half_then_tail, tail_held_back, head_lost, sign_lost,
        dripping, dripping_too_slowly, ended, ended_half_way, reset, switched_off_and_on, garbage, padded,
        twice, twice_later, older_first, echoed, prompted, banner, overload, not_a_number, a_list,
        an_error_entry, its_name, another_unit, empty, exponent_cut, talking_on, endless_line,
    )
}  # fmt: skip
