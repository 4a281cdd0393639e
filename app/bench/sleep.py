"""Did the computer sleep, so that nobody watched for a while?

The bench's clock stands still in sleep on Linux and macOS and runs on through it on Windows; both are told
apart from a clock that was set, which is no sleep.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from typing import Protocol

from drivers.clock import host_seconds

_SHORTEST_S = 2.0
_LATE_S = 5.0


@dataclass(frozen=True, slots=True)
class Slept:
    """A break that nobody watched. `hidden_s` of it the bench's clock did not count."""

    unwatched_s: float
    hidden_s: float
    reason: str = "the computer slept"


class SleepWatch(Protocol):
    """Asked once a turn."""

    def since_last_turn(self) -> Slept | None:
        """The break since the last call, if there was one."""
        ...


class NeverSleeps:
    """For simulated and stepped benches: their time is not the computer's."""

    def since_last_turn(self) -> Slept | None:
        """See `SleepWatch.since_last_turn`."""
        return None


class ComputerSleep:
    """Compares the clock that counts sleep with the one that does not, or notices turns that come late."""

    def __init__(self) -> None:
        self._suspended_s = suspended_seconds()
        self._turn_s = host_seconds()

    def since_last_turn(self) -> Slept | None:
        """See `SleepWatch.since_last_turn`."""
        turn_s, suspended_s = host_seconds(), suspended_seconds()
        late_s, self._turn_s = turn_s - self._turn_s, turn_s
        if suspended_s is None or self._suspended_s is None:
            return Slept(late_s, 0.0) if late_s > _LATE_S else None
        hidden_s, self._suspended_s = suspended_s - self._suspended_s, suspended_s
        return Slept(hidden_s, hidden_s) if hidden_s > _SHORTEST_S else None


def suspended_seconds() -> float | None:
    """Seconds that the computer has slept since it was started, or None where it cannot be told."""
    if sys.platform == "linux":
        return time.clock_gettime(time.CLOCK_BOOTTIME) - time.monotonic()
    if sys.platform == "darwin":
        return time.clock_gettime(time.CLOCK_MONOTONIC) - time.clock_gettime(time.CLOCK_UPTIME_RAW)
    return None
