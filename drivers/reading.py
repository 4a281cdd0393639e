"""Facts that leave the meters: a reading, the recorded absence of one, and what a meter is doing.

Frozen, so that they cross threads unchanged. Times are bench seconds (`drivers.clock`). SI units.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Unit(StrEnum):
    """Unit of a value as it is kept inside the program and in the record."""

    VOLT = "V"
    AMPERE = "A"
    OHM = "ohm"
    WATT = "W"
    CELSIUS = "degC"
    HERTZ = "Hz"
    PERCENT = "%"
    DECIBEL = "dB"
    HOUR = "h"


class ReadingFlag(StrEnum):
    """What is remarkable about a reading that is nevertheless valid."""

    SLOW = "slow"  # took much longer than the meter states: auto-range or a retry inside the meter
    LATEST = "latest"  # the meter gives its display's latest value rather than a fresh one
    TYPED = "typed"  # a person read it off a display and typed it
    UNCHANGED = "unchanged"  # a person said by one key that the typed value has not changed
    OTHER_RANGE = "other-range"  # taken on a higher range than the step wanted


@dataclass(frozen=True, slots=True)
class Reading:
    """One value of one meter input with the interval in which it was measured."""

    meter: str
    input: str
    value: float
    unit: Unit
    start_s: float
    end_s: float
    flags: frozenset[ReadingFlag] = frozenset()


class GapReason(StrEnum):
    """Why there is no value."""

    OVERLOAD = "overload"
    NO_READING = "no reading"  # the meter itself said so (SCPI not-a-number)
    TIMED_OUT = "timed out"
    GARBLED = "garbled"
    LOST = "lost"  # the connection is gone
    MOVED = "moved"  # the lead was taken to another channel
    PAUSED = "paused"
    NOT_RUNNING = "not running"  # the program was not there to look (crash, sleep)


@dataclass(frozen=True, slots=True)
class Gap:
    """The recorded absence of a reading, with its reason. Missing is never zero."""

    meter: str
    input: str
    start_s: float
    end_s: float
    reason: GapReason
    detail: str = ""  # one sentence for a person; what was received, what to do


class MeterState(StrEnum):
    """What a meter's worker is doing; shown in words."""

    IDLE = "idle"
    CONNECTING = "connecting"
    IDENTIFYING = "identifying"
    CONFIGURING = "configuring"
    POLLING = "polling"
    RESYNCING = "resyncing"
    WAITING = "waiting to try again"
    STOPPED = "stopped"


@dataclass(frozen=True, slots=True)
class MeterStatus:
    """A change of a meter's state, with the reason for a person to read."""

    meter: str
    state: MeterState
    at_s: float
    detail: str = ""
    identity: str = ""


@dataclass(frozen=True, slots=True)
class RequestOutcome:
    """What became of a request that was passed to a meter's worker."""

    request_id: str
    at_s: float
    done: bool
    detail: str = ""
