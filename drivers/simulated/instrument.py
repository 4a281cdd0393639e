"""A simulated SCPI multimeter: settings, trigger, errors, and the readings it takes. No transport.

One line in, one line or nothing out. `READ?` takes its integration time on the bench clock: the caller passes
a `wait`, and in stepped time none, so that the answer comes at once. Every reading is logged with the moments
between which it was measured; tests hold clients to that log.

Source of commands and error numbers: SCPI 1999.0 (volume 2 for the error numbers), IEEE 488.2.
"""

from __future__ import annotations

import math
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from drivers.clock import Clock, host_seconds
from drivers.simulated.command_line import CommandUnit, split_line
from drivers.simulated.command_set import ERRORS, CommandRefused, commands_for
from drivers.simulated.multimeter import MultimeterInput

MAKER: Final = "Fenrow"
OVERLOAD: Final = 9.9e37

Wait = Callable[[float], bool]
"""Blocks until a bench time; False when it was given up (the server stops)."""

_QUEUE: Final = 20
_OVERHEAD_S: Final = 0.001
_LOG_LENGTH: Final = 100_000


@dataclass(frozen=True, slots=True)
class Measured:
    """When one value was measured, in bench and host seconds, and how it was told."""

    start_s: float
    end_s: float
    host_start: float
    host_end: float
    volts: float
    text: str


@dataclass(slots=True)
class Settings:
    """What can be set; the defaults are those of `*RST`. `aperture_s` rules where it is not None."""

    range_volts: float = 1000.0
    auto_range: bool = True
    nplc: float = 10.0
    aperture_s: float | None = None
    auto_zero: bool = True
    high_impedance: bool = False
    samples: int = 1
    triggers: int = 1
    source: str = "IMM"


