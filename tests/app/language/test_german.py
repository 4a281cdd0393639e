"""Every catalogue that ships: readable, the same holes on both sides, no words that are not ours."""

from __future__ import annotations

import re

import pytest

from app import language
from app.language.template import HOLE, holes_of
from app.language.translating import checked

OTHERS = [one.code for one in language.available() if one.code != "en"]
# Words that the program never uses as its own finding, as a translator might write them.
NEVER = {"de": r"\b(sicher|ungefährlich|entladen|zertifiziert|optimal|garantiert)\b"}
SAID_OF_THE_READER = re.compile(r"\b(bleed|discharged?|safe|safely|sure|certified)\b", re.IGNORECASE)


@pytest.mark.parametrize("code", OTHERS)
def test_holes_are_the_same_on_both_sides(code: str) -> None:
    """A hole that is left out would swallow a figure; one too many would show its name."""
    for english, translated in language.sentences(code).items():
        assert sorted(set(holes_of(english))) == sorted(set(holes_of(translated))), english
        assert len(holes_of(english)) == len(set(holes_of(english))), english
        assert HOLE.sub("", translated).count("{") == HOLE.sub("", english).count("{"), english


@pytest.mark.parametrize("code", OTHERS)
def test_ends_of_fragments_are_kept(code: str) -> None:
    """What begins or ends with a joint is joined to something there."""
    for english, translated in language.sentences(code).items():
        assert translated.strip(), english
        assert (english[:1] == " ") == (translated[:1] == " "), english
        assert (english[-1:] == " ") == (translated[-1:] == " "), english


@pytest.mark.parametrize("code", OTHERS)
def test_no_finding_that_the_program_never_makes(code: str) -> None:
    """Such a word may stand only where the English has it too: as a question or a condition."""
    never = re.compile(NEVER[code], re.IGNORECASE)
    for english, translated in language.sentences(code).items():
        if never.search(translated):
            assert SAID_OF_THE_READER.search(english), translated


# Keys as sentences name them; of those whose name is a common word as well only the ones with others held.
_HELD = r"(?:\b(?:Ctrl|Strg|Shift|Umschalt|Alt)\+)+(?:Page \w+|Bild \w+|F\d{1,2}|[A-ZÄÖÜ]\w+|[A-Z0-9,])"
ENGLISH_KEYS = re.compile(_HELD + r"|\bF\d{1,2}\b|\b(?:Space|Enter|Return|Esc|Home|Page Down|Page Up)\b")
GERMAN_KEYS = re.compile(_HELD + r"|\bF\d{1,2}\b|\b(?:Leertaste|Eingabe|Esc|Pos1|Bild auf|Bild ab)\b")


def test_a_sentence_names_the_same_keys_in_german() -> None:
    """By the names that stand on German keys, and none that the English does not name."""
    keys = dict(language.plain_text("de").keys)
    keys |= {"Page Down": keys["PgDown"], "Page Up": keys["PgUp"], "Delete": keys["Del"]}
    for english, german in language.sentences("de").items():
        named = ENGLISH_KEYS.findall(english)
        there = GERMAN_KEYS.findall(german)
        wanted = ["+".join(keys.get(part, part) for part in key.split("+")) for key in named]
        if wanted or there != ["Eingabe"]:  # which is also what is entered
            assert sorted(there) == sorted(wanted), english


def test_german_is_complete() -> None:
    """Every sentence of the program's own that a window can show; the list names file and line."""
    assert checked("de") == []
