"""The reply parser: a reading, overload, no reading, or a refusal. It never guesses.

`float()` is no parser for instruments: it takes overload sentinels and the halves of broken lines for
numbers, and rejects units and prompts that are perfectly clear. What a meter is known to send is said by
the caller: how many fields, which of them, and the shape of the number.

SCPI-99 volume 1, 7.2.1.5 and IEEE 488.2 8.7.4 give 9.9E37 for infinity (overload) and 9.91E37 for
not-a-number (no reading).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import StrEnum

from drivers.errors import ReplyRefused
from drivers.reading import Unit


class NumberShape(StrEnum):
    """What the numbers of a meter are known to look like.

    Where a meter always sends a sign, a point and a two-digit exponent, no part of such a number has that
    shape itself, so a line that lost its head or its tail can never be taken for a value.
    """

    FREE = "free"
    EXPONENT = "exponent"  # a point and an exponent of exactly two digits: 1.2345E-02
    SIGNED_EXPONENT = "signed exponent"  # the same behind a sign, the exponent signed too: +1.2345E-02


class Answer(StrEnum):
    """What a reply turned out to be."""

    VALUE = "value"
    OVERLOAD = "overload"
    NO_READING = "no reading"


@dataclass(frozen=True, slots=True)
class ReplyValue:
    """One field of a reply. `value` is None unless `answer` is VALUE; `unit` is None where none was sent."""

    answer: Answer
    value: float | None = None
    unit: Unit | None = None


# Suffix (blanks removed) -> factor, unit. Case matters only where it decides between milli and mega.
_EXACT_SUFFIXES: dict[str, tuple[float, Unit]] = {
    "mV": (1e-3, Unit.VOLT),
    "mVDC": (1e-3, Unit.VOLT),
    "mVAC": (1e-3, Unit.VOLT),
    "mA": (1e-3, Unit.AMPERE),
    "mADC": (1e-3, Unit.AMPERE),
    "mAAC": (1e-3, Unit.AMPERE),
    "mOhm": (1e-3, Unit.OHM),
    "MOhm": (1e6, Unit.OHM),
    "MOHM": (1e6, Unit.OHM),  # SCPI-99 volume 1, 7.1: M before OHM is mega
    "mW": (1e-3, Unit.WATT),
    "C": (1.0, Unit.CELSIUS),
    "\xb0C": (1.0, Unit.CELSIUS),
    "\xa6\xb8": (1.0, Unit.OHM),  # a capital omega as some meters send it
    "\xce\xa9": (1.0, Unit.OHM),  # the same in UTF-8, read as Latin-1
    "k\xce\xa9": (1e3, Unit.OHM),
    "\xb5V": (1e-6, Unit.VOLT),
    "\xb5A": (1e-6, Unit.AMPERE),
}
_SUFFIXES: dict[str, tuple[float, Unit]] = {
    "v": (1.0, Unit.VOLT),
    "vdc": (1.0, Unit.VOLT),
    "vac": (1.0, Unit.VOLT),
    "uv": (1e-6, Unit.VOLT),
    "uvdc": (1e-6, Unit.VOLT),
    "kv": (1e3, Unit.VOLT),
    "a": (1.0, Unit.AMPERE),
    "adc": (1.0, Unit.AMPERE),
    "aac": (1.0, Unit.AMPERE),
    "ua": (1e-6, Unit.AMPERE),
    "ohm": (1.0, Unit.OHM),
    "ohms": (1.0, Unit.OHM),
    "kohm": (1e3, Unit.OHM),
    "w": (1.0, Unit.WATT),
    "degc": (1.0, Unit.CELSIUS),
    "cel": (1.0, Unit.CELSIUS),
    "hz": (1.0, Unit.HERTZ),
    "khz": (1e3, Unit.HERTZ),
}
_OVERLOAD_WORDS = frozenset(
    {"ol", "o.l", "0l", "0.l", "ovload", "ovflow", "ovld", "overload", "overflow", "inf"}
)
_NO_READING_WORDS = frozenset({"nan"})

_SCPI_NAN = 9.91e37
_SCPI_INFINITY = 9.9e37
_IAC = re.compile(rb"\xff(?:[\xfb-\xfe][\x00-\xff]|[\xf0-\xfa])")
_PROMPT = re.compile(r"^=?>\s*")
_ERROR_ENTRY = re.compile(r'^[+-]?\d+\s*,\s*"')
_NUMBER = re.compile(
    r"^(?P<number>[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?)"
    r"(?P<suffix>[A-Za-z\xa6\xb8\xb0\xb5\xce\xa9 \t]*)$"
)
_SHAPES = {
    NumberShape.EXPONENT: re.compile(r"^[+-]?[0-9]+\.[0-9]*[eE][+-]?[0-9]{2}$"),
    NumberShape.SIGNED_EXPONENT: re.compile(r"^[+-][0-9]+\.[0-9]*[eE][+-][0-9]{2}$"),
}


def parse_reply(
    raw: bytes,
    *,
    fields: int = 1,
    index: int = 0,
    shape: NumberShape = NumberShape.FREE,
    overload_at: float = _SCPI_INFINITY,
) -> ReplyValue:
    """Read one field of a reply.

    Args:
        raw: the line as it came, with or without its ending.
        fields: how many comma-separated fields the meter sends; another number is refused.
        index: which of them is the reading, counted from zero.
        shape: what the meter's numbers are known to look like.
        overload_at: magnitude from which a number means overload (some meters send 1E+9).

    Raises:
        ReplyRefused: for everything that is not beyond doubt a reading, an overload or a not-a-number.
    """
    text = _IAC.sub(b"", raw).decode("latin-1").strip("\0 \r\n\t")
    text = _PROMPT.sub("", text)
    if not text:
        raise ReplyRefused("the meter answered nothing but blanks", raw)
    if _ERROR_ENTRY.match(text):
        raise ReplyRefused(f"the meter answered with an error entry, {_shown(text)}", raw)
    if text.startswith("#"):
        raise ReplyRefused("the meter answered with a block of binary data instead of a line", raw)
    parts = text.split(",")
    if len(parts) != fields:
        raise ReplyRefused(
            f"the meter answered {_shown(text)}: {_count(len(parts))} where {_count(fields)} should come", raw
        )
    return _field(parts[index].strip().strip('"').strip(), shape, overload_at, raw)


def _field(text: str, shape: NumberShape, overload_at: float, raw: bytes) -> ReplyValue:
    word = text.lstrip("+-").casefold()
    if word in _OVERLOAD_WORDS:
        return ReplyValue(Answer.OVERLOAD)
    if word in _NO_READING_WORDS:
        return ReplyValue(Answer.NO_READING)
    match = _NUMBER.match(text)
    if not match:
        if text.endswith("?"):
            raise ReplyRefused(f"the meter repeats the question, {_shown(text)}: switch its echo off", raw)
        raise ReplyRefused(f"the meter answered {_shown(text)}, which is not a reading", raw)
    number = float(match["number"])
    if math.isinf(number):
        raise ReplyRefused(f"the meter answered {_shown(text)}, which is beyond any number", raw)
    if math.isclose(abs(number), _SCPI_NAN, rel_tol=1e-4):
        return ReplyValue(Answer.NO_READING)
    if abs(number) >= min(overload_at, _SCPI_INFINITY) * (1.0 - 1e-9):
        return ReplyValue(Answer.OVERLOAD)
    pattern = _SHAPES.get(shape)
    if pattern and not pattern.match(match["number"]):
        raise ReplyRefused(f"the meter answered {_shown(text)}: part of a line, not a whole reading", raw)
    factor, unit = _suffix(match["suffix"], text, raw)
    # Dividing by a whole number keeps 12.3 mV the same float as 0.0123 V; multiplying by 1e-3 does not.
    value = number / round(1.0 / factor) if factor < 1.0 else number * factor
    return ReplyValue(Answer.VALUE, value, unit)


def _suffix(suffix: str, text: str, raw: bytes) -> tuple[float, Unit | None]:
    """Factor and unit of a suffix; a prefix is never taken from anywhere else."""
    joined = "".join(suffix.split())
    if not joined:
        return 1.0, None
    known = _EXACT_SUFFIXES.get(joined) or _SUFFIXES.get(joined.casefold())
    if known is None:
        raise ReplyRefused(f"the meter answered {_shown(text)}, whose unit {joined!r} is not known", raw)
    return known


def _shown(text: str) -> str:
    return repr(text if len(text) <= 60 else text[:57] + "...")


def _count(fields: int) -> str:
    return "1 field" if fields == 1 else f"{fields} fields"
