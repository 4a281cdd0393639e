"""A line link over a serial port, through pyserial.

PyVISA's serial sessions cannot set DTR and RTS before opening (which resets some adapters and meters), let
two programs share a port, and shift answers by one after a timeout (pyvisa-py #376; pyserial #341). Here the
port is opened for this program alone, with its control lines as they should be, and read in short slices,
so that an abort is seen within one of them. The rules of a line are in `links.line`.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import select
import time
from dataclasses import dataclass, field, replace
from typing import Any

import serial
from serial.tools import list_ports

from drivers.clock import host_seconds
from drivers.errors import AddressError, LinkError, LinkLost, LinkRefused, LinkTimedOut
from drivers.links.line import LINE_LIMIT, LineLink, Manners

SLICE_S = 0.05  # the longest that a wait is not looked after
_BANNER_LIMIT_S = 2.0  # boards that reset on opening talk for so long
_BANNER_QUIET_S = 0.02
_RETRIES = 3  # Windows refuses a port for a moment after it was closed or listed (pyserial #309)
_RETRY_S = 0.3

_FRAME = re.compile(r"^(?P<bits>[5-8])(?P<parity>[NEOMS])(?P<stop>1|1\.5|2)$")
_FLOWS = ("rtscts", "dsrdtr", "xonxoff")
_MANNERS: dict[str, dict[str, Any]] = {"echo": {"echo": True}, "ctrl-c": {"clear": b"\x03"}}
_ENDINGS = {"lf": b"\n", "crlf": b"\r\n", "cr": b"\r"}


@dataclass(frozen=True, slots=True)
class SerialFormat:
    """How the port is set. `dtr` and `rts` are the levels from before it is opened."""

    baud: int = 9600
    bits: int = 8
    parity: str = "N"
    stop: float = 1
    flow: str = ""
    dtr: bool = True
    rts: bool = True
    manners: Manners = field(default_factory=Manners)


def serial_format(words: str) -> SerialFormat:
    """Read what stands behind a serial address, such as `19200 8N2 dsrdtr echo crlf`.

    Raises:
        AddressError: with the words that exist.
    """
    found = SerialFormat()
    for word in words.split():
        frame = _FRAME.match(word.upper())
        lower = word.lower()
        if frame:
            found = replace(found, bits=int(frame["bits"]), parity=frame["parity"], stop=float(frame["stop"]))
        elif word.isdecimal() and 50 <= int(word) <= 4_000_000:
            found = replace(found, baud=int(word))
        elif lower in _FLOWS:
            found = replace(found, flow=lower)
        elif lower in _ENDINGS:
            found = replace(found, manners=replace(found.manners, ending=_ENDINGS[lower]))
        elif lower in _MANNERS or lower.partition("=")[0] in ("prompt", "failure", "gap"):
            found = replace(found, manners=_mannered(found.manners, word))
        elif lower in ("dtr-off", "rts-off"):
            found = replace(found, dtr=False) if lower == "dtr-off" else replace(found, rts=False)
        else:
            raise AddressError(
                f"{word!r} says nothing about a serial port; behind the address may stand a speed (9600), "
                "a frame (8N1), rtscts, dsrdtr or xonxoff, lf, crlf or cr, echo, prompt=>, failure=?>, "
                "gap=0.05 (seconds), ctrl-c, dtr-off, rts-off"
            )
    return found


def _mannered(manners: Manners, word: str) -> Manners:
    """Manners with what one word says about them. Raises AddressError."""
    name, _, detail = word.partition("=")
    name = name.lower()
    if name in _MANNERS:
        return replace(manners, **_MANNERS[name])
    if not detail:
        raise AddressError(f"{word!r} needs what comes after the equals sign, such as prompt=> or gap=0.05")
    if name == "prompt":
        return replace(manners, prompts=(*manners.prompts, detail.encode("ascii", "replace")))
    if name == "failure":
        return replace(manners, failure_prompts=(*manners.failure_prompts, detail.encode("ascii", "replace")))
    try:
        gap_s = float(detail)
    except ValueError:
        gap_s = -1.0
    if not 0.0 <= gap_s <= 5.0:
        raise AddressError(f"{word!r}: the rest between two lines is a number of seconds from 0 to 5")
    return replace(manners, gap_s=gap_s)


class SerialLink(LineLink):
    """One line out, one line back, over a serial port. See `drivers.links.Link` for the contract."""

    def __init__(
        self,
        port: str,
        *,
        address: str = "",
        form: SerialFormat | None = None,
        talks: bool = False,
        line_limit: int = LINE_LIMIT,
    ) -> None:
        form = form or SerialFormat()
        super().__init__(address or f"ASRL{port}::INSTR", manners=form.manners, line_limit=line_limit)
        self._port_name = port
        self._form = form
        self._talks = talks  # by itself, so that opening waits for no silence
        self._port: serial.Serial | None = None

    def open(self, deadline: float) -> None:
        """See `Link.open`. Waits until whatever the instrument says at start has ended."""
        self.close()
        self._raise_if_aborted()
        for attempt in range(_RETRIES):
            try:
                self._port = self._opened()
                break
            except (OSError, ValueError) as problem:
                last = attempt == _RETRIES - 1 or host_seconds() + _RETRY_S >= deadline
                if os.name != "nt" or last:
                    raise LinkRefused(self._address, self._refusal(problem)) from problem
                time.sleep(_RETRY_S)
        if self._talks:
            return
        try:
            self._let_it_finish(deadline)
        except LinkError:
            self.close()
            raise

    def _opened(self) -> serial.Serial:
        form = self._form
        port = serial.Serial()
        port.port = self._port_name
        port.baudrate, port.bytesize = form.baud, form.bits
        port.parity, port.stopbits = form.parity, int(form.stop) if form.stop != 1.5 else 1.5
        port.rtscts, port.dsrdtr, port.xonxoff = (form.flow == flow for flow in _FLOWS)
        port.exclusive = True if os.name != "nt" else None  # Windows allows one program anyway
        if form.flow != "dsrdtr":
            port.dtr = form.dtr
        if form.flow != "rtscts":
            port.rts = form.rts
        port.timeout, port.write_timeout = 0.0, SLICE_S
        port.open()
        return port

    def _let_it_finish(self, deadline: float) -> None:
        """Some boards reset when a port is opened, and introduce themselves."""
        limit = min(deadline, host_seconds() + _BANNER_LIMIT_S)
        while True:
            self._buffer.clear()
            try:
                self._wait(min(limit, host_seconds() + _BANNER_QUIET_S), "")
            except LinkTimedOut:
                if host_seconds() >= limit:
                    raise LinkTimedOut(
                        self._address, "the port does not fall silent; is it a meter that talks by itself?"
                    ) from None
                return
            self._receive()

    def _refusal(self, problem: Exception) -> str:
        code = getattr(problem, "errno", None)
        words = str(problem).lower()
        if code == errno.EACCES or "permission denied" in words:
            return (
                f"this user may not use {self._port_name}; on Linux, add the user to the group dialout and "
                "log in again"
            )
        if code == errno.ENOENT or "no such file" in words or "cannot find" in words:
            return f"there is no port {self._port_name}; present are {_present()}"
        if code in (errno.EBUSY, errno.EAGAIN) or "lock" in words or "denied" in words:
            return f"another program holds {self._port_name}; close it"
        return f"{self._port_name} cannot be opened ({problem})"

    def close(self) -> None:
        """See `Link.close`."""
        port, self._port = self._port, None
        if port is not None:
            with contextlib.suppress(Exception):
                port.close()
        self._buffer.clear()
        self._dirty = False

    def abort(self) -> None:
        """See `Link.abort`. Seen within a slice of 50 ms."""
        super().abort()

    # --- the wire -----------------------------------------------------------------------------------

    def _need_open(self) -> None:
        if self._port is None:
            raise LinkLost(self._address, "the port is not open")

    def _push(self, data: bytes, deadline: float) -> None:
        sent = 0
        while sent < len(data):
            self._raise_if_aborted()
            left_s = deadline - host_seconds()
            try:
                put = self._put(data[sent : sent + 64], left_s) if left_s > 0.0 else None
            except (OSError, TypeError, ValueError) as problem:
                raise self._lost(problem) from problem
            if put is None:
                self._dirty = True
                raise LinkTimedOut(self._address, "the meter does not take what is sent; check flow control")
            sent += put

    def _put(self, data: bytes, within_s: float) -> int | None:
        """Send what the port takes within a slice; how many bytes that was. None: nobody can know how many.

        pyserial's own write does not say how much had left when its time was over; what is then sent again
        reaches the meter twice. So only Windows, which has no other way, uses it, and gives up there.
        """
        assert self._port is not None
        if os.name == "nt":
            self._port.write_timeout = within_s
            try:
                return int(self._port.write(data) or 0)
            except serial.SerialTimeoutException:
                return None
        port = self._port.fileno()
        _, ready, _ = select.select([], [port], [], min(within_s, SLICE_S))
        if not ready:
            return 0
        try:
            return os.write(port, data)
        except BlockingIOError:
            return 0

    def _receive(self) -> int:
        assert self._port is not None
        try:
            self._port.timeout = 0.0
            chunk = self._port.read(4096)
        except (OSError, TypeError, ValueError) as problem:
            raise self._lost(problem) from problem
        return self._keep(chunk) if chunk else 0

    def _wait(self, deadline: float, sentence: str) -> None:
        assert self._port is not None
        while True:
            self._raise_if_aborted()
            left_s = deadline - host_seconds()
            if left_s <= 0.0:
                raise LinkTimedOut(self._address, sentence, bytes(self._buffer[:200]))
            try:
                self._port.timeout = min(left_s, SLICE_S)
                chunk = self._port.read(1)
            except (OSError, TypeError, ValueError) as problem:
                raise self._lost(problem) from problem
            if chunk:
                self._keep(chunk)
                return


def _present() -> str:
    """The ports that have something behind them."""
    names = [port.device for port in list_ports.comports() if port.hwid not in ("", "n/a")]
    return ", ".join(sorted(names)) or "none"
