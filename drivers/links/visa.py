"""A link through PyVISA: HiSLIP, VXI-11, USBTMC, GPIB, and any installed vendor VISA on request.

PyVISA-py is asked for by name ("@py"), because the default silently prefers an installed vendor VISA. There
is one resource manager a library for the whole process and it is never closed: closing it would end every
other session too (pyvisa #742, #163). Bytes only, so that no codec stands between the meter and the parser.

What cannot be aborted has a bound instead, `VisaLink.stop_bound_s`; the worker's thread waits it out and
nobody else does.
"""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Callable
from typing import Any, TypeVar

import pyvisa
from pyvisa import constants, errors, rname

from drivers.clock import host_seconds
from drivers.errors import LinkAborted, LinkError, LinkGarbled, LinkLost, LinkRefused, LinkTimedOut
from drivers.links import Reply
from drivers.links.block import BLOCK_LIMIT, whole_block
from drivers.links.tcp import TcpLink

LINE_LIMIT = 65_536
_BLOCK_HEAD = 64  # what may stand before and behind a block
_CHUNK = 4096
_BLANK = b"\0\r\n \t"
_HISLIP_PORT = 4880
_PORTMAPPER_PORT = 111
_MESSAGE_AVAILABLE = 16  # IEEE 488.2, 11.2.1.2: MAV in the status byte

_managers: dict[str, pyvisa.ResourceManager] = {}
_managers_lock = threading.Lock()
_T = TypeVar("_T")


def shared_manager(library: str = "@py") -> pyvisa.ResourceManager:
    """The process's one resource manager for a VISA library. Raises OSError or ValueError without it."""
    with _managers_lock:
        if library not in _managers:
            _managers[library] = pyvisa.ResourceManager(library)
        return _managers[library]


