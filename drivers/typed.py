"""A person reading a display and typing: a meter without an interface, first-class.

`parse_typed` reads what was typed: decimal point or comma, with or without a unit, or a word for overload.
`TypedSource` makes facts of it. No thread, no silence to complain of: it speaks when somebody types.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from drivers.clock import Clock
from drivers.errors import ReplyRefused
from drivers.meter import MeterAccuracy
from drivers.reading import Gap, GapReason, Reading, ReadingFlag, Unit


@dataclass(frozen=True, slots=True)
class ShownUnit:
    """A unit as displays show it: the word, what it is, and how many of ours one is."""

    word: str
    unit: Unit
    exponent: int  # ten to this power
    offset: float = 0.0  # added behind it: kelvins count from elsewhere

    def inside(self, number: float) -> float:
        """A shown number in our unit; 13.4 mV is the float 0.0134 and not a neighbour of it."""
        ours = number / 10.0**-self.exponent if self.exponent < 0 else number * 10.0**self.exponent
        return ours + self.offset


_UNITS = (
    ShownUnit("mV", Unit.VOLT, -3),
    ShownUnit("µV", Unit.VOLT, -6),
    ShownUnit("uV", Unit.VOLT, -6),
    ShownUnit("nV", Unit.VOLT, -9),
    ShownUnit("V", Unit.VOLT, 0),
    ShownUnit("mA", Unit.AMPERE, -3),
    ShownUnit("µA", Unit.AMPERE, -6),
    ShownUnit("uA", Unit.AMPERE, -6),
    ShownUnit("A", Unit.AMPERE, 0),
    ShownUnit("mOhm", Unit.OHM, -3),
    ShownUnit("mΩ", Unit.OHM, -3),
    ShownUnit("Ohm", Unit.OHM, 0),
    ShownUnit("ohm", Unit.OHM, 0),
    ShownUnit("Ω", Unit.OHM, 0),
    ShownUnit("kOhm", Unit.OHM, 3),
    ShownUnit("kΩ", Unit.OHM, 3),
    ShownUnit("mW", Unit.WATT, -3),
    ShownUnit("W", Unit.WATT, 0),
    ShownUnit("°C", Unit.CELSIUS, 0),
    ShownUnit("C", Unit.CELSIUS, 0),
    ShownUnit("degC", Unit.CELSIUS, 0),
    ShownUnit("K", Unit.CELSIUS, 0, -273.15),  # the kelvin scale begins 273.15 K lower: SI brochure, 9th ed.
    ShownUnit("Hz", Unit.HERTZ, 0),
    ShownUnit("kHz", Unit.HERTZ, 3),
)
MILLIVOLTS = _UNITS[0]

_TYPED = re.compile(
    r"^(?P<sign>[+-]?)(?P<whole>[0-9]*)(?:[.,](?P<rest>[0-9]*))?(?P<unit>\s*[^\d\s.,+-][^\d.,]*)?$"
)
_OVERLOAD = frozenset({"ol", "o.l", "0l", "0.l", "over", "overload", "ovld"})
_MINUS = "\u2212\u2013"  # what keyboards and pasted text offer for a minus


@dataclass(frozen=True, slots=True)
class TypedValue:
    """What was typed. `value` is None for overload; `resolution` is one of the last digit typed."""

    value: float | None
    unit: Unit
    resolution: float


def shown_unit(word: str) -> ShownUnit:
    """The unit that a word means. Raises ReplyRefused with the words that are known."""
    joined = "".join(word.split()).replace("\u03bc", "µ")
    for each in _UNITS:
        if joined == each.word:
            return each
    # A capital or small letter matters only between milli and mega, and nobody measures bias in megavolts.
    near = [
        each for each in _UNITS if joined.casefold() == each.word.casefold() and each.unit is not Unit.OHM
    ]
    if len(near) == 1:
        return near[0]
    known = ", ".join(unit_words())
    raise ReplyRefused(
        f"{word.strip()!r} is not a unit that is known here; type one of {known}",
        word.encode("utf-8", "replace"),
    )


def usual_unit(unit: Unit) -> ShownUnit:
    """What a bare number means where this is measured: millivolts, and otherwise the unit as it stands."""
    return MILLIVOLTS if unit is Unit.VOLT else plain_unit(unit)


def plain_unit(unit: Unit) -> ShownUnit:
    """The unit itself, without a prefix, in the word that displays have for it."""
    return next(each for each in _UNITS if each.unit is unit and each.exponent == 0)


def unit_words() -> tuple[str, ...]:
    """The units that are known, as anybody can type them."""
    return tuple(each.word for each in _UNITS if each.word.isascii())


def parse_typed(text: str, default: ShownUnit = MILLIVOLTS) -> TypedValue:
    """Read what a person typed off a display.

    Args:
        text: such as `13.4`, `13,4`, `13.4 mV`, `0.0134 V`, `-0.3`, `OL`.
        default: the unit when none is typed.

    Raises:
        ReplyRefused: with one sentence that says what is wrong and what would be right.
    """
    cleaned = text.strip()
    for minus in _MINUS:
        cleaned = cleaned.replace(minus, "-")
    if not cleaned:
        raise ReplyRefused(
            f"nothing was typed; type what the display shows, such as 13.4 {default.word}", b""
        )
    if cleaned.lstrip("+-").strip().casefold() in _OVERLOAD:
        return TypedValue(None, default.unit, 0.0)
    if len(re.findall(r"[.,]", cleaned)) > 1:
        raise ReplyRefused(
            f"{text.strip()!r} has more than one point or comma; type one, before the decimals",
            text.encode("utf-8", "replace"),
        )
    match = _TYPED.match(cleaned)
    if not match or not (match["whole"] or match["rest"]):
        raise ReplyRefused(
            f"{text.strip()!r} is not a reading; "
            f"type what the display shows, such as 13.4 {default.word}, or OL",
            text.encode("utf-8", "replace"),
        )
    shown = shown_unit(match["unit"]) if match["unit"] else default
    digits, decimals = match["whole"] + (match["rest"] or ""), len(match["rest"] or "")
    if len(digits) > 12:
        raise ReplyRefused(
            f"{text.strip()!r} has more digits than any display; check what was typed",
            text.encode("utf-8", "replace"),
        )
    exponent = shown.exponent - decimals
    # Through the decimal text, so that 13.4 mV is the float 0.0134 and not a neighbour of it.
    value = float(f"{match['sign']}{digits}e{exponent}") + shown.offset
    return TypedValue(value, shown.unit, float(f"1e{exponent}"))


class TypedSource:
    """A display that a person reads: each entry becomes a fact, stamped when it was entered.

    Args:
        name: by which leads refer to it.
        clock: stamps the entries.
        default: the unit when none is typed.
        accuracy: the maker's figures as declared once; the resolution is learned where it gives none.
    """

    def __init__(
        self,
        name: str,
        clock: Clock,
        *,
        default: ShownUnit = MILLIVOLTS,
        accuracy: MeterAccuracy | None = None,
    ) -> None:
        self._name = name
        self._clock = clock
        self._default = default
        self._declared = accuracy or MeterAccuracy()
        self._learned_resolution = 0.0
        self._last: Reading | None = None

    @property
    def name(self) -> str:
        """By which leads refer to it."""
        return self._name

    @property
    def input(self) -> str:
        """It has one."""
        return "1"

    @property
    def last(self) -> Reading | None:
        """The last value that was typed, or None; overload is not a value."""
        return self._last

    @property
    def accuracy(self) -> MeterAccuracy:
        """The declared figures, with the finest resolution that was typed where none is declared."""
        known = self._declared
        if known.resolution > 0.0 or self._learned_resolution == 0.0:
            return known
        return MeterAccuracy(
            of_reading=known.of_reading,
            of_range=known.of_range,
            range_value=known.range_value,
            resolution=self._learned_resolution,
            counts=known.counts,
            declared_by=known.declared_by or "resolution from the digits typed",
        )

    def typed(self, text: str) -> Reading | Gap:
        """A person typed what the display shows. Raises ReplyRefused; then nothing has happened."""
        entry = parse_typed(text, self._default)
        if entry.unit is not self._default.unit:
            raise ReplyRefused(
                f"{text.strip()!r} is in {entry.unit}, and {self._name} reads {self._default.unit}; "
                "check the meter's function",
                text.encode("utf-8", "replace"),
            )
        now_s = self._clock.now()
        if entry.value is None:
            self._last = None
            detail = "the display shows overload; check the probes, and the range if they are right"
            return Gap(self._name, self.input, now_s, now_s, GapReason.OVERLOAD, detail)
        if self._learned_resolution == 0.0 or entry.resolution < self._learned_resolution:
            self._learned_resolution = entry.resolution
        self._last = Reading(
            self._name, self.input, entry.value, entry.unit, now_s, now_s, frozenset({ReadingFlag.TYPED})
        )
        return self._last

    def unchanged(self) -> Reading:
        """A person said by one key that the display still shows the last value. Raises ReplyRefused."""
        if self._last is None:
            raise ReplyRefused(
                "nothing has been typed yet that could be unchanged; type the reading once", b""
            )
        now_s = self._clock.now()
        flags = frozenset({ReadingFlag.TYPED, ReadingFlag.UNCHANGED})
        return Reading(self._name, self.input, self._last.value, self._last.unit, now_s, now_s, flags)
