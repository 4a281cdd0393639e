"""A sentence with holes: found again in finished English, and filled again in another language.

What a hole holds is told by its name: `{n}` and `{n_…}` a figure with its unit, `{own}` and `{own_…}`
somebody's own words, which stay as they are; any other name words, which are translated in turn.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from enum import Enum
from functools import cached_property

HOLE = re.compile(r"\{([a-z][a-z0-9_]*)\}")
# A hole with a stop, a line or nothing before it, and nothing of its sentence behind it.
_ALONE = re.compile(r"(?:^|(?<=[.!?…] )|(?<=[\n·] |  )|(?<=\n))\{([a-z][a-z0-9_]*)\}(?=$|\n|  | ·)")
_GAP = "\0"
UNIT = (
    r"(?:[mµukM]?(?:V|A|W|Ω|Hz|F)|°C|K|°|s|ms|min|h|dB|%|ppm|AWG|mm|V/µs|W/K|K/W)(?:/(?:min|h|s|K|V|µs|√Hz))?"
)
_NUMBER = r"[-+−±×≈~]?\s?(?:\d(?:[\d.,:]*\d)?(?:e[-+]?\d+)?|––\.––|–)(?: ?[–-] ?\d[\d.,:]*)?"
FIGURE = rf"{_NUMBER}(?: ?{UNIT}(?: \d+ ?{UNIT})?)?"


class Kind(Enum):
    """What a hole holds."""

    FIGURE = "figure"
    OWN = "own"
    WORDS = "words"


def kind_of(hole: str) -> Kind:
    """What the hole of this name holds."""
    first = hole.split("_", maxsplit=1)[0].rstrip("0123456789")
    return {"n": Kind.FIGURE, "own": Kind.OWN}.get(first, Kind.WORDS)


def holes_of(text: str) -> list[str]:
    """The names of the holes in their order."""
    return HOLE.findall(text)


def skeleton(text: str) -> str:
    """The sentence with nameless holes: what two ways of naming them have in common."""
    return HOLE.sub("{}", text)


@dataclass(frozen=True)
class Template:
    """An English sentence with holes, and the other language's."""

    english: str
    translated: str
    holes: tuple[str, ...] = field(init=False)
    literal: int = field(init=False)

    def __post_init__(self) -> None:
        names = tuple(holes_of(self.english))
        object.__setattr__(self, "holes", names)
        object.__setattr__(self, "literal", len(HOLE.sub("", self.english)))

    @cached_property
    def apart(self) -> frozenset[str]:
        """The holes that hold sentences of their own in both languages, beside what else is said."""
        return frozenset(_ALONE.findall(self.english)) & frozenset(_ALONE.findall(self.translated))

    @cached_property
    def _pattern(self) -> re.Pattern[str]:
        """The pattern is compiled when it is first tried: most sentences of a catalogue never are."""
        parts: list[str] = []
        end = 0
        for hole in HOLE.finditer(self.english):
            parts.append(re.escape(self.english[end : hole.start()]))
            parts.append(f"({FIGURE})" if kind_of(hole[1]) is Kind.FIGURE else "(.*?)")
            end = hole.end()
        parts.append(re.escape(self.english[end:]))
        return re.compile("".join(parts))

    @cached_property
    def _fixed(self) -> tuple[str, tuple[str, ...], str]:
        """What the sentence begins with, what stands between its holes, and what it ends with."""
        first, *between = HOLE.sub(_GAP, self.english).split(_GAP)
        return first, tuple(between[:-1]), between[-1] if between else ""

    def _may_be(self, text: str, start: int = 0) -> bool:
        """Whether all that is fixed stands in the text in its order; what a pattern would find at length."""
        first, between, last = self._fixed
        if not (text.startswith(first, start) and text.endswith(last)):
            return False
        at = start + len(first)
        for part in between:
            at = text.find(part, at)
            if at < 0:
                return False
            at += len(part)
        return at <= len(text) - len(last)

    def read(self, text: str) -> tuple[str, ...] | None:
        """What stands in the holes of a finished sentence; None where it is another sentence."""
        if not self._may_be(text):
            return None
        match = self._pattern.fullmatch(text)
        return None if match is None else match.groups()

    def read_end(self, text: str) -> tuple[int, tuple[str, ...]] | None:
        """Where the end of a text is this template, and what stands in its holes; never the whole text."""
        first = self._fixed[0]
        start = text.find(first, 1)
        while start >= 0 and self._may_be(text, start):
            whole = self._pattern.fullmatch(text, start)
            if whole is not None:
                return start, whole.groups()
            start = text.find(first, start + (len(first) or 1))
        return None

    def fill(self, contents: tuple[str, ...]) -> str:
        """The other language's sentence with its holes filled."""
        named = dict(zip(self.holes, contents, strict=True))
        return HOLE.sub(lambda hole: named.get(hole[1], hole[0]), self.translated)
