"""A SCPI multimeter of few words and a link to it in memory, for tests of the layers above a link.

Silence is a missing answer: the link times out at once instead of waiting.
"""

from __future__ import annotations

from collections.abc import Callable

from drivers.clock import host_seconds
from drivers.errors import LinkAborted, LinkError, LinkGarbled, LinkLost, LinkRefused, LinkTimedOut
from drivers.links import Reply
from drivers.links.block import BLOCK_LIMIT, whole_block

IDENTITY = "INVENTED,MODEL 1,0001,1.0"


class FakeInstrument:
    """Understands what the dialects that ship with the program say; each test changes what it needs."""

    def __init__(self, volts: float = 0.0135) -> None:
        self.identity = IDENTITY
        self.volts = volts
        self.ranges = [0.1, 1.0, 10.0, 100.0, 1000.0]
        self.answers: dict[str, str] = {}  # overrides; "" is silence
        self.reading: Callable[[], str] | None = None
        self.lines: list[str] = []
        self.switch_on()

    def switch_on(self) -> None:
        """The settings after power-on."""
        self.settings = {
            "VOLT:DC:RANG": "1.0E+03",
            "VOLT:DC:NPLC": "1.0E+01",
            "SYST:LFR": "50",
            "ZERO:AUTO": "0",
            "VOLT:DC:ZERO:AUTO": "0",
            "INP:IMP:AUTO": "1",
            "TRIG:SOUR": "BUS",
            "TRIG:COUN": "1",
            "SAMP:COUN": "10",
        }

    def take(self, line: str) -> str | None:
        """Carry out one line; the answer, or None."""
        self.lines.append(line)
        if line in self.answers:
            return self.answers[line] or None
        if line == "*IDN?":
            return self.identity
        if line == "SYST:ERR?":
            return '+0,"No error"'
        if line == "READ?" or line.startswith("MEAS:VOLT:DC?"):
            return self._read()
        if line.endswith("?"):
            return self.settings.get(line[:-1])
        name, _, value = line.partition(" ")
        if name == "CONF:VOLT:DC":
            name = "VOLT:DC:RANG"
        if name == "VOLT:DC:RANG":
            fitting = [each for each in self.ranges if each >= float(value) * 0.999]
            value = f"{(fitting or self.ranges[-1:])[0]:+.6E}"
        if name in self.settings:
            self.settings[name] = {"ON": "1", "OFF": "0"}.get(value, value)
        return None

    def _read(self) -> str:
        if self.reading is not None:
            return self.reading()
        if abs(self.volts) > 1.2 * float(self.settings["VOLT:DC:RANG"]):
            return "+9.90000000E+37"
        value = f"{self.volts:+.8E}"
        return ",".join([value] * round(float(self.settings["SAMP:COUN"])))


class FakeLink:
    """The link contract in memory. `failures` are raised by the next queries, in order."""

    def __init__(self, instrument: FakeInstrument, address: str = "TCPIP::192.0.2.1::5025::SOCKET") -> None:
        self.instrument = instrument
        self._address = address
        self.failures: list[type[LinkError] | None] = []
        self.refusing = False
        self.opened = 0
        self.is_open = False
        self._dirty = False
        self._aborted = False

    @property
    def address(self) -> str:
        return self._address

    @property
    def dirty(self) -> bool:
        return self._dirty

    def open(self, deadline: float) -> None:
        self._raise_if_aborted()
        if self.refusing:
            raise LinkRefused(self.address, "refused")
        self.opened += 1
        self.is_open = True
        self._dirty = False

    def query(self, line: bytes, deadline: float) -> Reply:
        self._raise_if_aborted()
        self._need_open()
        if self._dirty:
            raise LinkGarbled(self.address, "resynchronise first")
        failure = self.failures.pop(0) if self.failures else None
        sent = host_seconds()
        answer = self.instrument.take(line.decode("ascii"))
        if failure is not None:
            self._dirty = True
            if issubclass(failure, LinkLost):
                self.is_open = False
            raise failure(self.address, "as the test wanted")
        if answer is None:
            self._dirty = True
            raise LinkTimedOut(self.address, "no complete answer came in time")
        return Reply(answer.encode("latin-1"), sent, host_seconds())

    def query_block(self, line: bytes, deadline: float, most: int = BLOCK_LIMIT) -> Reply:
        reply = self.query(line, deadline)
        return Reply(whole_block(reply.raw, most), reply.sent, reply.received)

    def write(self, line: bytes, deadline: float) -> None:
        self._raise_if_aborted()
        self._need_open()
        self.instrument.take(line.decode("ascii"))

    def mark_dirty(self) -> None:
        self._dirty = True

    def resync(self, sentinel: bytes, expected: bytes, deadline: float) -> None:
        self._raise_if_aborted()
        self._need_open()
        failure = self.failures.pop(0) if self.failures else None
        if failure is not None:
            raise failure(self.address, "as the test wanted")
        answer = self.instrument.take(sentinel.decode("ascii"))
        if answer is None or not answer.endswith(expected.decode("latin-1")):
            raise LinkTimedOut(self.address, "another name came back")
        self._dirty = False

    def abort(self) -> None:
        self._aborted = True

    def close(self) -> None:
        self.is_open = False
        self._dirty = False

    def _need_open(self) -> None:
        if not self.is_open:
            raise LinkLost(self.address, "the connection is not open")

    def _raise_if_aborted(self) -> None:
        if self._aborted:
            self._aborted = False
            raise LinkAborted(self.address, "given up on request")
