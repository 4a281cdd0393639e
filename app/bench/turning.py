"""The thin thread that turns the conductor at life speed, and the one that forces the record to disk."""

from __future__ import annotations

import threading
from collections.abc import Callable

from app.bench.conductor import Conductor
from drivers.clock import Clock, host_seconds

SPACING_S = 0.04  # host seconds between two turns: a burst of readings makes one batch
FORCE_S = 1.0


class ConductorThread:
    """Calls `Conductor.advance` when it is due or something came in, until told to stop."""

    def __init__(self, conductor: Conductor, clock: Clock) -> None:
        self._conductor = conductor
        self._clock = clock
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="conductor")

    def start(self) -> None:
        """Begin to turn."""
        self._thread.start()

    def stop(self, patience_s: float = 5.0) -> bool:
        """End after one last turn; whether it did within `patience_s`."""
        self._stop.set()
        self._conductor.wake.set()
        self._thread.join(patience_s)
        return not self._thread.is_alive()

    def _run(self) -> None:
        wake = self._conductor.wake
        while not self._stop.is_set():
            began = host_seconds()
            wake.clear()
            due_s = self._conductor.advance(self._clock.now())
            self._clock.wait_until(due_s, wake)
            self._stop.wait(max(0.0, SPACING_S - (host_seconds() - began)))
        self._conductor.finish(self._clock.now())


class DiskForcer:
    """Forces the record to disk once a second, and at once when asked to."""

    def __init__(self, force: Callable[[], None]) -> None:
        self._force = force
        self._soon = threading.Event()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="disk")
        self.trouble = ""

    def start(self) -> None:
        """Begin to force."""
        self._thread.start()

    def soon(self) -> None:
        """Force now rather than within the second. Any thread; returns at once."""
        self._soon.set()

    def stop(self, patience_s: float = 5.0) -> bool:
        """Force once more and end; whether it did within `patience_s`."""
        self._stop.set()
        self._soon.set()
        self._thread.join(patience_s)
        return not self._thread.is_alive()

    def _run(self) -> None:
        ending = False
        while not ending:
            self._soon.wait(FORCE_S)
            self._soon.clear()
            # Read before forcing: what was written while an earlier force was under way is forced as well.
            ending = self._stop.is_set()
            try:
                self._force()
                self.trouble = ""
            except OSError as error:
                self.trouble = f"The disk does not take the record for good ({error.strerror or error})."
