"""Numbers as a person at the bench reads them: millivolts, minutes, percent.

Everything inside the program is SI; this is the one place of the analysis where a value becomes words.
Not here: units of the record, and number entry.
"""

from __future__ import annotations

import math

from drivers.reading import Unit

_SMALL = {Unit.VOLT: "mV", Unit.AMPERE: "mA", Unit.WATT: "mW"}
_WHOLE = {
    Unit.VOLT: "V",
    Unit.AMPERE: "A",
    Unit.WATT: "W",
    Unit.OHM: "Ω",
    Unit.CELSIUS: "°C",
    Unit.HERTZ: "Hz",
    Unit.PERCENT: "%",
    Unit.DECIBEL: "dB",
    Unit.HOUR: "h",
}


def figure(value: float, unit: Unit = Unit.VOLT, resolution: float | None = None) -> str:
    """A value with its unit, such as `13.46 mV` or `1.2 V`.

    Below one volt (or ampere) it is given in thousandths, as are small resistances; large ones are given in
    thousands or millions. `resolution` (in the unit) limits the digits to
    what the meter shows, four at the most; without it three significant figures are given.
    """
    scale, name = _scale(value, unit)
    shown = value * scale
    text = f"{shown:.{_decimals(shown, (resolution or 0.0) * scale, unit)}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    return f"{text} {name}"


def _scale(value: float, unit: Unit) -> tuple[float, str]:
    """By what a value is multiplied to be shown, and the name of the unit then."""
    size = abs(value)
    if unit is Unit.OHM:
        if size < 0.1:
            return 1000.0, "mΩ"
        return (1e-6, "MΩ") if size >= 1e6 else (1e-3, "kΩ") if size >= 1e4 else (1.0, "Ω")
    milli = unit in (Unit.VOLT, Unit.AMPERE) and size < 1.0
    return (1000.0, _SMALL[unit]) if milli else (1.0, _WHOLE[unit])


def _decimals(shown: float, resolution: float, unit: Unit) -> int:
    if resolution <= 0.0 and unit is Unit.DECIBEL:
        return min(max(2 - _exponent(shown), 1), 2)
    if resolution <= 0.0 and unit is Unit.PERCENT:
        return min(max(1 - _exponent(shown), 0), 5)
    if resolution <= 0.0:
        return min(max(2 - _exponent(shown), 0), 3)
    return min(max(3 - _exponent(shown), 0), _by_meter(resolution))


def _exponent(shown: float) -> int:
    return math.floor(math.log10(abs(shown))) if abs(shown) > 1e-9 else 0


def _by_meter(resolution: float) -> int:
    """How many decimals a meter of a resolution shows, three at the most."""
    return min(3, max(0, -math.floor(math.log10(resolution) + 1e-9))) if resolution > 0.0 else 3


def amount(value: float, unit: Unit = Unit.VOLT, resolution: float | None = None) -> str:
    """A difference or a size without its sign, two significant figures: `0.31 mV`, `2.4 mV`.

    `resolution` (in the unit) limits the digits to what the meter shows; empty when nothing is left then.
    """
    scale, name = _scale(value, unit)
    shown = float(f"{abs(value) * scale:.1e}")
    text = f"{shown:.{min(max(1 - _exponent(shown), 0), _by_meter((resolution or 0.0) * scale))}f}"
    return f"{text} {name}" if float(text) > 0.0 else ""


def span(low: float, high: float, unit: Unit = Unit.VOLT, resolution: float | None = None) -> str:
    """An interval as a person reads it, rounded outwards to no more digits than its width deserves.

    `between 13.3 and 13.7 mV`; limits that round to the same figure are said as one, `at 13.5 mV`.
    """
    low, high = min(low, high), max(low, high)
    milli = unit in (Unit.VOLT, Unit.AMPERE) and max(abs(low), abs(high)) < 1.0
    scale, name = (1000.0, _SMALL[unit]) if milli else (1.0, _WHOLE[unit])
    width = max((high - low) * scale, 1e-6 * max(abs(low), abs(high)) * scale, 1e-9)
    decimals = min(max(-_exponent(width / 3.0), 0), _by_meter((resolution or 0.0) * scale))
    grain = 10.0**-decimals
    floor, ceiling = math.floor(low * scale / grain + 1e-6), math.ceil(high * scale / grain - 1e-6)
    if floor == ceiling:
        return f"at {floor * grain:.{decimals}f} {name}"
    return f"between {floor * grain:.{decimals}f} and {ceiling * grain:.{decimals}f} {name}"


def rate(per_s: float, unit: Unit = Unit.VOLT) -> str:
    """A rate of change a minute without its sign, such as `0.12 mV/min`."""
    per_minute = abs(per_s) * 60.0
    milli = unit in (Unit.VOLT, Unit.AMPERE) and per_minute < 1.0
    scale, name = (1000.0, _SMALL[unit]) if milli else (1.0, _WHOLE[unit])
    shown = per_minute * scale
    decimals = min(max(1 - (math.floor(math.log10(shown)) if shown > 1e-9 else 0), 0), 3)
    return f"{shown:.{decimals}f} {name}/min"


def percent(fraction: float) -> str:
    """A fraction as percent with two significant figures: `0.25 %`, `12 %`, `140 %`."""
    shown = abs(fraction) * 100.0
    decimals = min(max(1 - (math.floor(math.log10(shown)) if shown > 1e-9 else 0), 0), 2)
    return f"{shown:.{decimals}f} %"


def duration(seconds: float) -> str:
    """A length of time as a person says it: `40 s`, `3 min`, `1 h 20 min`."""
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60.0)
    if minutes < 90:
        return f"{minutes} min"
    return f"{minutes // 60} h {minutes % 60} min"


def side(channel: str) -> str:
    """The side a channel's trimmer is on, for a sentence: `left` of `left bias`, else the whole name."""
    return channel.removesuffix(" bias").strip() or channel
