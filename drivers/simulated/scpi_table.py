"""A simulated instrument of a few commands: numbered headers, an error queue, common commands. No transport.

Source of common commands and error numbers: IEEE 488.2, SCPI 1999.0 volume 2. Not here: what the commands of
any instrument do (`audio_instruments`).
"""

from __future__ import annotations

import math
import re
import threading
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

from drivers.simulated.command_line import CommandUnit, header_pattern, matches, split_line
from drivers.simulated.command_line import number as decimal
from drivers.simulated.command_set import ERRORS, CommandRefused

MAKER: Final = "Fenrow"
_QUEUE: Final = 20
_SUFFIX: Final = re.compile(r"(?<=[A-Z])(\d+)(?=:|$)")

Wait = Callable[[float], bool]
Tell = Callable[[int, str], None]
Ask = Callable[[int], "str | bytes"]


class LineInstrument(Protocol):
    """What a server or a link needs of a simulated instrument."""

    def handle(self, line: bytes, wait: Wait | None = None) -> bytes | None:
        """Carry out a line; its answer without terminator, or None."""
        ...

    def status_byte(self) -> int:
        """The status byte of IEEE 488.2."""
        ...


@dataclass(frozen=True, slots=True)
class TableCommand:
    """A header and what it does told (channel, parameters as one text) or asked (channel)."""

    pattern: re.Pattern[str]
    tell: Tell | None = None
    ask: Ask | None = None


def command(pattern: str, tell: Tell | None = None, ask: Ask | None = None) -> TableCommand:
    """A command by its header as manuals print it, without the number of a channel."""
    return TableCommand(header_pattern(pattern), tell, ask)


def real(text: str, least: float = -math.inf, most: float = math.inf) -> float:
    """A number between limits. Raises CommandRefused."""
    value = decimal(text)
    if value is None:
        raise CommandRefused(-104)
    if not least <= value <= most:
        raise CommandRefused(-222)
    return value


class TableInstrument:
    """Parser and error queue; any number of connections may share it. A subclass gives the commands."""

    def __init__(self, model: str, serial: str, channels: int = 1) -> None:
        self.identity = f"{MAKER},{model},{serial},1.00"
        self._channels = channels
        self._lock = threading.RLock()
        self._errors: deque[int] = deque()
        self._commands = (
            command("*IDN", ask=lambda _: self.identity),
            command("*CLS", lambda _, __: self._errors.clear()),
            command("*RST", lambda _, __: self.reset()),
            command("*OPC", ask=lambda _: "1"),
            command("SYSTem:ERRor[:NEXT]", ask=lambda _: self._next_error()),
            *self.commands(),
        )

    def commands(self) -> Sequence[TableCommand]:
        """The commands of this instrument."""
        raise NotImplementedError

    def reset(self) -> None:
        """Go back to the defaults."""

    def handle(self, line: bytes, wait: Wait | None = None) -> bytes | None:
        """See `LineInstrument.handle`. Nothing here takes bench time."""
        with self._lock:
            answers: list[bytes] = []
            for unit in split_line(line.decode("latin-1")):
                try:
                    answer = self._carry_out(unit)
                except CommandRefused as refused:
                    if len(self._errors) < _QUEUE:
                        self._errors.append(refused.code)
                    break
                if answer is not None:
                    answers.append(answer if isinstance(answer, bytes) else answer.encode("ascii"))
            return b";".join(answers) if answers else None

    def status_byte(self) -> int:
        """See `LineInstrument.status_byte`: bit 2, errors waiting."""
        return 4 if self._errors else 0

    def _carry_out(self, unit: CommandUnit) -> str | bytes | None:
        numbers = {int(found) for found in _SUFFIX.findall(unit.header)}
        channel = max(numbers, default=1)
        if channel > self._channels or len(numbers) > 1:
            raise CommandRefused(-113)
        header = _SUFFIX.sub("", unit.header)
        for each in self._commands:
            if not matches(each.pattern, header):
                continue
            if unit.query and each.ask is not None:
                return each.ask(channel)
            if not unit.query and each.tell is not None:
                each.tell(channel, ",".join(unit.parameters))
                return None
        raise CommandRefused(-113)

    def _next_error(self) -> str:
        code = self._errors.popleft() if self._errors else 0
        return f'{code:+d},"{ERRORS[code]}"'
