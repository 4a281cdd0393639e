"""In which language an instruction is spoken: that of the window with a voice of it, else English.

German words are never given to an English voice, nor a sentence half in one language.
"""

from __future__ import annotations

from typing import Protocol

from app.bench.sound.speech import Speaker

ENGLISH = "en"


class Tongue(Protocol):
    """The language of the window (`app.language`). Asked in the sound desk's thread."""

    def chosen(self) -> str:
        """The code of the language in force."""
        ...

    def whole(self, text: str) -> str | None:
        """The text in that language; None where a part of it is not known there."""
        ...


class English:
    """The language where nothing else is known of."""

    def chosen(self) -> str:
        """English."""
        return ENGLISH

    def whole(self, text: str) -> str | None:
        """Nothing is said in another language."""
        return None


class SpokenWords:
    """Says instructions through a speaker in the language in force."""

    def __init__(self, speaker: Speaker | None, tongue: Tongue) -> None:
        self._speaker = speaker
        self._tongue = tongue

    def look(self) -> None:
        """Find out by and by which voices there are: the window's language first, then English."""
        if self._speaker is not None and self._speaker.look_for(self._tongue.chosen()):
            self._speaker.look_for(ENGLISH)

    def say(self, sentence: str) -> None:
        """Begin to say an English sentence, in the language in force if that is possible."""
        speaker = self._speaker
        if speaker is None:
            return
        voice = speaker.voice(self._tongue.chosen())
        own = self._tongue.whole(sentence) if voice is not None else None
        if own is not None:
            speaker.say(own, voice)
        else:
            speaker.say(sentence, speaker.voice(ENGLISH))

    @property
    def notice(self) -> str:
        """What is done, in one sentence; empty while the window speaks English."""
        code = self._tongue.chosen()
        if self._speaker is None or code == ENGLISH:
            return ""
        voice = self._speaker.voice(code)
        if voice is not None:
            return f"Instructions are spoken in the language of the window, by the voice “{voice.name}”."
        if not self._speaker.knows(code):
            return "Instructions are spoken in English until it is known which voices there are."
        return "Instructions are spoken in English: no voice for the language of the window was found."
