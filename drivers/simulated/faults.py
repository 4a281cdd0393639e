"""Scripted misbehaviour of the simulated instruments' connections, query by query.

A script says which query meets which fault; a seed decides where only a probability is given. Here also what
a fault does to an answer on the wire, as plain steps that any server can carry out. Not here: sockets.
"""

from __future__ import annotations

import random
import re
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

GARBAGE: Final = b"\xff\xfe\x80\x01\x7f"
OVERLOAD: Final = b"+9.90000000E+37"
_DRIP_S: Final = 0.05


class FaultKind(StrEnum):
    """What goes wrong with one answer. `seconds` and `count` below are those of the `Fault`."""

    SILENT = "silent"  # no answer, ever
    LATE = "late"  # the answer comes `seconds` later
    HALF = "half"  # its first half only
    HALF_LATE = "half late"  # the second half comes `seconds` later
    DRIP = "drip"  # byte by byte, `seconds` apart
    FIN = "fin"  # half of it, then the connection is closed
    RST = "rst"  # the connection is reset
    GARBAGE = "garbage"  # bytes that are no text
    NUL = "nul"  # padded with NULs
    TWO = "two"  # an unsolicited second line
    ECHO = "echo"  # the question, then the answer
    PROMPT = "prompt"  # a prompt after the answer, as a line of its own
    OVERLOAD = "overload"  # the number that means overload
    LIST = "list"  # the value `count` times
    STREAM = "stream"  # bytes without an end


@dataclass(frozen=True, slots=True)
class Fault:
    """A kind with its measure, host seconds or a number of values."""

    kind: FaultKind
    seconds: float = 0.0
    count: int = 2


@dataclass(frozen=True, slots=True)
class Rule:
    """When a fault happens: at the nth query (1 the first), at queries like a pattern, by chance.

    What is given must all hold; `probability` counts among the queries that the rest picks.
    """

    fault: Fault
    nth: int | None = None
    matching: str | None = None
    probability: float = 1.0


@dataclass(frozen=True, slots=True)
class ConnectionFaults:
    """What goes wrong with the connections of a server as such. Host seconds; None for not at all.

    banner: sent on connecting. idle_close_s: closed after this long without a query. one_client_s: one
    connection at a time; the place is free again this long after it ended. mute: accepts, then says nothing
    and reads on. never_reads: accepts and never reads.
    """

    banner: bytes = b""
    idle_close_s: float | None = None
    one_client_s: float | None = None
    mute: bool = False
    never_reads: bool = False


class FaultScript:
    """Decides the fault of each query; shared by all connections of a server, in order of arrival."""

    def __init__(self, rules: Sequence[Rule] = (), seed: int = 0) -> None:
        self._rules = tuple((rule, re.compile((rule.matching or "").encode("latin-1"))) for rule in rules)
        self._chance = random.Random(seed)
        self._lock = threading.Lock()
        self._queries = 0
        self.happened: list[tuple[int, FaultKind]] = []

    def next_fault(self, line: bytes) -> Fault | None:
        """The fault that the answer to this query meets; the first rule that holds."""
        with self._lock:
            self._queries += 1
            for rule, pattern in self._rules:
                if rule.nth not in (None, self._queries) or not pattern.search(line):
                    continue
                if self._chance.random() < rule.probability:
                    self.happened.append((self._queries, rule.fault.kind))
                    return rule.fault
            return None


@dataclass(frozen=True, slots=True)
class Send:
    """Put bytes on the wire."""

    data: bytes


@dataclass(frozen=True, slots=True)
class Pause:
    """Let host time pass."""

    seconds: float


@dataclass(frozen=True, slots=True)
class Close:
    """End the connection: in order, or by a reset."""

    reset: bool = False


@dataclass(frozen=True, slots=True)
class Pour:
    """Send these bytes again and again until the client has enough."""

    data: bytes


WireStep = Send | Pause | Close | Pour


def faulty_messages(fault: Fault | None, line: bytes, answer: bytes) -> list[bytes]:
    """The answers that a fault makes of one, each without terminator."""
    if fault is None:
        return [answer]
    changed = {
        FaultKind.GARBAGE: [GARBAGE],
        FaultKind.NUL: [b"\0" + answer + b"\0\0"],
        FaultKind.TWO: [answer, answer],
        FaultKind.ECHO: [line, answer],
        FaultKind.PROMPT: [answer, b"=>"],
        FaultKind.OVERLOAD: [OVERLOAD],
        FaultKind.LIST: [b",".join([answer] * fault.count)],
    }
    return changed.get(fault.kind, [answer])


def wire_steps(fault: Fault | None, framed: bytes) -> list[WireStep]:
    """How the framed answer goes over the wire under a fault."""
    if fault is None:
        return [Send(framed)]
    half = len(framed) // 2
    steps: dict[FaultKind, list[WireStep]] = {
        FaultKind.SILENT: [],
        FaultKind.LATE: [Pause(fault.seconds), Send(framed)],
        FaultKind.HALF: [Send(framed[:half])],
        FaultKind.HALF_LATE: [Send(framed[:half]), Pause(fault.seconds), Send(framed[half:])],
        FaultKind.FIN: [Send(framed[:half]), Close()],
        FaultKind.RST: [Close(reset=True)],
        FaultKind.STREAM: [Pour(b"1" * 4096)],
    }
    if fault.kind is FaultKind.DRIP:
        pause = Pause(fault.seconds or _DRIP_S)
        return [step for byte in framed for step in (Send(bytes([byte])), pause)]
    return steps.get(fault.kind, [Send(framed)])
