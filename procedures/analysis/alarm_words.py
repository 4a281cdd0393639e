"""What the alarms say: what it does and how fast, then what to do, in that order.

No direction of turning is named: that is known only to the trim coach. Nothing here claims that anything was
switched, or what the cause is. Not here: when an alarm is raised (`alarms`).
"""

from __future__ import annotations

from procedures.analysis.channel import ChannelSetup, Forecast
from procedures.analysis.figures import duration, figure, rate
from procedures.analysis.heat import device_watts
from procedures.analysis.runaway import Danger, Symptom
from procedures.events import Tier

SWITCH_OFF = "Switch the mains off now."
BEFORE_POWER_UP = (
    "Before the next power-up: let it cool, wait for the reservoirs and measure them, check the outputs, the "
    "bias transistor and its contact to the heatsink, and the trimmer; then begin on the series lamp."
)


def bias_text(
    setup: ChannelSetup, tier: Tier, danger: Danger, value: float, forecast: Forecast | None = None
) -> str:
    """The sentence of a bias alarm. `value` in the channel's unit."""
    does = _does(setup, danger, value, forecast)
    if tier is Tier.OFF:
        return f"{SWITCH_OFF} {does} {BEFORE_POWER_UP}"
    if tier is Tier.ACT:
        return f"{does} Turn the current down now if you know the way, or switch the mains off."
    return f"{does} Look at the unit."


def lead_text(channel: str) -> str:
    """The sentence of a lead alarm."""
    return f"{_name(channel)}: lead off, or far too high: look now."


def blind_text(channel: str, silent_s: float, reason: str = "") -> str:
    """The sentence of a blind alarm, with what the meter said last."""
    why = f" ({reason})" if reason else ""
    return f"{_name(channel)} has given no reading for {duration(silent_s)}{why}: it is not watched."


def _does(setup: ChannelSetup, danger: Danger, value: float, forecast: Forecast | None) -> str:
    resolution = setup.accuracy.resolution if setup.accuracy else None
    text = f"{_name(setup.channel)} reads {figure(value, setup.unit, resolution)}, "
    text += f"{danger.ratio:.1f} times its target"
    per_min = danger.per_min
    if abs(per_min) >= 0.005:
        way = "rising" if per_min > 0.0 else "falling"
        text += f", {way} {rate(per_min * abs(setup.target_volts or 1.0) / 60.0, setup.unit)}"
    if danger.symptom is Symptom.HEADING_UP:
        text += " and not slowing down enough"
    if danger.symptom is Symptom.FORECAST_HIGH and forecast is not None:
        text += f"; it would rest near {figure(forecast.volts, setup.unit, resolution)}, above the window"
    if danger.doubles_min is not None:
        text += f"; twice the target in about {duration(max(10.0, danger.doubles_min * 60.0))}"
    return f"{text}{_heat(setup, value)}."


def _heat(setup: ChannelSetup, value: float) -> str:
    watts = device_watts(setup, value)
    if watts is None:
        return ""
    limit = setup.device_limit_watts
    return f"; {watts:.1f} W per device" + (f" (limit {limit:.1f} W)" if limit is not None else "")


def _name(channel: str) -> str:
    return channel[:1].upper() + channel[1:]
