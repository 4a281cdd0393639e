"""What may be said about sound on a command line, and the desk that follows from it."""

from __future__ import annotations

import argparse
from collections.abc import Callable

from app import language
from app.bench.sound.desk import SoundDesk
from app.bench.sound.speech import Speaker, find_speech
from app.settings import Settings, SoundChoice


def sound_desk(choice: SoundChoice, keep: Callable[[SoundChoice], None]) -> SoundDesk:
    """The sound of this computer; nothing is opened before somebody listens."""
    program = find_speech()
    speaker = Speaker(program) if program is not None else None
    return SoundDesk(choice, speaker=speaker, tongue=_Window(), keep=keep)


class _Window:
    """The language of the window, as the sound desk asks for it; in the terminal that is English."""

    def chosen(self) -> str:
        """The code of the language in force."""
        return language.chosen()

    def whole(self, text: str) -> str | None:
        """The text in that language, if all of it is known there."""
        return language.whole(text)


def add_sound_options(made: argparse.ArgumentParser) -> None:
    """What is heard, how loudly, and where. All of it is kept for the next time."""
    heard = made.add_argument_group("sound (all of it is kept)")
    heard.add_argument("--sound", choices=("on", "muted"), help="alarms and chimes, or none")
    heard.add_argument("--volume", type=_percent, metavar="PERCENT", help="0 to 100")
    heard.add_argument("--speech", choices=("on", "off"), help="speak instructions, where the system can")
    heard.add_argument("--output", metavar="NAME", help="the sound output; '' is the system's")
    heard.add_argument(
        "--measuring-device", metavar="NAME", help="the sound device that no sound may go to; '' is none"
    )


def with_sound_options(chosen: argparse.Namespace, settings: Settings) -> Settings:
    """The settings with what the command line says about sound."""
    said: dict[str, object] = {
        "muted": None if chosen.sound is None else chosen.sound == "muted",
        "volume": None if chosen.volume is None else chosen.volume / 100.0,
        "speech": None if chosen.speech is None else chosen.speech == "on",
        "output": None if chosen.output is None else chosen.output[:200],
        "measuring": None if chosen.measuring_device is None else chosen.measuring_device[:200],
    }
    said = {name: value for name, value in said.items() if value is not None}
    return settings.model_copy(update={"sound": settings.sound.model_copy(update=said)})


def _percent(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0.0 <= value <= 100.0:
        raise argparse.ArgumentTypeError(f"{text} is no volume: say a percentage from 0 to 100")
    return value
