"""What a translator is told: which sentences there are, which are missing, what is wrong with one."""

from __future__ import annotations

from pathlib import Path

import pytest

from app import language
from app.language.po_file import read_po
from app.language.sources import composed, everything, named, written
from app.language.template import skeleton
from app.language.translating import missing, missing_files, trouble_of


def test_sentences_of_modules_are_found_with_their_holes() -> None:
    """An f-string, a text with braces, and words that are marked."""
    window = {one.english for one in composed("window")}
    steps = {one.english for one in composed("steps")}

    assert "Watching. Every reading is kept." in window
    assert "{n_amount} low" in window
    assert "Clip on with the mains switched off: {where}." in steps


def test_what_is_shown_of_the_files_is_found() -> None:
    """Titles and texts of procedures, units of the simulated bench, and words of the program's own lists."""
    assert "Leave it untouched" in {one.english for one in written("library")}
    assert any(one.place.startswith("drivers/simulated/units") for one in written("units"))
    assert "passed" in {one.english for one in named()}


def test_each_sentence_is_asked_for_once() -> None:
    """However its holes are named."""
    skeletons = [skeleton(one.english) for sources in everything().values() for one in sources]

    assert len(skeletons) == len(set(skeletons))


def test_what_is_missing_is_written_as_it_is_read(tmp_path: Path) -> None:
    """The files hold what `missing` says, ready to be filled in."""
    written_down = [
        message.english
        for path, _ in missing_files("de", tmp_path, 100)
        for message in read_po(path.read_text(encoding="utf-8"), path.name)
    ]

    assert written_down == [one.english for sources in missing("de").values() for one in sources]


@pytest.mark.parametrize(
    ("english", "translated", "words"),
    [
        ("{n} left", "{n} übrig", ""),
        ("{n} left", "{m} übrig", "other holes"),
        ("{n} of {n}", "{n} von {n}", "one name"),
        (" and stays", "und bleibt", "begin with a space"),
    ],
)
def test_a_doubtful_translation_is_named(english: str, translated: str, words: str) -> None:
    """Holes and ends must agree."""
    assert words in trouble_of(english, translated)
    assert bool(words) == bool(trouble_of(english, translated))


@pytest.mark.parametrize("code", [one.code for one in language.available() if one.code != "en"])
def test_nothing_that_ships_is_doubtful(code: str) -> None:
    """Every sentence of every catalogue passes the translator's own check."""
    for english, translated in language.sentences(code).items():
        assert trouble_of(english, translated) == "", english
