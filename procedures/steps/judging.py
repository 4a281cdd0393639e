"""A value against the limits of its channel, in words."""

from __future__ import annotations

from dataclasses import dataclass

from procedures.analysis.figures import figure
from procedures.steps.findings import FAR_HIGH, FAR_HIGH_FACTOR, HIGH, INSIDE, LOW
from procedures.steps.sitting import Sitting
from procedures.target import span_question


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


def judged(sitting: Sitting, channel: str, value: float, limits: Limits) -> tuple[str, str]:
    """What is found of a value, as a finding and in words."""
    setup = sitting.channels[channel]
    unit = setup.unit
    shown, window = figure(value, unit), _window(sitting, channel, limits)
    if limits.high is not None and value > limits.high:
        if setup.high_volts is not None and value <= setup.high_volts:
            return HIGH, f"{shown} is inside {window}, but nearer to the upper limit than this meter can tell"
        over = f"{shown} is {figure(value - (setup.high_volts or limits.high), unit)} above {window}"
        far = setup.target_volts is not None and value > FAR_HIGH_FACTOR * setup.target_volts
        return (FAR_HIGH if far else HIGH), over
    if limits.low is not None and value < limits.low:
        if setup.low_volts is not None and value >= setup.low_volts:
            return LOW, f"{shown} is inside {window}, but nearer to the lower limit than this meter can tell"
        low = limits.low if setup.low_volts is None else setup.low_volts
        return LOW, f"{shown} is {figure(low - value, unit)} below {window}"
    return INSIDE, f"{shown} is inside {window}"


def _window(sitting: Sitting, channel: str, limits: Limits) -> str:
    setup = sitting.channels[channel]
    low = limits.low if setup.low_volts is None else setup.low_volts
    high = limits.high if setup.high_volts is None else setup.high_volts
    if low is None:
        return f"the limit of {figure(high or 0.0, setup.unit)}"
    if high is None:
        return f"the limit of {figure(low, setup.unit)}"
    return f"{figure(low, setup.unit)} to {figure(high, setup.unit)}"


def span_doubt(sitting: Sitting, channel: str, value: float) -> str:
    """What to ask about the probes when a reading is near half or twice the expected; empty otherwise."""
    setup = sitting.channels.get(channel)
    described = sitting.amplifier.channel_named(channel) if sitting.amplifier else None
    if setup is None or setup.target_volts is None or described is None or described.test_point is None:
        return ""
    return span_question(value, setup.target_volts, described.test_point)
