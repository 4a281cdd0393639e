"""Finished English is taken apart as far as a catalogue knows it, and put together again."""

from __future__ import annotations

import pytest

from app import language
from app.language.catalogue import Catalogue, Found
from app.language.plain_text import PlainText
from app.language.po_file import UnreadablePo, read_po
from app.language.template import Template

GERMAN = PlainText(",", {"Ctrl": "Strg", "Space": "Leertaste"})


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return Catalogue(
        {
            "Seen": "Gesehen",
            "&Keep": "&Behalten",
            "left bias": "Ruhestrom links",
            "lid off": "Deckel ab",
            "no reading": "kein Messwert",
            "{n_amount} low": "{n_amount} zu niedrig",
            "heading for {n} ± {n_half} {unit}": "läuft auf {n} ± {n_half} {unit} zu",
            ", settled in about {n_span} min": ", in etwa {n_span} min in Ruhe",
            " and stays there": " und bleibt dort",
            "Turn {channel} to {n}": "{channel} auf {n} drehen",
            "Named {own_name}": "Benannt als {own_name}",
            "practice unit": "Übungsgerät",
        },
        GERMAN,
    )


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("Seen", "Gesehen"),
        ("Keep", "Behalten"),
        ("F8   Seen", "F8   Gesehen"),
        ("Ctrl+1", "Strg+1"),
        ("Space", "Leertaste"),
        ("0.40 mV low", "0,40 mV zu niedrig"),
        ("Turn left bias to 12.9 mV", "Ruhestrom links auf 12,9 mV drehen"),
        ("No reading.", "Kein Messwert."),
        ("⚠ lid off", "⚠ Deckel ab"),
        ("left bias: 0.40 mV low; lid off", "Ruhestrom links: 0,40 mV zu niedrig; Deckel ab"),
        ("Seen. No reading.", "Gesehen. Kein Messwert."),
        ("Seen\n0.40 mV low", "Gesehen\n0,40 mV zu niedrig"),
        ("lid off (no reading)", "Deckel ab (kein Messwert)"),
        ("heading for 12.9 ± 0.4 mV", "läuft auf 12,9 ± 0,4 mV zu"),
        (
            "heading for 12.9 ± 0.4 mV, settled in about 5–7 min",
            "läuft auf 12,9 ± 0,4 mV zu, in etwa 5–7 min in Ruhe",
        ),
        ("0.40 mV low and stays there", "0,40 mV zu niedrig und bleibt dort"),
        ("12.94", "12,94"),
        ("TCPIP0::192.168.1.20::hislip0::INSTR", "TCPIP0::192.168.1.20::hislip0::INSTR"),
        ("Named practice unit", "Benannt als practice unit"),
    ],
)
def test_known_sentences_are_found_in_what_was_made_of_them(
    catalogue: Catalogue, english: str, german: str
) -> None:
    """Figures, joints, signs, capitals and parts within parts do not hide a sentence."""
    assert catalogue.find(english) == Found(german)


def test_what_is_unknown_stays_english_and_is_named(catalogue: Catalogue) -> None:
    """Somebody reads English rather than nothing, and a translator learns which part is missing."""
    assert catalogue.find("Turn the knob to 12.9 mV").text == "the knob auf 12,9 mV drehen"
    assert catalogue.find("Turn the knob to 12.9 mV").unknown == ("the knob",)
    assert catalogue.find("Quite another thing") == Found("Quite another thing", ("Quite another thing",))


def test_a_hole_for_figures_takes_no_words() -> None:
    """So that a template of one word does not swallow any sentence that ends with it."""
    template = Template("{n_amount} low", "{n_amount} zu niedrig")

    assert template.read("-0.40 mV low") == ("-0.40 mV",)
    assert template.read("this is very low") is None


def test_no_language_but_english_is_spoken_unasked() -> None:
    """A text comes out as it went in until another language is chosen."""
    assert language.chosen() == "en"
    assert language.worded("left bias: 12.9 mV") == "left bias: 12.9 mV"


@pytest.mark.parametrize(
    ("setting", "system", "code"),
    [
        ("de", "", "de"),
        ("en", "de_DE", "en"),
        ("system", "de_AT.UTF-8", "de"),
        ("", "de-CH", "de"),
        ("", "en_GB", "en"),
        ("system", "xx_YY", "en"),
        ("no-such", "de_DE", "en"),
    ],
)
def test_a_setting_means_a_language_that_there_is(setting: str, system: str, code: str) -> None:
    """The desktop's where nothing else was chosen; English where there is no catalogue."""
    assert language.resolved(setting, system) == code


def test_the_environment_tells_the_desktops_language(monkeypatch: pytest.MonkeyPatch) -> None:
    """LC_ALL before LC_MESSAGES before LANG, as POSIX has it (XBD 8.2)."""
    monkeypatch.setenv("LANG", "de_DE.UTF-8")
    monkeypatch.delenv("LC_ALL", raising=False)
    monkeypatch.delenv("LC_MESSAGES", raising=False)
    assert language.resolved("system") == "de"

    monkeypatch.setenv("LC_ALL", "C")
    assert language.resolved("system") == "en"


def test_a_po_file_is_read_with_its_comments_and_long_strings() -> None:
    """Header, comments, strings over several lines, escapes, and doubts."""
    text = (
        'msgid ""\nmsgstr "Language: de\\n"\n\n# a remark\n#: app/x.py:3\nmsgid "One "\n"two"\n'
        'msgstr "Eins \\"zwei\\""\n\n#, fuzzy\nmsgid "Three"\nmsgstr "Drei?"\n'
    )

    one, three = read_po(text, "test.po")

    assert (one.english, one.translated, one.fuzzy) == ("One two", 'Eins "zwei"', False)
    assert (three.english, three.fuzzy) == ("Three", True)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('msgid "A"\nmsgstr "B"\n\nmsgid "A"\nmsgstr "C"\n', "test.po, line 4: “A” stands in line 1"),
        ('msgctxt "x"\nmsgid "A"\nmsgstr "B"\n', "'msgctxt' is not used here"),
        ('msgid "A"\n', "one msgid and one msgstr"),
        ("msgid 'A'\nmsgstr \"B\"\n", "a string between two"),
        ('"A"\n', "a string without msgid"),
    ],
)
def test_a_broken_po_file_is_refused_with_its_place(text: str, words: str) -> None:
    """A translator is told where and what."""
    with pytest.raises(UnreadablePo, match=r"line \d") as refusal:
        read_po(text, "test.po")

    assert words.replace("a string between two", "put the text between two") in str(refusal.value)
