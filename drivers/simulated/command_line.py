"""The grammar of SCPI: headers with long and short forms, compound lines, parameters.

Here: matching a header against patterns such as `[SENSe:]VOLTage[:DC]:RANGe[:UPPer]`, splitting a line into
units, reading numbers with suffixes. Not here: any command's meaning (`instrument`).
Source: SCPI 1999.0 volume 1 chapters 6 and 7; IEEE 488.2 chapter 7.
"""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass
from typing import Final

_NODE: Final = re.compile(r"\[?:?([A-Za-z]+):?\]?")
_NUMBER: Final = re.compile(r"^([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([A-Za-z]*)$")
_MULTIPLIERS: Final = {"": 1.0, "N": 1e-9, "U": 1e-6, "M": 1e-3, "K": 1e3, "MA": 1e6}


@dataclass(frozen=True, slots=True)
class CommandUnit:
    """One command of a line: full header without the question mark, in capitals, and its parameters."""

    header: str
    query: bool
    parameters: tuple[str, ...]


@functools.lru_cache(maxsize=256)
def split_line(line: str) -> tuple[CommandUnit, ...]:
    """Take a line apart. A header without a leading colon continues in the branch of the one before it."""
    units: list[CommandUnit] = []
    branch = ""
    for piece in _split(line, ";"):
        text = piece.strip()
        if not text:
            continue
        head, _, rest = text.partition(" ")
        query = head.endswith("?")
        head = head.rstrip("?").upper()
        if head.startswith("*"):
            full = head  # common commands do not change the branch
        else:
            full = head[1:] if head.startswith(":") else branch + head
            branch = full[: full.rfind(":") + 1]
        parameters = tuple(p.strip() for p in _split(rest, ",")) if rest.strip() else ()
        units.append(CommandUnit(full, query, parameters))
    return tuple(units)


def header_pattern(pattern: str) -> re.Pattern[str]:
    """Compile a header as manuals print it: capitals are the short form, brackets may be left out."""
    if pattern.startswith("*"):
        return re.compile(re.escape(pattern))
    expression = ""
    for match in _NODE.finditer(pattern):
        word = match[1]
        short = "".join(letter for letter in word if letter.isupper())
        forms = short if short == word else f"(?:{short}|{word.upper()})"
        node = f":{forms}"
        expression += f"(?:{node})?" if match[0].startswith("[") else node
    return re.compile(expression)


def matches(pattern: re.Pattern[str], header: str) -> bool:
    """Whether a header in capitals is a form of the pattern."""
    return pattern.fullmatch(header if header.startswith("*") else f":{header}") is not None


def number(text: str, unit: str = "") -> float | None:
    """Read a decimal number with an optional suffix such as `MV`; None when it is none."""
    found = _NUMBER.match(text.strip())
    if found is None:
        return None
    suffix = found[2].upper()
    if suffix.endswith(unit.upper()) and unit:
        suffix = suffix[: -len(unit)]
    if suffix not in _MULTIPLIERS:
        return None
    return float(found[1]) * _MULTIPLIERS[suffix]


def boolean(text: str) -> bool | None:
    """Read `ON`, `OFF`, `1`, `0`; None when it is none of them."""
    return {"ON": True, "1": True, "OFF": False, "0": False}.get(text.strip().upper())


def _split(text: str, at: str) -> list[str]:
    """Split at a character outside quotation marks."""
    pieces, quote = [""], ""
    for letter in text:
        if quote:
            quote = "" if letter == quote else quote
        elif letter in "\"'":
            quote = letter
        elif letter == at:
            pieces.append("")
            continue
        pieces[-1] += letter
    return pieces
