"""What a person tells about a meter that it cannot say of itself, as words that can be typed.

Its channels, what the lines of a stream look like, the display's figures, and whether the amplifier's outputs
are measured against ground. Kept in the settings, at the meter's address.
"""

from __future__ import annotations

import math
from dataclasses import replace

from app.bench.real_meters import reads_of
from app.bench.told_words import ToldMeter
from app.settings import DISPLAY_TOLD, MOST_REMEMBERED, RememberedMeter, Settings
from drivers.addresses import AddressKind, parse_address
from drivers.meter import MeterAccuracy
from drivers.stream import LinePattern

_MOST_LETTERS = {"channels": 300, "pattern": 1000, "unit": 10}


def told_of(address: str, settings: Settings) -> ToldMeter:
    """What was told of the meter at an address. Raises AddressError; ValueError where nothing can be told."""
    kind = parse_address(address).kind
    if kind in (AddressKind.FILE, AddressKind.SIMULATED):
        raise ValueError(f"{address}: there is nothing to tell about it; it says everything itself.")
    if kind is AddressKind.TYPED:
        ground = settings.display_ground_referenced
        return _with_figures(ToldMeter(address, display=True, ground_referenced=ground), settings.display)
    met = next((one for one in settings.meters if one.address == address), None)
    told = ToldMeter(address, lines=kind is AddressKind.STREAM)
    if met is None:
        return told
    told = replace(
        told,
        channels=met.channel,
        pattern=met.pattern,
        unit=met.unit,
        ground_referenced=met.ground_referenced,
    )
    return told if _met_figures(met) is not None else _with_figures(told, met.accuracy)


def keep_told(told: ToldMeter, settings: Settings) -> Settings:
    """The settings with what was told. Raises AddressError, ValueError: one sentence, and nothing is kept."""
    before = told_of(told.address, settings)
    figures = _figures(told)
    if before.display:
        return settings.model_copy(
            update={"display": figures, "display_ground_referenced": told.ground_referenced}
        )
    for what, most in _MOST_LETTERS.items():
        if len(getattr(told, what)) > most:
            raise ValueError(f"The {what} may have {most} letters at the most: shorten it.")
    pattern = LinePattern(told.pattern, {"": told.unit or "mV"}) if told.lines else None
    channels = ",".join(part.strip() for part in told.channels.split(",") if part.strip())
    _require_channels(told.address, channels, pattern)
    met = next((one for one in settings.meters if one.address == told.address), None)
    meter = (met or RememberedMeter(name="meter", address=told.address)).model_copy(
        update={
            "channel": channels or "left bias",
            "pattern": told.pattern if told.lines else "",
            "unit": told.unit if told.lines else "",
            "accuracy": figures or _met_figures(met),
            "ground_referenced": told.ground_referenced,
        }
    )
    if met is None:
        # Last, not first: it was told of, not used.
        return settings.model_copy(update={"meters": (*settings.meters[: MOST_REMEMBERED - 1], meter)})
    meters = tuple(meter if one.address == told.address else one for one in settings.meters)
    return settings.model_copy(update={"meters": meters})


def _met_figures(met: RememberedMeter | None) -> MeterAccuracy | None:
    """The figures that the meter has by its dialect; those that were told once are taken back."""
    if met is None or met.accuracy is None or met.accuracy.declared_by == DISPLAY_TOLD:
        return None
    return met.accuracy


def _require_channels(address: str, channels: str, pattern: LinePattern | None) -> None:
    parts = channels.split(",") if "=" in channels else []
    for part in parts:
        wired, equals, channel = (piece.strip() for piece in part.partition("="))
        if not (wired and equals and channel):
            raise ValueError(
                f"{part!r} names no input and channel: write such as 1=left bias,2=right bias, "
                "or one channel alone."
            )
    if not parts and "," in channels:
        raise ValueError("Several channels need their inputs: write such as 1=left bias,2=right bias.")
    known = pattern.inputs if pattern is not None else ()
    for wired, _ in reads_of(address, channels or None, pattern):
        if parts and known and wired not in known:
            raise ValueError(f"The pattern has no input called {wired!r}; it has {', '.join(known)}.")


def _with_figures(told: ToldMeter, figures: MeterAccuracy | None) -> ToldMeter:
    """The same with figures as a manual prints them."""
    if figures is None:
        return told
    shown = (100.0 * figures.of_reading, figures.counts, 1000.0 * figures.resolution)
    percent, digits, step = (f"{value:.6g}" if value else "" for value in shown)
    return replace(told, percent=percent, digits=digits, step_millivolts=step)


def _figures(told: ToldMeter) -> MeterAccuracy | None:
    """The figures of a display; None where none were told."""
    if not (told.percent or told.digits or told.step_millivolts):
        return None
    percent = _number("percentage of the reading", told.percent, 20.0)
    digits = _number("number of digits", told.digits, 1000.0)
    step = _number("last digit in millivolts", told.step_millivolts, 1000.0)
    if digits and not step:
        raise ValueError("Digits count in steps of the last digit: say how many millivolts one step is.")
    return MeterAccuracy(
        of_reading=percent / 100.0, counts=digits, resolution=step / 1000.0, declared_by=DISPLAY_TOLD
    )


def _number(what: str, text: str, most: float) -> float:
    """A number that was typed, zero where nothing was. Raises ValueError."""
    if not text.strip():
        return 0.0
    try:
        number = float(text.strip().replace(",", "."))
    except ValueError:
        number = math.nan
    if not 0.0 <= number <= most:
        raise ValueError(f"“{text.strip()}” is no {what}: type a number from 0 to {most:g}, such as 0.5.")
    return number
