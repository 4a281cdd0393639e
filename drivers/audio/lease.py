"""The lease of a generator's output: it stays on only while somebody goes on saying so.

`OutputLease` is the steppable core, `LeaseKeeper` the thin thread around it. Not here: how the output is
switched. A computer that dies leaves an instrument's output as it is; no lease of a program can help there.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from drivers.audio.refusal import AudioRefused
from drivers.clock import host_seconds
from drivers.errors import LinkError

TERM_S = 2.0
RETRY_S = 0.5


class OutputLease:
    """Between `begin` and `end` the output may be on; `off` is called when a renewal is missed."""

    def __init__(self, off: Callable[[], None], term_s: float = TERM_S) -> None:
        self._off = off
        self._term_s = term_s
        self._lock = threading.Lock()
        self._due_s: float | None = None
        self._missed = False

    def begin(self, now: float) -> None:
        """The output is about to be switched on."""
        with self._lock:
            self._due_s, self._missed = now + self._term_s, False

    def renew(self, now: float) -> None:
        """Go on. Raises AudioRefused when a renewal was missed before and the output was switched off."""
        with self._lock:
            if self._missed or self._due_s is None:
                raise AudioRefused(
                    "The generator's output was switched off, because nothing renewed its lease."
                )
            self._due_s = now + self._term_s

    def end(self) -> None:
        """The output is off."""
        with self._lock:
            self._due_s = None

    def advance(self, now: float) -> float | None:
        """Switch off where a renewal is overdue, again and again until it worked; when to look next."""
        with self._lock:
            due = self._due_s
            if due is None or now < due:
                return due
            self._missed = True
        try:
            self._off()
        except (LinkError, AudioRefused):
            with self._lock:
                self._due_s = now + RETRY_S
                return self._due_s
        self.end()
        return None


class LeaseKeeper:
    """The thread that watches a lease. `wake` after `begin`, `stop` at the end."""

    def __init__(self, lease: OutputLease, now: Callable[[], float] = host_seconds) -> None:
        self._lease = lease
        self._now = now
        self._wake = threading.Event()
        self._stopping = False
        self._thread = threading.Thread(target=self._watch, name="generator lease", daemon=True)
        self._thread.start()

    def wake(self) -> None:
        """A lease has begun."""
        self._wake.set()

    def stop(self) -> None:
        """End the thread. The output must be off by now."""
        self._stopping = True
        self._wake.set()
        self._thread.join(5.0)

    def _watch(self) -> None:
        while not self._stopping:
            due = self._lease.advance(self._now())
            self._wake.wait(None if due is None else max(0.01, due - self._now()))
            self._wake.clear()
