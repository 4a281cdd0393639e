"""How values, times and states are put into words and digits for a person, and back.

The only place of the window where volts become millivolts. Digits keep their number of characters while
they change, so that nothing moves on the screen.
"""

from __future__ import annotations

import math
import re

from PySide6.QtCore import QCoreApplication

from app.bench.read_off import MOST_VOLTS
from app.windows.number_sign import signed
from drivers.reading import MeterState, Unit
from procedures.analysis.channel import NOT_READ, ChannelSetup, ChannelState, Forecast, Position
from procedures.events import Supply

NO_VALUE = "––.––"
LONGEST_HEADING = 60  # signs of a reason that can be read at two metres beside the digits


def tr(text: str) -> str:
    """Translate words that belong to no widget."""
    return QCoreApplication.translate("wording", text)


def shown_unit(unit: Unit) -> str:
    """The unit in which a channel is read on the screen."""
    return "mV" if unit is Unit.VOLT else {Unit.CELSIUS: "°C", Unit.OHM: "Ω"}.get(unit, unit.value)


def shown_number(value: float, unit: Unit) -> float:
    """A value in the unit in which it is shown."""
    return value * 1000.0 if unit is Unit.VOLT else value


def digits(value: float | None, unit: Unit = Unit.VOLT) -> str:
    """Five characters after one sign place: `' 12.94'`, `'-104.2'`; dashes where there is no value.

    A hundred volts and more have as many digits as they need.
    """
    if value is None or not math.isfinite(value):
        return " " + NO_VALUE
    number = shown_number(value, unit)
    size = abs(number)
    sign = "-" if number < 0.0 and size >= 0.005 else " "  # never a minus before nothing but zeros
    if size < 99.995:
        text = f"{size:05.2f}"
        text = (" " + text[1:]) if text.startswith("0") and size < 9.995 else text
    elif size < 999.95:
        text = f"{size:5.1f}"
    else:
        text = f"{size:5.0f}"
    return signed(sign + text)


def plain(value: float, unit: Unit = Unit.VOLT, decimals: int | None = None) -> str:
    """A value with its unit inside a sentence: `12.9 mV`."""
    number = shown_number(value, unit)
    if decimals is None:
        decimals = 2 if abs(number) < 10.0 else 1
    return signed(f"{number:.{decimals}f} {shown_unit(unit)}")


def milliamperes(amperes: float | None) -> str:
    """The current that the reading stands for, or nothing."""
    return "" if amperes is None else signed(f"{round(amperes * 1000.0, 1) + 0.0:.1f} mA")