class Multimeter:
    """State and parser of one instrument; any number of connections may share it."""

    def __init__(self, meter_input: MultimeterInput, clock: Clock, serial: str = "FW000001") -> None:
        self.identity: str = f"{MAKER},{meter_input.model.name},{serial},1.04"
        self.settings: Settings = Settings()
        self.measured: deque[Measured] = deque(maxlen=_LOG_LENGTH)
        self._input = meter_input
        self._clock = clock
        self._lock = threading.RLock()
        self._errors: deque[int] = deque()
        self.status: int = 128  # the event register: power on
        self.enables: dict[str, int] = {"*ESE": 0, "*SRE": 0}
        self._memory: list[str] = []
        self._initiated_s: float | None = None
        self.remote: bool = False  # whether the front panel is locked out
        self._wait: Wait | None = None

    @property
    def integration_s(self) -> float:
        """Set integration time."""
        aperture = self.settings.aperture_s
        return self.settings.nplc / self.mains_hz if aperture is None else aperture

    @property
    def reading_s(self) -> float:
        """Bench time one reading takes; auto-zero doubles it."""
        return self.integration_s * (2.0 if self.settings.auto_zero else 1.0) + _OVERHEAD_S

    def power_cycle(self) -> None:
        """Switch off and on: every setting, error and reading is forgotten."""
        with self._lock:
            self.reset()
            self._errors.clear()
            self.status, self.remote = 128, False

    def handle(self, line: bytes, wait: Wait | None = None) -> bytes | None:
        """Carry out a line and return the answer without terminator, or None when it has none.

        A line with a mistake in a query gets no answer; the mistake waits in the error queue.
        """
        with self._lock:
            self._wait = wait
            answers = []
            for unit in split_line(line.decode("latin-1")):
                try:
                    answer = self._carry_out(unit)
                except CommandRefused as refused:
                    self._note(refused.code)
                    if refused.code > -200:
                        break  # a command error ends the line, an execution error only the command
                    continue
                if answer is not None:
                    answers.append(answer)
            return ";".join(answers).encode("ascii") if answers else None

    def _carry_out(self, unit: CommandUnit) -> str | None:
        for command in commands_for(unit.header):
            if unit.query and command.ask is not None:
                return command.ask(self, unit.parameters)
            if not unit.query and command.tell is not None:
                command.tell(self, unit.parameters)
                return None
        raise CommandRefused(-113)

    # -- errors and status --------------------------------------------------------------------------------

    def _note(self, code: int) -> None:
        if len(self._errors) >= _QUEUE:
            self._errors[-1] = -350
        else:
            self._errors.append(code)
        # IEEE 488.2: bit 5 for command errors, bit 4 for execution errors.
        self.status |= 32 if code > -200 else 16

    def next_error(self) -> str:
        """Take the oldest error off the queue."""
        code = self._errors.popleft() if self._errors else 0
        return f'{code:+d},"{ERRORS[code]}"'

    def clear_status(self) -> None:
        """Empty the error queue and the event register."""
        self._errors.clear()
        self.status = 0

    def status_byte(self) -> int:
        """Bit 2: errors waiting; bit 5: enabled events."""
        return (4 if self._errors else 0) | (32 if self.status & self.enables["*ESE"] else 0)

    # -- measuring ----------------------------------------------------------------------------------------

    def reset(self) -> None:
        """Go back to the defaults."""
        self.settings = Settings()
        self._memory, self._initiated_s = [], None

    def configure(self, range_volts: float | None) -> None:
        """Choose DC volts: defaults but for the range, which None leaves to the meter."""
        self.reset()
        if range_volts is not None:
            self.set_range(range_volts)

    def set_range(self, volts: float) -> None:
        """Fix the smallest range that holds a value."""
        for each in self._input.model.ranges_volts:
            if abs(volts) <= each * (1.0 + 1e-9):
                self.settings.range_volts, self.settings.auto_range = each, False
                return
        raise CommandRefused(-222)

    @property
    def ranges_volts(self) -> tuple[float, ...]:
        """Ascending."""
        return self._input.model.ranges_volts

    @property
    def step_volts(self) -> float:
        """One count of the display as set."""
        return self._input.step_volts(self.integration_s, self.settings.range_volts)

    @property
    def mains_hz(self) -> float:
        """What a power-line cycle is made of."""
        return self._input.surroundings.mains_hz

    def initiate(self) -> None:
        """Begin to measure; `fetch` gives the readings."""
        now_s = self._clock.now()
        if self._initiated_s is not None and now_s < self._initiated_s + self._count * self.reading_s:
            raise CommandRefused(-213)
        self._memory, self._initiated_s = [], now_s

    def abort(self) -> None:
        """Forget what was begun."""
        self._initiated_s = None

    def read(self) -> str | None:
        """Measure and tell; None when the wait was given up."""
        if self.settings.source != "IMM":
            raise CommandRefused(-214)  # nobody could trigger while the answer is awaited
        self._initiated_s, self._memory = self._clock.now(), []
        return self.fetch()

    def trigger(self) -> None:
        """The bus trigger, for a meter that waits for one."""
        if self.settings.source != "BUS":
            raise CommandRefused(-211)
        self.initiate()

    def fetch(self) -> str | None:
        """Tell what was measured, waiting for its end."""
        if self._initiated_s is None and not self._memory:
            raise CommandRefused(-230)
        if self._initiated_s is not None:
            start_s = self._initiated_s
            self._initiated_s = None
            for _ in range(self._count):
                text = self._one_reading(start_s)
                if text is None:
                    return None
                self._memory.append(text)
                start_s = max(start_s + self.reading_s, self._clock.now()) if self._wait else start_s
        return ",".join(self._memory)

    @property
    def _count(self) -> int:
        return self.settings.samples * self.settings.triggers

    def _one_reading(self, start_s: float) -> str | None:
        host_start = host_seconds()
        while True:
            if self._wait is not None and not self._wait(start_s + self.reading_s):
                return None
            end_s = start_s + self.integration_s if self._wait else self._clock.now()
            settings = self.settings
            volts = self._input.measure(
                start_s,
                end_s,
                self.integration_s,
                settings.range_volts,
                high_impedance=settings.high_impedance and settings.range_volts <= 10.0,
            )
            if not self._changes_range(volts):
                break
            start_s = self._clock.now()
        told = f"{math.copysign(OVERLOAD, volts) if math.isinf(volts) else volts:+.8E}"
        self.measured.append(Measured(start_s, end_s, host_start, host_seconds(), volts, told))
        return told

    def _changes_range(self, volts: float) -> bool:
        """Go up on overload, down to the range that fits, while the meter chooses for itself."""
        if not self.settings.auto_range:
            return False
        ranges = self._input.model.ranges_volts
        now = ranges.index(self.settings.range_volts)
        if math.isinf(volts):
            wanted = min(now + 1, len(ranges) - 1)
        elif now > 0 and abs(volts) < 0.9 * ranges[now - 1]:
            wanted = now - 1
        else:
            wanted = now
        self.settings.range_volts = ranges[wanted]
        return wanted != now
