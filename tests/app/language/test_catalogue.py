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
            "Because {why}": "Weil {why}",
            "It says: {n}. {rest}": "Es sagt: {n}. {rest}",
        },
        GERMAN,
        {"the Quiet One"},
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


@pytest.mark.parametrize(
    ("english", "shown", "unknown"),
    [
        ("Quite another thing", "Quite another thing", "Quite another thing"),
        ("Turn the knob to 12.9 mV", "Turn the knob to 12.9 mV", "the knob"),
        ("⚠ Turn the knob to 12.9 mV", "⚠ Turn the knob to 12.9 mV", "the knob"),
        ("left bias: quite another thing", "left bias: quite another thing", "quite another thing"),
        ("lid off; quite another thing", "lid off; quite another thing", "quite another thing"),
        ("lid off (quite another thing)", "lid off (quite another thing)", "quite another thing"),
        ("Because lid off. No such thing.", "Weil Deckel ab. No such thing.", "No such thing"),
        # of several sentences each stands by itself
        ("Turn the knob to 12.9 mV. No reading.", "Turn the knob to 12.9 mV. Kein Messwert.", "the knob"),
        ("Seen. Turn the knob to 12.9 mV", "Gesehen. Turn the knob to 12.9 mV", "the knob"),
        ("Seen\nQuite another thing", "Gesehen\nQuite another thing", "Quite another thing"),
        ("Seen · quite another thing", "Gesehen · quite another thing", "quite another thing"),
        ("It says: 3.0. Quite another thing.", "Es sagt: 3,0. Quite another thing.", "Quite another thing"),
    ],
)
def test_a_sentence_is_never_half_translated(
    catalogue: Catalogue, english: str, shown: str, unknown: str
) -> None:
    """Where a part is unknown, all of its sentence stays English; a translator learns which part it is."""
    found = catalogue.find(english)
    assert found.text == shown
    assert found.unknown == (unknown,)


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("Turn the Quiet One to 12.9 mV", "the Quiet One auf 12,9 mV drehen"),
        ("The Quiet One: 0.40 mV low", "The Quiet One: 0,40 mV zu niedrig"),
        ("Turn RV101 to 12.9 mV", "RV101 auf 12,9 mV drehen"),
        (
            "Turn TCPIP0::192.168.1.20::hislip0::INSTR to 1 V",
            "TCPIP0::192.168.1.20::hislip0::INSTR auf 1 V drehen",
        ),
        ("Turn /dev/ttyUSB0 to 1 V", "/dev/ttyUSB0 auf 1 V drehen"),
        ("Turn 5.1 W to 1 V", "5,1 W auf 1 V drehen"),
        ("Named quite another thing", "Benannt als quite another thing"),
    ],
)
def test_what_is_the_same_in_every_language_passes_through(
    catalogue: Catalogue, english: str, german: str
) -> None:
    """Names that were given, designators, addresses, files, figures, what a person typed."""
    assert catalogue.find(english) == Found(german)


def test_names_may_come_later() -> None:
    """A sentence that was English because of a name is looked up again."""
    names: set[str] = set()
    late = Catalogue({"Turn {channel} to {n}": "{channel} auf {n} drehen"}, GERMAN, names)
    assert late.find("Turn the knob to 1 V").text == "Turn the knob to 1 V"

    names.add("the knob")
    late.forget()
    assert late.find("Turn the knob to 1 V") == Found("the knob auf 1 V drehen")


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
