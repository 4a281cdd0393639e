"""Typing what a display shows, line by line: a meter without an interface at a terminal.

A prompt comes at a chosen interval and may be ignored. Enter behind a value stamps it with the present time;
Enter alone says that the display still shows the same. Not here: where the lines come from, and what a value
means.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Protocol

from drivers.errors import ReplyRefused

_CHOSEN = re.compile(r"^\s*(?P<number>[1-9]\d?)\s*:(?P<rest>.*)$")
UNCHANGED = ("", "=")


class TypedBench(Protocol):
    """What a desk needs of a bench."""

    def read_off(self, channel: str, text: str) -> None:
        """A person typed what the display shows. Raises ReplyRefused; then nothing has happened."""
        ...

    def still(self, channel: str) -> None:
        """A person says that the display shows the same as before. Raises ReplyRefused."""
        ...


class TypingDesk:
    """Takes lines in turn for each typed channel.

    Args:
        bench: keeps what is typed.
        channels: what is read off, in the order in which it is asked for.
        every_s: seconds from one round of prompts to the next; 0: no prompts.
        say: shows a line to the person.
    """

    def __init__(
        self, bench: TypedBench, channels: Sequence[str], every_s: float, say: Callable[[str], object]
    ) -> None:
        self._bench = bench
        self._channels = tuple(channels)
        self._every_s = every_s
        self._say = say
        self._at = 0
        self._asked_s: float | None = None

    def begin(self) -> None:
        """Say once how it is done."""
        names = ", ".join(f"{number}: {name}" for number, name in enumerate(self._channels, start=1))
        several = f" In front of a value may stand which it is ({names})." if len(self._channels) > 1 else ""
        self._say(
            "Type what the display shows (13.4, 13,4 mV, 0.0134 V, OL) and Enter; Enter alone: unchanged. "
            f"It is watched only when you type.{several}"
        )

    def look(self, now_s: float) -> None:
        """Ask when it is time; whoever is busy lets it pass."""
        if self._every_s <= 0.0 or (self._asked_s is not None and now_s < self._asked_s + self._every_s):
            return
        self._asked_s = now_s
        self._say(f"{self._channels[self._at]} ?")

    def take(self, line: str) -> None:
        """A person typed a line and Enter."""
        chosen = _CHOSEN.match(line)
        if chosen is not None:
            number = int(chosen["number"])
            if number > len(self._channels):
                self._say(f"There is no channel {number}; there are {len(self._channels)}.")
                return
            self._at, line = number - 1, chosen["rest"]
        channel = self._channels[self._at]
        try:
            if line.strip() in UNCHANGED:
                self._bench.still(channel)
            else:
                self._bench.read_off(channel, line)
        except ReplyRefused as refusal:
            sentence = str(refusal)
            self._say(f"{sentence[:1].upper()}{sentence[1:].rstrip('.')}.")
            return
        self._next()

    def _next(self) -> None:
        """On to the next channel; within a round it is asked for at once."""
        self._at = (self._at + 1) % len(self._channels)
        if self._at and self._every_s > 0.0:
            self._say(f"{self._channels[self._at]} ?")
