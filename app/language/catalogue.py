"""A language's sentences, and finding the one that a finished English sentence was made from.

English is composed wherever the work is (nothing there knows of languages), so a sentence arrives whole: with
its figures in it, joined to others, as a part of another. Here it is taken apart as far as it is known.
A sentence is shown wholly in the other language or wholly in English; of several each stands by itself.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from app.language.plain_text import PlainText
from app.language.template import HOLE, Kind, Template, kind_of

KEPT = 8192  # finished sentences whose translation is remembered
DEEPEST = 8
MOST_JOINTS = 6
FEW = 2  # joints between clauses; more of them make a list, which is not taken apart otherwise

# What joins sentences, from the loosest to the closest. Loose parts stand each by itself; of clauses and of
# those that are held closer either all are known, or the text is left as it is.
_LOOSE = (
    re.compile(r"(\n+)"),
    re.compile(r"(\s{2,}(?:·\s+)?| · )"),
    re.compile(r"((?<=[.!?…”)]) )(?=[A-Z“(⚠≈\d])"),
)
_CLAUSES = re.compile(r"(; )")
_CLOSE = (
    re.compile(r"(: )"),
    re.compile(r"( [–—=] )"),
    re.compile(r"(, )"),
    re.compile(r"( \(|\)(?=$|[ .,;:]))"),
    re.compile(r"( [/+→] )"),
)
_SIGN_BEFORE = re.compile(r"^([^\w“”\"'(<{&+−±.-]+\s?)(?=\S)")
_JOINTS = " ,;:·–"
_SEVERAL = re.compile(r"[,;:.?!] |\n|\s\s| [·–] ")


@dataclass(frozen=True, slots=True)
class Found:
    """A text in the other language, and which parts of it are not known in it.

    `english` counts the letters of its sentences that stay English because of such a part.
    """

    text: str
    unknown: tuple[str, ...] = ()
    english: int = field(default=0, compare=False)


class Catalogue:
    """Sentences of one language.

    Args:
        sentences: The other language's sentence by its English one; both with the same holes.
        plain: How figures and key names are written there.
        names: Names that somebody gave, which are the same in every language; looked at whenever it is asked.
    """

    def __init__(
        self, sentences: Mapping[str, str], plain: PlainText, names: Collection[str] = frozenset()
    ) -> None:
        self._plain = plain
        self._names = names
        self._exact: dict[str, str] = {}
        self._by_first: dict[str, list[Template]] = {}
        self._by_last: dict[str, list[Template]] = {}
        self._loose: list[Template] = []
        self._tails: list[Template] = []
        for english, translated in sentences.items():
            self._take(english, translated)
        for english, translated in sentences.items():
            self._take_bare(english, translated)
        self._look = lru_cache(maxsize=KEPT)(self._look_up)

    def find(self, text: str) -> Found:
        """The text in the other language; a sentence of which a part is not known stays English."""
        return self._look(text, 0)

    def forget(self) -> None:
        """Look everything up anew: there are other names."""
        self._look.cache_clear()

    # --- taking sentences in --------------------------------------------------------------------------

    def _take(self, english: str, translated: str) -> None:
        if not HOLE.search(english):
            self._exact[english] = translated
        else:
            template = Template(english, translated)
            first, last = _first_word(english), _last_word(english)
            if first:
                self._by_first.setdefault(first, []).append(template)
            elif last:
                self._by_last.setdefault(last, []).append(template)
            else:
                self._loose.append(template)
        if english[:1] in _JOINTS and english.strip(_JOINTS):
            self._tails.append(Template(english, translated))

    def _take_bare(self, english: str, translated: str) -> None:
        """A fragment is also known without the joints at its ends, a key's label without its mark."""
        bare = english.strip(_JOINTS)
        if bare != english and bare:
            other = translated.strip(_JOINTS)
            if HOLE.search(bare):
                self._take(bare, other)
            else:
                self._exact.setdefault(bare, other)
        if "&" in english:
            self._exact.setdefault(english.replace("&", ""), translated.replace("&", ""))

    # --- finding --------------------------------------------------------------------------------------

    def _look_up(self, text: str, depth: int) -> Found:
        known = self._exact.get(text)
        if known is not None:
            return Found(known)
        plain = self._plain.written(text)
        if plain is not None:
            return Found(plain)
        bare = text.strip()
        if bare != text:  # a hole's content may bring its own space
            inside = self._look(bare, depth)
            before = len(text) - len(text.lstrip())
            whole = text[:before] + inside.text + text[before + len(bare) :]
            return Found(whole, inside.unknown, inside.english)
        best = _left(text)
        if depth > DEEPEST:
            return best
        ways = [self._filled_alone, self._dressed, self._with_tail, self._joined, self._filled]
        if text.count("; ") > FEW:  # a list: its clauses one by one, before it is searched for endings
            ways.insert(1, ways.pop(3))
        for way in ways:
            found = way(text, depth + 1)
            if found is not None and not found.unknown:
                return found
            if found is not None and _better(found, best):
                best = found
        return Found(text) if self._is_name(text) else best

    def _is_name(self, text: str) -> bool:
        """Whether somebody gave this name, which may begin a sentence here."""
        return text in self._names or any(other in self._names for other, _ in _other_first_letter(text))

    def _known(self, text: str) -> str | None:
        """What is said for exactly this; a name for itself."""
        known = self._exact.get(text)
        return text if known is None and text in self._names else known

    def _filled_alone(self, text: str, depth: int) -> Found | None:
        """One sentence with holes, none of which holds what looks like more than one text."""
        return self._filled(text, depth, alone=True)

    def _filled(self, text: str, depth: int, alone: bool = False) -> Found | None:
        """One sentence with holes; `alone`: none of them holds several texts in a row."""
        words = text.split(" ")
        candidates = [
            *self._by_first.get(words[0], ()),
            *self._by_last.get(words[-1], ()),
            *self._loose,
        ]
        best: Found | None = None
        for template in sorted(candidates, key=lambda one: -one.literal):
            contents = template.read(text)
            if contents is not None and not (alone and any(map(_SEVERAL.search, contents))):
                found = self._fill(template, contents, text, depth)
                if not found.unknown:
                    return found
                if best is None or _better(found, best):
                    best = found
        return best

    def _fill(self, template: Template, contents: tuple[str, ...], text: str, depth: int) -> Found:
        """The template for `text` with what stands in its holes; English where a part is not known.

        A hole that stands for sentences of its own holds up nothing but itself.
        """
        filled: list[str] = []
        unknown: list[str] = []
        english = 0
        for hole, content in zip(template.holes, contents, strict=True):
            kind = kind_of(hole)
            if kind is Kind.OWN:
                filled.append(content)
            elif kind is Kind.FIGURE:
                filled.append(self._plain.figures(content))
            else:
                found = self._look(content, depth)
                filled.append(found.text)
                unknown += found.unknown
                if found.unknown and hole not in template.apart:
                    english = len(text)
                english += found.english
        if english >= len(text):
            return _left(text, tuple(unknown))
        return Found(template.fill(tuple(filled)), tuple(unknown), english)

    def _dressed(self, text: str, depth: int) -> Found | None:
        """A known text with a sign before it, a stop after it, or another first letter."""
        sign = _SIGN_BEFORE.match(text)
        if sign is not None:
            found = self._look(text[sign.end() :], depth)
            return Found(sign[1] + found.text, found.unknown, found.english)
        best: Found | None = None
        for end in (".", ":", " …", ",", "?"):
            if text.endswith(end) and len(text) > len(end):
                found = self._look(text[: -len(end)], depth)
                if not found.unknown:
                    return Found(found.text + end)
                best = _left(text, found.unknown)
        if text + "." in self._exact:
            return Found(self._exact[text + "."].rstrip("."))
        for changed, back in _other_first_letter(text):
            exact = self._exact.get(changed)
            other = self._filled(changed, depth) if exact is None else Found(exact)
            if other is not None and not other.unknown:
                return Found(back(other.text))
        return best

    def _joined(self, text: str, depth: int) -> Found | None:
        """Several texts in a row."""
        best: Found | None = None
        for joint in (*_LOOSE, _CLAUSES, *_CLOSE):
            parts = joint.split(text)
            if len(parts) > 1:
                found = [self._look(part, depth) if part else Found("") for part in parts[::2]]
                unknown = tuple(word for one in found for word in one.unknown)
                if joint in _LOOSE or not unknown:
                    texts = [one.text for one in found]
                    english = sum(one.english for one in found)
                    return Found("".join(_braided(texts, parts[1::2])), unknown, english)
                parted = _left(text, unknown)
                if joint is _CLAUSES and len(parts) > 2 * FEW + 1:
                    return parted
                whole = self._in_two(text, joint, depth)
                if whole is not None:
                    return whole
                best = parted if best is None or _better(parted, best) else best
        return self._side_by_side(text) or best

    def _in_two(self, text: str, joint: re.Pattern[str], depth: int) -> Found | None:
        """Two known texts with this joint between them, which may stand in them as well."""
        for place in list(joint.finditer(text))[:MOST_JOINTS]:
            first = self._look(text[: place.start()], depth)
            if not first.unknown:
                second = self._look(text[place.end() :], depth)
                if not second.unknown:
                    return Found(first.text + place[0] + second.text)
        return None

    def _side_by_side(self, text: str) -> Found | None:
        """Two known names with a space between them, such as a channel and what was recorded of it."""
        words = text.split(" ")
        for many in range(len(words) - 1, 0, -1):
            first = self._known(" ".join(words[:many]))
            second = self._known(" ".join(words[many:]))
            if first is not None and second is not None:
                return Found(f"{first} {second}")
        return None

    def _with_tail(self, text: str, depth: int) -> Found | None:
        """A sentence that goes on with one of the known endings."""
        for tail in self._tails:
            at = tail.read_end(text)
            if at is not None:
                head = self._look(text[: at[0]], depth)
                end = self._fill(tail, at[1], text, depth)
                if not head.unknown and not end.unknown:
                    return Found(head.text + end.text)
        return None


