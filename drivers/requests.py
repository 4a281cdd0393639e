"""What may be asked of a meter's worker between two readings. Each is answered by a `RequestOutcome`."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RangeRequest:
    """Measure on another range from now on."""

    id: str
    range_volts: float


@dataclass(frozen=True, slots=True)
class PeriodRequest:
    """Poll faster or slower from now on."""

    id: str
    period_s: float


@dataclass(frozen=True, slots=True)
class InputsRequest:
    """Read these inputs from now on: scanner channels, or the second display."""

    id: str
    inputs: tuple[str, ...]


MeterRequest = RangeRequest | PeriodRequest | InputsRequest
