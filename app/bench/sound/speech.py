"""Sentences spoken by the computer's own speech program, in a process of its own.

The text is only ever passed as an argument or on standard input. Nothing waits for the voice.
"""

from __future__ import annotations

import contextlib
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass

_WINDOWS = (
    "Add-Type -AssemblyName System.Speech; "
    "(New-Object System.Speech.Synthesis.SpeechSynthesizer).Speak([Console]::In.ReadToEnd())"
)


@dataclass(frozen=True, slots=True)
class SpeechProgram:
    """How a speech program is started. `by_argument`: the text is its last argument, else its input.

    `cancel` is what silences a voice that lives outside the process.
    """

    command: tuple[str, ...]
    by_argument: bool = False
    cancel: tuple[str, ...] = ()


# Programs that come with an operating system, in the order in which they are tried.
_KNOWN = {
    "darwin": (SpeechProgram(("say", "-f", "-")),),
    "win32": (SpeechProgram(("powershell", "-NoProfile", "-NonInteractive", "-Command", _WINDOWS)),),
}
_ELSEWHERE = (
    SpeechProgram(("espeak-ng", "--stdin")),
    SpeechProgram(("espeak", "--stdin")),
    SpeechProgram(("spd-say", "--wait", "--"), by_argument=True, cancel=("spd-say", "--cancel")),
)


def find_speech(
    platform: str = sys.platform, which: Callable[[str], str | None] = shutil.which
) -> SpeechProgram | None:
    """The speech program of this computer, or None."""
    for program in _KNOWN.get(platform, _ELSEWHERE):
        path = which(program.command[0])
        if path is not None:
            return SpeechProgram((path, *program.command[1:]), program.by_argument, program.cancel)
    return None


class Speaker:
    """Says one sentence at a time; a new one takes the place of the old one."""

    def __init__(self, program: SpeechProgram) -> None:
        self._program = program
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def speaking(self) -> bool:
        """Whether a voice is heard."""
        return self._process is not None and self._process.poll() is None

    def say(self, sentence: str) -> bool:
        """Begin to say a sentence; whether that could be begun. Returns at once."""
        self.stop()
        by_argument = self._program.by_argument
        command = [*self._program.command, sentence] if by_argument else list(self._program.command)
        try:
            self._process = subprocess.Popen(
                command,
                stdin=subprocess.DEVNULL if by_argument else subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
        except OSError:
            return False
        pipe = self._process.stdin
        if pipe is not None:
            # A sentence fits into the pipe many times over: this does not wait for the reader.
            with contextlib.suppress(OSError):
                pipe.write(sentence.encode("utf-8", "replace")[:4000])
            with contextlib.suppress(OSError):
                pipe.close()
        return True

    def stop(self) -> None:
        """Silence the voice."""
        process, self._process = self._process, None
        if process is None:
            return
        if process.poll() is None:
            with contextlib.suppress(OSError):
                process.kill()
            if self._program.cancel:
                with contextlib.suppress(OSError, subprocess.TimeoutExpired):
                    subprocess.run(self._program.cancel, capture_output=True, timeout=1.0, check=False)
        process.wait()
