"""What the window needs of what is heard: guiding sounds, and the devices for measuring."""

from __future__ import annotations

from typing import Protocol

from app.bench.sound.heard import Heard
from app.settings import AudioChoice, SoundChoice


class SoundControls(Protocol):
    """What a person may choose about sound (`app.bench.sound.desk`). Every method returns at once."""

    @property
    def choice(self) -> SoundChoice:
        """What is chosen now."""
        ...

    def choose(self, choice: SoundChoice) -> None:
        """Choose something else, at once and for the next time."""
        ...

    @property
    def notice(self) -> str:
        """Why nothing is heard, in one sentence; empty while sound works as usual."""
        ...

    @property
    def speech_notice(self) -> str:
        """Why nothing is spoken although that was chosen; else empty."""
        ...

    @property
    def voice_notice(self) -> str:
        """In which language and with which voice is spoken, where that is a question; else empty."""
        ...

    @property
    def can_speak(self) -> bool:
        """Whether there is a speech program."""
        ...

    @property
    def names(self) -> tuple[str, ...]:
        """The outputs that have been found; more may be found a moment later."""
        ...

    def try_out(self, heard: Heard) -> None:
        """Let a person hear a sound once."""
        ...

    def hold(self) -> None:
        """Keep sound going until as many `release` have followed."""
        ...

    def release(self) -> None:
        """Let go."""
        ...


class AudioControls(Protocol):
    """What a person may choose about the devices for measuring (`app.bench.audio.devices`)."""

    @property
    def choice(self) -> AudioChoice:
        """What is chosen now."""
        ...

    def choose(self, choice: AudioChoice) -> None:
        """Remember another choice, for the next bench. Raises OSError, ValueError."""
        ...

    def passed_over(self) -> tuple[str, ...]:
        """A sentence for each description of an instrument that cannot be used."""
        ...

    def names(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Devices that record, devices that play. Takes a moment: for a thread. Raises ValueError."""
        ...

    def floor(self) -> tuple[str, ...]:
        """What the set-up itself adds, in sentences. Takes seconds: for a thread. Raises ValueError."""
        ...
