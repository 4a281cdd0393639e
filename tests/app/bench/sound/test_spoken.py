"""Instructions are spoken in the language of the window by a voice of it, else in English."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from app.bench.sound.speech import Speaker, SpeechProgram, find_speech
from app.bench.sound.spoken import SpokenWords
from app.bench.sound.voices import VoiceList, VoiceSearch, voice_in

TURN = "Turn the left trimmer until it shows 13.2 mV"
GERMAN_TURN = "Linken Trimmer drehen, bis 13,2 mV angezeigt werden"
# What each program writes when it is asked for its voices (recalled - check before quoting).
TOLD = {
    "espeak-ng": (
        "Pty Language       Age/Gender VoiceName          File                 Other Languages\n"
        " 5  af              --/M      Afrikaans          gmw/af\n"
        " 5  de              --/M      German             gmw/de\n"
        " 2  en-gb           --/M      English_(Great_Britain) gmw/en            (en 2)\n"
    ),
    "say": (
        "Alex                en_US    # Most people recognize me by my voice.\n"
        "Eddy (German (Germany)) de_DE    # Hallo! Ich bin eine Stimme.\n"
    ),
    "powershell": "en-US First Voice Desktop\r\nde-DE Second Voice Desktop\r\n",
    "spd-say": (
        "                     NAME                  LANGUAGE                 VARIANT\n"
        "                  English                     en-GB                    none\n"
        "                   German                        de                    none\n"
    ),
}
ASKED = {
    "espeak-ng": ("de", ("/bin/espeak-ng", "-v", "de", "--stdin")),
    "say": ("Eddy (German (Germany))", ("/bin/say", "-v", "Eddy (German (Germany))", "-f", "-")),
    "spd-say": ("German", ("/bin/spd-say", "-l", "de", "--wait", "--")),
}
PLATFORM = {"espeak-ng": "linux", "spd-say": "linux", "say": "darwin", "powershell": "win32"}


class German:
    """A window in German that knows one sentence."""

    def chosen(self) -> str:
        return "de"

    def whole(self, text: str) -> str | None:
        return {TURN: GERMAN_TURN}.get(text)


def _listed(name: str) -> VoiceList:
    found = find_speech(PLATFORM[name], lambda there: f"/bin/{there}" if there == name else None)
    assert found is not None
    assert found.voices is not None
    return found.voices


@pytest.mark.parametrize("name", ASKED)
def test_a_german_voice_is_found_in_what_a_program_tells(name: str) -> None:
    """By its language; the program is asked for it by what it wrote itself."""
    voice = voice_in(TOLD[name], _listed(name), "de")

    assert voice is not None
    assert (voice.name, voice.command) == ASKED[name]
    assert voice_in(TOLD[name], _listed(name), "fr") is None
    assert voice_in("", _listed(name), "de") is None


def test_the_voice_is_named_by_its_culture_where_a_script_chooses_it() -> None:
    """Only a code is ever put into the script, never a name."""
    voice = voice_in(TOLD["powershell"], _listed("powershell"), "de")
    assert voice is not None
    assert voice.name == "Second Voice Desktop"
    assert "CultureInfo]'de-DE'" in voice.command[-1]
    assert "Second" not in voice.command[-1]
    assert voice_in("de-DE'); Evil Voice\r\n", _listed("powershell"), "de") is None


# --- a program of our own in place of the computer's -------------------------------------------------


class Spoken:
    """A speech program that notes what it was asked to say, with which voice."""

    def __init__(self, folder: Path, voices: str) -> None:
        self.heard = folder / "heard"
        told = folder / "voices.py"
        told.write_text(f"print({voices!r})", encoding="utf-8")
        said = folder / "say.py"
        said.write_text(
            "import sys, pathlib\n"
            f"heard = pathlib.Path({str(self.heard)!r})\n"
            "heard.write_bytes(sys.argv[1].encode() + b'|' + sys.stdin.buffer.read())",
            encoding="utf-8",
        )
        listing = VoiceList(
            (sys.executable, str(told)),
            r"^(?P<locale>\S+) (?P<voice>.+)$",
            (sys.executable, str(said), "{voice}"),
        )
        self.speaker = Speaker(SpeechProgram((sys.executable, str(said), "own voice"), voices=listing))
        self.words = SpokenWords(self.speaker, German())

    def look(self) -> None:
        """Wait for the list of voices, which is a process of its own."""
        for _ in ("de", "en"):
            self.words.look()
            assert self.speaker._search is not None
            assert self.speaker._search._process is not None
            self.speaker._search._process.wait(20)
        self.words.look()

    def say(self, sentence: str) -> str:
        self.words.say(sentence)
        assert self.speaker._process is not None
        self.speaker._process.wait(20)
        return self.heard.read_text(encoding="utf-8")


@pytest.fixture
def both(tmp_path: Path) -> Iterator[Spoken]:
    made = Spoken(tmp_path, "de-DE Anke\nen-GB Ann")
    yield made
    made.speaker.stop()
    made.speaker.look_no_longer()


def test_a_known_sentence_is_german_with_the_german_voice_and_any_other_english(both: Spoken) -> None:
    """Never German words in an English voice, nor English ones in a German voice."""
    assert both.say(TURN) == f"own voice|{TURN}"  # which voices there are is not known yet
    assert "until it is known" in both.words.notice
    both.look()

    assert both.words.notice == "Instructions are spoken in the language of the window, by the voice “Anke”."
    assert both.say(TURN) == f"Anke|{GERMAN_TURN}"
    assert both.say("Quite another thing") == "Ann|Quite another thing"


def test_without_a_german_voice_all_is_english(tmp_path: Path) -> None:
    """And the settings say so."""
    only = Spoken(tmp_path, "en-GB Ann")
    only.look()

    assert only.say(TURN) == f"Ann|{TURN}"
    assert (
        only.words.notice
        == "Instructions are spoken in English: no voice for the language of the window was found."
    )
    only.speaker.stop()


def test_a_program_that_tells_no_voices_speaks_english() -> None:
    """One that has no list, one that has gone, one that never ends."""
    silent = Speaker(SpeechProgram((sys.executable, "-c", "")))
    assert silent.look_for("de")
    assert silent.voice("de") is None

    gone = VoiceSearch(VoiceList(("/nowhere/speech",), r"(?P<locale>\S+)", ()), "de")
    assert gone.over
    assert gone.voice is None

    now = [0.0]
    endless = VoiceList((sys.executable, "-c", "import time; time.sleep(60)"), r"(?P<locale>\S+)", ())
    search = VoiceSearch(endless, "de", lambda: now[0])
    search.look()
    assert not search.over
    now[0] = 11.0
    search.look()
    assert search.over
    assert search.voice is None
