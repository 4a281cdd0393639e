"""Asking the computer to stay awake while a run is on, by the means that its system offers.

A program of the system holds the request and is ended with the run; this one can only ask. Where it cannot
be asked that is said, so that a person can see to it.
"""

from __future__ import annotations

import contextlib
import shutil
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from typing import Protocol

CANNOT = "This computer may fall asleep during the run: the program found no way to ask it to stay awake."
AT_ONCE_S = 0.2
_WHY = "readings of an amplifier are being recorded"
_ES_CONTINUOUS, _ES_SYSTEM_REQUIRED = 0x80000000, 0x00000001


class Held(Protocol):
    """A running program that holds the request."""

    def poll(self) -> int | None:
        """Its exit code once it has ended."""
        ...

    def terminate(self) -> None:
        """End it."""
        ...

    def wait(self, timeout: float | None = None) -> int:
        """Wait for its end."""
        ...


def _started(command: Sequence[str]) -> Held:
    return subprocess.Popen(
        list(command), stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )


def command_for(platform: str, find: Callable[[str], str | None] = shutil.which) -> list[str]:
    """The system's program that keeps the computer awake while it runs; empty where there is none.

    On Linux it reads from a pipe of this program, so that it ends with it even if this one is killed.
    """
    if platform == "darwin" and (caffeinate := find("caffeinate")):
        return [caffeinate, "-i", "-s"]
    inhibit, cat = find("systemd-inhibit"), find("cat")
    if platform.startswith("linux") and inhibit and cat:
        return [inhibit, "--what=sleep:idle", "--who=Warmtrim", f"--why={_WHY}", "--mode=block", cat]
    return []


class KeptAwake:
    """Holds the request from `begin` to `end`."""

    def __init__(
        self,
        platform: str = sys.platform,
        find: Callable[[str], str | None] = shutil.which,
        start: Callable[[Sequence[str]], Held] = _started,
    ) -> None:
        self._platform = platform
        self._find = find
        self._start = start
        self._held: Held | None = None
        self._asking: threading.Thread | None = None
        self._ending = threading.Event()

    def begin(self) -> str:
        """Ask; a sentence where it cannot be asked, else empty."""
        if self._platform == "win32":
            return "" if _windows_stays_awake(True) else CANNOT
        command = command_for(self._platform, self._find)
        if not command:
            return CANNOT
        try:
            held = self._start(command)
        except OSError:
            return CANNOT
        self._held = held
        # Where nobody listens to the request the program ends at once.
        with contextlib.suppress(subprocess.TimeoutExpired):
            held.wait(timeout=AT_ONCE_S)
            return CANNOT
        return ""

    def begin_beside(self, tell: Callable[[str], object]) -> None:
        """Ask in a thread of its own, as the answer takes a moment; `tell` a sentence where it cannot be.

        On Windows the request belongs to the thread that makes it, which therefore stays until the end.
        """

        def ask() -> None:
            if trouble := self.begin():
                tell(trouble)
            elif self._platform == "win32":
                self._ending.wait()
                _windows_stays_awake(False)

        self._asking = threading.Thread(target=ask, name="awake", daemon=True)
        self._asking.start()

    @property
    def holding(self) -> bool:
        """Whether the request still stands."""
        return self._held is not None and self._held.poll() is None

    def end(self) -> None:
        """Let it sleep again. The second call does nothing."""
        self._ending.set()
        if self._asking is not None:
            self._asking.join()
        held, self._held = self._held, None
        if held is None:
            return
        with contextlib.suppress(OSError, subprocess.TimeoutExpired):
            held.terminate()
            held.wait(timeout=2.0)
        stream = getattr(held, "stdin", None)
        if stream is not None:
            with contextlib.suppress(OSError):
                stream.close()


def _windows_stays_awake(wanted: bool) -> bool:
    import ctypes

    kernel = getattr(getattr(ctypes, "windll", None), "kernel32", None)
    if kernel is None:
        return False
    return bool(kernel.SetThreadExecutionState(_ES_CONTINUOUS | (_ES_SYSTEM_REQUIRED if wanted else 0)))