class VisaLink:
    """One message out, one message back, through PyVISA. See `drivers.links.Link` for the contract."""

    def __init__(self, address: str, *, library: str = "@py") -> None:
        self._address = address
        self._library = library
        self._parsed = rname.ResourceName.from_string(address)
        self._resource: Any = None
        self._dirty = False
        self._abort = threading.Event()
        self._busy = False
        self._asks_status = False
        self._probe: TcpLink | None = None

    @property
    def address(self) -> str:
        """See `Link.address`."""
        return self._address

    @property
    def dirty(self) -> bool:
        """See `Link.dirty`."""
        return self._dirty

    @property
    def stop_bound_s(self) -> float:
        """How much longer than its deadline a call may last at the worst, measured on PyVISA-py 0.8.1.

        HiSLIP is cut by closing its socket for reading, but opening blocks for 5 s if a server accepts and
        then says nothing. VXI-11 adds one second, USB ten (its abort sequence has limits of its own).
        """
        if self._is_hislip:
            return 5.0
        if isinstance(self._parsed, rname.TCPIPInstr):
            return 2.0
        return 10.0

    @property
    def _is_hislip(self) -> bool:
        name = getattr(self._parsed, "lan_device_name", "")
        return isinstance(self._parsed, rname.TCPIPInstr) and name.lower().startswith("hislip")

    # --- opening and closing ------------------------------------------------------------------------

    def open(self, deadline: float) -> None:
        """See `Link.open`. Network instruments are tried with a plain socket first.

        PyVISA-py ignores `open_timeout` on HiSLIP and reports some refused connections as opened.
        """
        self.close()
        self._raise_if_aborted()
        self._try_the_port(deadline)
        timeout_ms = self._left_ms(deadline, "there was no time left to open it")
        try:
            manager = shared_manager(self._library)
        except (OSError, ValueError) as problem:
            raise LinkRefused(
                self._address, f"the VISA library {self._library} cannot be used ({problem})"
            ) from problem
        self._resource = self._carry_out(
            lambda: manager.open_resource(self._address, open_timeout=timeout_ms), opening=True
        )
        self._dirty = False
        self._asks_status = isinstance(self._parsed, rname.TCPIPInstr) and not self._is_hislip

    def _try_the_port(self, deadline: float) -> None:
        """Connect and let go, so that a dead address fails by the deadline and can be aborted."""
        if not isinstance(self._parsed, rname.TCPIPInstr) or self._library != "@py":
            return
        host, _, host_port = self._parsed.host_address.partition(",")
        if host_port and not self._is_hislip:
            # The instrument's own port, which may have one place only; PyVISA-py keeps to its time there.
            return
        device_port = self._parsed.lan_device_name.partition(",")[2]
        number = _HISLIP_PORT if self._is_hislip else _PORTMAPPER_PORT
        if self._is_hislip and device_port.isdecimal():
            number = int(device_port)
        self._probe = TcpLink(host, number, address=self._address)
        try:
            self._raise_if_aborted()
            self._probe.open(deadline)
        finally:
            self._probe.close()
            self._probe = None

    def close(self) -> None:
        """See `Link.close`."""
        resource, self._resource = self._resource, None
        self._dirty = False
        if resource is None:
            return
        with contextlib.suppress(Exception):
            handle = resource.session
            library = resource.visalib
            with contextlib.suppress(Exception):
                resource.close()
            # PyVISA-py keeps closed sessions for ever: 2 kB for each reconnection.
            library.sessions.pop(handle, None)

    # --- asking -------------------------------------------------------------------------------------

    def query(self, line: bytes, deadline: float) -> Reply:
        """See `Link.query`."""
        self._may_ask()
        sent = host_seconds()
        raw = self._exchange(line, deadline)
        received = host_seconds()
        if b"\n" in raw:
            raise LinkGarbled(self._address, "more than one line came in answer to one question", raw[:200])
        self._dirty = False
        return Reply(raw, sent, received)

    def query_block(self, line: bytes, deadline: float, most: int = BLOCK_LIMIT) -> Reply:
        """See `Link.query_block`. One message holds the block and nothing else."""
        self._may_ask()
        sent = host_seconds()
        self._send(line, deadline)
        message = self._message(deadline, most + _BLOCK_HEAD)
        received = host_seconds()
        try:
            raw = whole_block(message.lstrip(_BLANK), most)
        except ValueError as refusal:
            raise LinkGarbled(self._address, str(refusal), message[:200]) from None
        self._dirty = False
        return Reply(raw, sent, received)

    def _may_ask(self) -> None:
        """Refuse where no question may be put; from here on the link is dirty until its answer is whole."""
        self._raise_if_aborted()
        self._need_open()
        if self._dirty:
            raise LinkGarbled(self._address, "an earlier answer may still be on its way; resynchronise first")
        self._dirty = True
        self._refuse_unasked()

    def write(self, line: bytes, deadline: float) -> None:
        """See `Link.write`."""
        self._raise_if_aborted()
        self._need_open()
        self._set_timeout(deadline)
        was_dirty, self._dirty = self._dirty, True  # a part of it may have left, whatever ends this call
        self._carry_out(lambda: self._resource.visalib.write(self._resource.session, line + b"\n"))
        self._dirty = was_dirty

    def mark_dirty(self) -> None:
        """See `Link.mark_dirty`."""
        self._dirty = True

    def resync(self, sentinel: bytes, expected: bytes, deadline: float) -> None:
        """See `Link.resync`. HiSLIP and VXI-11 drop late answers by number; this makes sure of it."""
        self._raise_if_aborted()
        self._need_open()
        self._dirty = True
        answer = self._exchange(sentinel, deadline)
        while not answer.strip(_BLANK).endswith(expected.strip(_BLANK)):
            answer = self._read(deadline)
        self._dirty = False

    def abort(self) -> None:
        """See `Link.abort`.

        HiSLIP is woken by shutting its synchronous socket, which ends the connection; on other transports
        the call ends by its own time limit (`stop_bound_s`).
        """
        self._abort.set()
        probe, resource = self._probe, self._resource
        if probe is not None:
            probe.abort()
        if not self._busy or resource is None or not self._is_hislip:
            return
        with contextlib.suppress(Exception):
            session = resource.visalib.sessions[resource.session]
            session.interface._sync.shutdown(2)  # both ways

    def _refuse_unasked(self) -> None:
        """On VXI-11 nothing numbers the answers; its status byte tells of one that nobody has read.

        HiSLIP numbers its messages (IVI-6.1, 3.1.2), and the other transports have no status byte here.
        """
        if not self._asks_status:
            return
        try:
            status, _ = self._resource.visalib.read_stb(self._resource.session)
        except Exception:  # not every instrument has one; the time limit of the question itself still holds
            self._asks_status = False
            return
        if int(status) & _MESSAGE_AVAILABLE:
            raise LinkGarbled(self._address, "an answer is waiting that nobody asked for")

    # --- the library --------------------------------------------------------------------------------

    def _exchange(self, line: bytes, deadline: float) -> bytes:
        self._send(line, deadline)
        return self._read(deadline)

    def _send(self, line: bytes, deadline: float) -> None:
        self._set_timeout(deadline)
        self._carry_out(lambda: self._resource.visalib.write(self._resource.session, line + b"\n"))

    def _read(self, deadline: float) -> bytes:
        """One message, without blanks around it; at most LINE_LIMIT bytes."""
        return self._message(deadline, LINE_LIMIT).strip(_BLANK)

    def _message(self, deadline: float, limit: int) -> bytes:
        """One message as it came. Raises LinkGarbled behind `limit` bytes."""
        self._set_timeout(deadline)
        message = bytearray()
        visalib, session = self._resource.visalib, self._resource.session
        while True:
            chunk, status = self._carry_out(lambda: self._read_chunk(visalib, session))
            message += chunk
            if len(message) > limit:
                raise LinkGarbled(self._address, f"{limit} bytes came without an end", bytes(message[:200]))
            if status != constants.StatusCode.success_max_count_read:
                return bytes(message)
            self._set_timeout(deadline)

    @staticmethod
    def _read_chunk(visalib: Any, session: Any) -> tuple[bytes, Any]:
        with visalib.ignore_warning(session, constants.StatusCode.success_max_count_read):
            chunk, status = visalib.read(session, _CHUNK)
        return bytes(chunk), status

    def _set_timeout(self, deadline: float) -> None:
        milliseconds = self._left_ms(deadline, "no complete answer came in time")
        attribute = constants.ResourceAttribute.timeout_value
        self._carry_out(
            lambda: self._resource.visalib.set_attribute(self._resource.session, attribute, milliseconds)
        )

    def _left_ms(self, deadline: float, sentence: str) -> int:
        left_s = deadline - host_seconds()
        if left_s <= 0.0:
            raise LinkTimedOut(self._address, sentence)
        return max(1, round(left_s * 1000.0))

    def _carry_out(self, call: Callable[[], _T], *, opening: bool = False) -> _T:
        """Call the library; only link errors come out."""
        self._busy = True
        try:
            return call()
        except Exception as problem:
            if self._abort.is_set():
                self._abort.clear()
                raise LinkAborted(self._address, "given up on request") from problem
            raise self._translated(problem, opening=opening) from problem
        finally:
            self._busy = False

    def _translated(self, problem: Exception, *, opening: bool) -> LinkError:
        """What the library raised, as one of ours; it may raise any class there is."""
        code = problem.error_code if isinstance(problem, errors.VisaIOError) else None
        words = str(problem).strip() or type(problem).__name__
        if code == constants.StatusCode.error_timeout:
            return LinkTimedOut(self._address, "no complete answer came in time")
        if opening:
            return LinkRefused(self._address, self._why_not_opened(problem, words))
        return LinkLost(self._address, f"the connection is gone ({words})")

    def _why_not_opened(self, problem: Exception, words: str) -> str:
        if "install" in words.lower():
            return f"this computer lacks what it takes to reach it ({words})"
        if "busy" in words.lower():
            return f"another program, or a driver of the operating system, holds it; close it ({words})"
        if isinstance(self._parsed, rname.USBInstr | rname.USBRaw):
            hint = "" if os.name == "nt" else ", and that this user may use it (udev rule)"
            return f"no such instrument on USB, or no permission; check the cable{hint} ({words})"
        return f"it cannot be opened; check that it is on and that no other program holds it ({words})"

    def _need_open(self) -> None:
        if self._resource is None:
            raise LinkLost(self._address, "the connection is not open")

    def _raise_if_aborted(self) -> None:
        if self._abort.is_set():
            self._abort.clear()
            raise LinkAborted(self._address, "given up on request")