def _left(text: str, unknown: tuple[str, ...] = ()) -> Found:
    """A text that stays as it is, and why."""
    return Found(text, unknown or (text,), len(text))


def _better(one: Found, other: Found) -> bool:
    """Whether less of one stays English; where that is equal, whether less of it is not known."""
    return (one.english, _missing(one)) < (other.english, _missing(other))


def _missing(found: Found) -> int:
    return sum(len(part) for part in found.unknown)


def _braided(texts: Iterable[str], joints: list[str]) -> Iterable[str]:
    for text, joint in zip(texts, [*joints, ""], strict=True):
        yield text
        yield joint


def _first_word(english: str) -> str:
    """The first word if it is a whole one."""
    word, space, _ = english.partition(" ")
    return word if space and not HOLE.search(word) else ""


def _last_word(english: str) -> str:
    _, space, word = english.rpartition(" ")
    return word if space and not HOLE.search(word) else ""


def _other_first_letter(text: str) -> list[tuple[str, Callable[[str], str]]]:
    """The text with its first letter small or large, and how to turn what is found back."""
    if text[:1].isupper():
        return [(text[:1].lower() + text[1:], lambda found: found[:1].upper() + found[1:])]
    if text[:1].islower():
        return [(text[:1].upper() + text[1:], str)]
    return []