def clock(seconds: float) -> str:
    """m:ss, or h:mm:ss from an hour on."""
    whole = int(seconds)
    sign, whole = ("-", -whole) if whole < 0 else ("", whole)
    minutes, rest = divmod(whole, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{sign}{hours}:{minutes:02d}:{rest:02d}" if hours else f"{sign}{minutes}:{rest:02d}"


def limits(setup: ChannelSetup, state: ChannelState) -> tuple[float, float] | None:
    """The window to aim at: the guard-banded one where it is known, else the limits themselves."""
    if (
        state.accept_low is not None
        and state.accept_high is not None
        and state.accept_low < state.accept_high
    ):
        return state.accept_low, state.accept_high
    if setup.low_volts is not None and setup.high_volts is not None:
        return setup.low_volts, setup.high_volts
    return None


def deviation(state: ChannelState, setup: ChannelSetup) -> str:
    """Where the level stands, in words: `0.4 mV low`, `inside the window`. No turning direction."""
    if state.level is None:
        if state.value is not None and not state.gap and state.reason == NOT_READ:
            return tr("not judged yet")  # the first reading is there, what it amounts to is not
        # What a meter says at length stands on the line of the meters, and in the alarm.
        why = signed(state.gap or state.reason)
        return why if 0 < len(why) <= LONGEST_HEADING else tr("no reading")
    if setup.target_volts is None:
        return tr("watched, no target")
    off = state.level - setup.target_volts
    shown = shown_number(abs(off), setup.unit)
    amount = f"{shown:.1f}" if shown >= 0.95 else f"{shown:.2f}"
    amount = signed(f"{amount} {shown_unit(setup.unit)}")
    if state.position is Position.INSIDE:
        return tr("inside the window")
    if state.position is Position.UNKNOWN:
        return tr("not judged yet")
    return tr("{amount} low").format(amount=amount) if off < 0 else tr("{amount} high").format(amount=amount)


def heading_words(heading: Forecast, setup: ChannelSetup) -> str:
    """Where the reading is heading, with its interval."""
    middle = shown_number(heading.volts, setup.unit)
    half = shown_number(heading.high_volts - heading.low_volts, setup.unit) / 2.0
    return tr("heading for {middle} ± {half} {unit}").format(
        middle=signed(f"{middle:.1f}"),
        half=signed(f"{half:.1f}" if half >= 0.1 else f"{half:.2f}"),
        unit=shown_unit(setup.unit),
    )


def forecast_words(state: ChannelState, setup: ChannelSetup) -> str:
    """Where the reading is heading and until when, or why nothing is said."""
    heading = state.forecast
    if state.level is None and (state.gap or len(state.reason) > LONGEST_HEADING):
        # What was said of the last level holds no more.
        return ""
    if state.settled:
        return tr("settled: {reason}").format(reason=signed(state.reason)) if state.reason else tr("settled")
    if heading is None or not heading.spoken:
        if state.reason == NOT_READ and state.value is not None:
            return tr("judged after a few readings")
        return signed(state.reason)
    words = heading_words(heading, setup)
    left = state.time_left_s
    if left is not None:
        low, high = (max(1, math.ceil(s / 60.0)) for s in left)
        span = f"{low}" if low == high else f"{low}–{high}"
        words += tr(", settled in about {span} min").format(span=span)
    return words


def supply_words(supply: Supply, power_on_s: float | None, at_s: float, told: bool = True) -> str:
    """What the amplifier is fed from, as it was declared, and for how long; `told`: whether it ever was."""
    if not told and supply is Supply.OFF:
        return tr("mains not told")
    names = {
        Supply.OFF: tr("mains off, as you said"),
        Supply.MAINS: tr("on the mains"),
        Supply.SERIES_LAMP: tr("on the series lamp"),
        Supply.REDUCED: tr("on reduced mains"),
    }
    if supply is Supply.OFF or power_on_s is None:
        return names[supply]
    return tr("{feed} for {time}").format(feed=names[supply], time=clock(at_s - power_on_s))


def meter_words(state: MeterState) -> str:
    """What a meter is doing."""
    return {
        MeterState.IDLE: tr("waiting to begin"),
        MeterState.CONNECTING: tr("connecting"),
        MeterState.IDENTIFYING: tr("asking who it is"),
        MeterState.CONFIGURING: tr("setting range and speed"),
        MeterState.POLLING: tr("reading"),
        MeterState.RESYNCING: tr("getting back in step"),
        MeterState.WAITING: tr("lost, trying again"),
        MeterState.STOPPED: tr("stopped"),
    }[state]


_NUMBER = re.compile(r"^\s*([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*(mv|v|uv|µv)?\s*$", re.IGNORECASE)
_SCALE = {"mv": 1e-3, "v": 1.0, "uv": 1e-6, "µv": 1e-6}


def _refuse_grouping(text: str) -> None:
    """Raise ValueError where a number holds more than one mark, or a space between digits.

    Reading past a separator could be wrong by a factor of a thousand, so nothing is guessed.
    """
    typed = text.strip()
    if not re.fullmatch(r"[+-]?[\d.,'’\s]*\d[\d.,'’\s]*(?:[mµu]?v)?", typed, re.IGNORECASE):
        return
    number = re.sub(r"\s*[mµu]?v$", "", typed, flags=re.IGNORECASE)
    if re.search(r"\d[\s'’]+\d", number) or len(re.findall(r"[.,]", number)) > 1:
        raise ValueError(
            tr(
                "“{text}” can be read in two ways: type the digits without a separator of thousands, "
                "with one point or comma before the decimals, such as 1234.5"
            ).format(text=typed)
        )


def volts_from(text: str) -> float:
    """Volts from what a person typed: millivolts unless a unit is given; decimal comma or point.

    Raises ValueError with a sentence for the person.
    """
    _refuse_grouping(text)
    match = _NUMBER.match(text)
    if match is None:
        raise ValueError(
            tr("“{text}” is not a reading: type millivolts, such as 13.2").format(text=text.strip())
        )
    value = float(match[1].replace(",", ".")) * _SCALE[(match[2] or "mv").lower()]
    if abs(value) > MOST_VOLTS:
        raise ValueError(
            tr("{value} V is more than an output stage can show: check the value and the unit").format(
                value=f"{value:g}"
            )
        )
    return value


def number_from(text: str, example: str = "22.5") -> float:
    """A plain number from what a person typed; decimal comma or point. `example`: one that would do.

    Raises ValueError with a sentence for the person.
    """
    _refuse_grouping(text)
    match = _NUMBER.match(text)
    if match is None or match[2]:
        raise ValueError(
            tr("“{text}” is not a number: type one, such as {example}").format(
                text=text.strip(), example=example
            )
        )
    return float(match[1].replace(",", "."))
