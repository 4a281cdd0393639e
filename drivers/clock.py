"""Bench time: what schedules and readings are stamped with.

*Bench time* is monotonic seconds with an arbitrary origin; it runs at life speed on real meters, at any
speed on the simulated bench, and only by hand in tests. *Host time* (`host_seconds`) is what deadlines of
input and output are counted in, because a socket does not hurry when the simulated bench does. The two
never share a name: `..._s` on readings and schedules is bench time, `deadline` and `host_...` are host time.
"""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime, timedelta
from typing import Protocol


def host_seconds() -> float:
    """Monotonic seconds of the computer, for deadlines of input and output.

    `perf_counter` rather than `monotonic`: the latter ticks in 15.6 ms steps on Windows before Python 3.13.
    """
    return time.perf_counter()


class Clock(Protocol):
    """Where bench time comes from."""

    def now(self) -> float:
        """Bench seconds; never goes back."""
        ...

    def at_host(self, host_s: float) -> float:
        """The bench time at a recent moment of host time (a link's stamps are host time)."""
        ...

    def utc(self) -> datetime:
        """The wall clock, for the record only; it may jump."""
        ...

    def wait_until(self, until_s: float, wake: threading.Event) -> None:
        """Block until bench time `until_s`, or until `wake` is set, whichever is first."""
        ...


class LifeClock:
    """Real time: one bench second a second."""

    def now(self) -> float:
        """See `Clock.now`."""
        return host_seconds()

    def at_host(self, host_s: float) -> float:
        """See `Clock.at_host`."""
        return host_s

    def utc(self) -> datetime:
        """See `Clock.utc`."""
        return datetime.now(UTC)

    def wait_until(self, until_s: float, wake: threading.Event) -> None:
        """See `Clock.wait_until`."""
        wake.wait(max(0.0, until_s - self.now()))


class ScaledClock:
    """Faster (or slower) than life, for the simulated bench. The speed may be changed at any time."""

    def __init__(self, rate: float) -> None:
        self._lock = threading.Lock()
        self._host_origin = host_seconds()
        self._bench_origin = 0.0
        self._utc_origin = datetime.now(UTC)
        self._rate = self._rate_before = rate

    @property
    def rate(self) -> float:
        """Bench seconds a host second."""
        return self._rate

    def set_rate(self, rate: float) -> None:
        """Go on from the present moment at another speed (`rate` > 0)."""
        if rate <= 0.0:
            raise ValueError(f"the speed must be above zero, not {rate}")
        with self._lock:
            host = host_seconds()
            self._bench_origin += (host - self._host_origin) * self._rate
            self._host_origin = host
            self._rate_before, self._rate = self._rate, rate

    def now(self) -> float:
        """See `Clock.now`."""
        return self.at_host(host_seconds())

    def at_host(self, host_s: float) -> float:
        """See `Clock.at_host`."""
        with self._lock:
            # What was measured across a change of speed began at the old one: it must not reach far back.
            rate = self._rate if host_s >= self._host_origin else self._rate_before
            return self._bench_origin + (host_s - self._host_origin) * rate

    def utc(self) -> datetime:
        """The wall clock of the bench: it runs at the bench's speed, so that anchors agree with readings."""
        return self._utc_origin + timedelta(seconds=self.now())

    def wait_until(self, until_s: float, wake: threading.Event) -> None:
        """See `Clock.wait_until`."""
        # Waits in slices so that a change of speed takes effect within a tenth of a second.
        while not wake.is_set():
            left_s = until_s - self.now()
            if left_s <= 0.0:
                return
            wake.wait(min(left_s / self._rate, 0.1))


class SteppedClock:
    """Moves only when told to: everything runs in one thread and nothing sleeps."""

    def __init__(self, start_s: float = 0.0, utc: datetime = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)) -> None:
        self._now_s = start_s
        self._start_s = start_s
        self._utc_origin = utc

    def now(self) -> float:
        """See `Clock.now`."""
        return self._now_s

    def advance_to(self, moment_s: float) -> None:
        """Move on to `moment_s`; a moment that has passed changes nothing."""
        self._now_s = max(self._now_s, moment_s)

    def at_host(self, host_s: float) -> float:
        """The present: in stepped time an exchange takes no bench time."""
        return self._now_s

    def utc(self) -> datetime:
        """See `Clock.utc`."""
        return self._utc_origin + timedelta(seconds=self._now_s - self._start_s)

    def wait_until(self, until_s: float, wake: threading.Event) -> None:
        """Refused: in stepped time whoever steps the clock decides when a moment comes."""
        raise RuntimeError("nothing may wait in stepped time")
