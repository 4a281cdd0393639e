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


def test_german_is_complete() -> None:
    """Every sentence of the program's own that a window can show; the list names file and line."""
    assert checked("de") == []
