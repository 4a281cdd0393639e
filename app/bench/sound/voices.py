"""Which voices a speech program has, and how one that speaks a language is asked for.

A program is asked for its voices once a language, in a process that nobody waits for. What it answers is read
as text; what is asked for afterwards are codes and names that it gave itself.
"""

from __future__ import annotations

import contextlib
import re
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from typing import IO

from drivers.clock import host_seconds

PATIENCE_S = 10.0
MOST_BYTES = 1_000_000
_CODE = re.compile(r"[A-Za-z]{2,3}(?:[-_][A-Za-z0-9]{2,8})*")


@dataclass(frozen=True, slots=True)
class VoiceList:
    """How a program tells its voices: `line` finds `locale` and, where it matters, `voice` in what it writes.

    `asking` is the whole command that speaks with a voice; `{locale}` and `{voice}` in it are filled in.
    """

    command: tuple[str, ...]
    line: str
    asking: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Voice:
    """A voice of a language: what a person would know it by, and the command that speaks with it."""

    name: str
    command: tuple[str, ...]


def voice_in(told: str, listed: VoiceList, code: str) -> Voice | None:
    """The first voice of a language among what a program has told; None where there is none."""
    for found in re.finditer(listed.line, told, re.MULTILINE):
        parts = found.groupdict()
        locale = parts["locale"]
        if _CODE.fullmatch(locale) and re.split(r"[-_]", locale)[0].lower() == code:
            name = (parts.get("voice") or locale).strip()
            filled = {"{locale}": locale, "{voice}": name}
            command = tuple(_filled(part, filled) for part in listed.asking)
            return Voice(name, command)
    return None


def _filled(part: str, parts: dict[str, str]) -> str:
    for hole, word in parts.items():
        part = part.replace(hole, word)
    return part


class VoiceSearch:
    """Looks for a voice of one language without holding anybody up: `look` now and then until `over`."""

    def __init__(self, listed: VoiceList, code: str, seconds: Callable[[], float] = host_seconds) -> None:
        self._listed, self.code, self._seconds = listed, code, seconds
        self._until_s = seconds() + PATIENCE_S
        self._told: IO[bytes] = tempfile.TemporaryFile()  # noqa: SIM115 - `stop` closes it
        self._process: subprocess.Popen[bytes] | None = None
        self.over = False
        self.voice: Voice | None = None
        try:
            self._process = subprocess.Popen(
                listed.command, stdin=subprocess.DEVNULL, stdout=self._told, stderr=subprocess.DEVNULL
            )
        except OSError:
            self.stop()

    def look(self) -> None:
        """Take up the answer if it is there; give up a program that does not come to an end."""
        process = self._process
        if self.over or process is None:
            return
        if process.poll() is not None:
            self._told.seek(0)
            told = self._told.read(MOST_BYTES).decode("utf-8", "replace")
            self.voice = voice_in(told, self._listed, self.code)
            self.stop()
        elif self._seconds() > self._until_s:
            self.stop()

    def stop(self) -> None:
        """Look no longer."""
        process, self._process = self._process, None
        if process is not None:
            with contextlib.suppress(OSError):
                process.kill()
            process.wait()
        self._told.close()
        self.over = True
