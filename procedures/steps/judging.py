"""A value against the limits of its channel, in words."""

from __future__ import annotations

from dataclasses import dataclass

from drivers.reading import Unit
from procedures.analysis.figures import amount, figure
from procedures.steps.findings import FAR_HIGH, FAR_HIGH_FACTOR, HIGH, INSIDE, LOW
from procedures.steps.sitting import Sitting
from procedures.target import span_question

RESOLUTION = 1e-5  # V; what is worth saying of a bias


@dataclass(frozen=True, slots=True)
class Limits:
    """Low and high limit in the channel's unit; None where there is none."""

    low: float | None = None
    high: float | None = None


def limits_of(sitting: Sitting, channel: str) -> Limits:
    """The limits that a reading must keep: those narrowed by the meter's uncertainty where known."""
    state = sitting.state(channel)
    setup = sitting.channels.get(channel)
    if state.accept_low is not None or state.accept_high is not None:
        return Limits(state.accept_low, state.accept_high)
    return Limits(setup.low_volts, setup.high_volts) if setup else Limits()


def judged(
    sitting: Sitting, channel: str, value: float, limits: Limits, *, own: bool = False
) -> tuple[str, str]:
    """What is found of a value, as a finding and in words.

    `limits` decide; where they are narrower than the channel's own because of the meter, the words say so.
    With `own` they are a step's own limits, and the channel's do not come into it.
    """
    setup = sitting.channels[channel]
    low, high = limits.low, limits.high
    if not own:
        low = min((one for one in (setup.low_volts, low) if one is not None), default=None)
        high = max((one for one in (setup.high_volts, high) if one is not None), default=None)
    window = _window(low, high, setup.unit)
    shown = _figure(value, setup.unit)
    if limits.high is not None and high is not None and value > limits.high:
        if value <= high:
            return HIGH, f"{shown} is inside {window}, but nearer to the upper limit than this meter can tell"
        far = setup.target_volts is not None and value > FAR_HIGH_FACTOR * setup.target_volts
        return (FAR_HIGH if far else HIGH), f"{shown} is {_by(value - high, setup.unit)} above {window}"
    if limits.low is not None and low is not None and value < limits.low:
        if value >= low:
            return LOW, f"{shown} is inside {window}, but nearer to the lower limit than this meter can tell"
        return LOW, f"{shown} is {_by(low - value, setup.unit)} below {window}"
    return INSIDE, f"{shown} is inside {window}"


def _window(low: float | None, high: float | None, unit: Unit) -> str:
    if low is not None and high is not None:
        return f"{_figure(low, unit)} to {_figure(high, unit)}"
    one = low if high is None else high
    return f"the limit of {_figure(one or 0.0, unit)}"


def _figure(value: float, unit: Unit) -> str:
    return figure(value, unit, RESOLUTION if unit is Unit.VOLT else None)


def _by(value: float, unit: Unit) -> str:
    return amount(value, unit, RESOLUTION if unit is Unit.VOLT else None) or "just"


def span_doubt(sitting: Sitting, channel: str, value: float) -> str:
    """What to ask about the probes when a reading is near half or twice the expected; empty otherwise."""
    setup = sitting.channels.get(channel)
    described = sitting.amplifier.channel_named(channel) if sitting.amplifier else None
    if setup is None or setup.target_volts is None or described is None or described.test_point is None:
        return ""
    return span_question(value, setup.target_volts, described.test_point)
