"""Resistor values as they are printed on parts and in circuit diagrams: `0R22`, `R22`, `4k7`, `0.27`.

The letter stands for the decimal point and the multiplier (IEC 60062). A value that is in no preferred
series of IEC 60063 is taken as it is, and the nearest one can be asked about.
"""

from __future__ import annotations

import math
import re

# IEC 60063 (recalled - check before quoting): the 24 preferred values of a decade at 5 %.
E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
_MULTIPLIER = {"R": 1.0, "E": 1.0, "Ω": 1.0, "m": 1e-3, "L": 1e-3, "k": 1e3, "K": 1e3, "M": 1e6}
_LETTER_CODE = re.compile(r"(\d*)([REΩmLkKM])(\d*)")
_PLAIN = re.compile(r"(\d+(?:[.,]\d+)?|[.,]\d+)\s*(mΩ|milliohm|mohm|kΩ|kohm|Ω|ohms?|m|k)?")
_WORD = {"mΩ": 1e-3, "milliohm": 1e-3, "mohm": 1e-3, "m": 1e-3, "kΩ": 1e3, "kohm": 1e3, "k": 1e3}


def ohms(text: str) -> float:
    """The resistance that a print or an entry means, in ohms.

    Raises:
        ValueError: with one sentence that says what was understood and what would be right.
    """
    entry = text.strip().replace("\u2126", "Ω")
    value = _by_letter(entry)
    if value is None:
        plain = _PLAIN.fullmatch(entry)
        if plain is None:
            raise ValueError(f'"{text}" is not a resistance: {_suggestion(entry)}')
        value = float(plain[1].replace(",", ".")) * _WORD.get(plain[2] or "", 1.0)
    if value <= 0.0:
        raise ValueError(
            f'"{text}" is no resistance at all: write what lies between the test points, such as "0R22"'
        )
    return value


def _by_letter(entry: str) -> float | None:
    found = _LETTER_CODE.fullmatch(entry)
    if found is None or not (found[1] or found[3]) or (found[2] in "m" and not found[3]):
        return None
    whole, letter, part = found.groups()
    return float(f"{whole or '0'}.{part or '0'}") * _MULTIPLIER[letter]


def _suggestion(entry: str) -> str:
    digits = re.search(r"(\d*)\s*[A-Za-z.,/]+\s*(\d+)", entry.replace("O", "0").replace("o", "0"))
    if digits and any(character.isdigit() for character in entry):
        guess = f"{digits[1].lstrip('0') or '0'}R{digits[2]}"
        return f'did you mean "{guess}"?'
    return 'write it as printed, such as "0R22", "R22" or "0.22"'


def nearest_preferred(resistance_ohm: float) -> float:
    """The nearest value of the E24 series, by ratio."""
    decade = math.floor(math.log10(resistance_ohm))
    candidates = [value / 10.0 * 10.0**power for power in (decade - 1, decade, decade + 1) for value in E24]
    return min(candidates, key=lambda value: abs(math.log(value / resistance_ohm)))


def question(resistance_ohm: float) -> str:
    """What to ask about an emitter resistor that looks wrong; empty when it looks right."""
    if (
        not 0.05 <= resistance_ohm <= 2.2
    ):  # common practice, no source: 0.1 to 1 ohm in nearly every amplifier
        guess = next((f for f in (0.01, 0.001, 100.0) if 0.05 <= resistance_ohm * f <= 1.0), None)
        meant = f"did you mean {resistance_ohm * guess:.3g} ohm?" if guess else "is the entry right?"
        return f"An emitter resistor of {resistance_ohm:g} ohm is unusual: {meant}"
    nearest = nearest_preferred(resistance_ohm)
    if abs(resistance_ohm / nearest - 1.0) > 0.005 and f"{resistance_ohm:g}" not in ("0.25", "0.5"):
        return f"{resistance_ohm:g} ohm is not a value that is sold: did you mean {nearest:g} ohm?"
    return ""
