"""Sentences spoken by the computer's own speech program, in a process of its own.

The text is only ever passed as an argument or on standard input. Nothing waits for the voice. What is said in
a language is said by a voice of that language, where the program has one (`voices.py`).
"""

from __future__ import annotations

import contextlib
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace

from app.bench.sound.voices import Voice, VoiceList, VoiceSearch

# PowerShell: what is said arrives as UTF-8, whatever the console's own encoding is.
_SPEAKER = "Add-Type -AssemblyName System.Speech; $s = New-Object System.Speech.Synthesis.SpeechSynthesizer; "
_READ = "(New-Object IO.StreamReader([Console]::OpenStandardInput(), [Text.Encoding]::UTF8)).ReadToEnd()"
_WINDOWS = f"{_SPEAKER}$s.Speak({_READ})"
_WINDOWS_VOICE = (
    f"{_SPEAKER}$s.SelectVoiceByHints('NotSet', 'NotSet', 0, [Globalization.CultureInfo]'{{locale}}'); "
    f"$s.Speak({_READ})"
)
_WINDOWS_VOICES = (
    f"{_SPEAKER}$s.GetInstalledVoices() | Where-Object {{$_.Enabled}} | "
    "ForEach-Object {$_.VoiceInfo.Culture.Name + ' ' + $_.VoiceInfo.Name}"
)
_POWERSHELL = ("powershell", "-NoProfile", "-NonInteractive", "-Command")


@dataclass(frozen=True, slots=True)
class SpeechProgram:
    """How a speech program is started. `by_argument`: the text is its last argument, else its input.

    `cancel` is what silences a voice that lives outside the process; `voices` how its voices are found.
    """

    command: tuple[str, ...]
    by_argument: bool = False
    cancel: tuple[str, ...] = ()
    voices: VoiceList | None = None


def _by_code(name: str) -> VoiceList:
    """Voices that are known by their language: ` 5  de   --/M   German   gmw/de`."""
    return VoiceList((name, "--voices"), r"^\s*\d+\s+(?P<locale>\S+)\s", (name, "-v", "{locale}", "--stdin"))


# Programs that come with an operating system, in the order in which they are tried.
# How each tells its voices: recalled from its manual page - check before quoting.
_KNOWN = {
    "darwin": (
        SpeechProgram(
            ("say", "-f", "-"),
            voices=VoiceList(
                ("say", "-v", "?"),
                r"^(?P<voice>\S.*?)\s+(?P<locale>[a-z]{2,3}[_-]\w+)\s+#",
                ("say", "-v", "{voice}", "-f", "-"),
            ),
        ),
    ),
    "win32": (
        SpeechProgram(
            (*_POWERSHELL, _WINDOWS),
            voices=VoiceList(
                (*_POWERSHELL, _WINDOWS_VOICES),
                r"^(?P<locale>[a-z]{2,3}-\w+) (?P<voice>.*\S)\s*$",
                (*_POWERSHELL, _WINDOWS_VOICE),
            ),
        ),
    ),
}
_ELSEWHERE = (
    SpeechProgram(("espeak-ng", "--stdin"), voices=_by_code("espeak-ng")),
    SpeechProgram(("espeak", "--stdin"), voices=_by_code("espeak")),
    SpeechProgram(
        ("spd-say", "--wait", "--"),
        by_argument=True,
        cancel=("spd-say", "--cancel"),
        voices=VoiceList(
            ("spd-say", "-L"),
            r"^\s*(?P<voice>\S.*?)\s{2,}(?P<locale>[A-Za-z]{2,3}(?:[-_]\w+)*)\s{2,}\S+\s*$",
            ("spd-say", "-l", "{locale}", "--wait", "--"),
        ),
    ),
)


def find_speech(
    platform: str = sys.platform, which: Callable[[str], str | None] = shutil.which
) -> SpeechProgram | None:
    """The speech program of this computer, or None."""
    for program in _KNOWN.get(platform, _ELSEWHERE):
        path = which(program.command[0])
        if path is not None:
            return _at(program, path)
    return None


def _at(program: SpeechProgram, path: str) -> SpeechProgram:
    """The program where it was found."""
    voices = program.voices
    if voices is not None:
        voices = replace(voices, command=(path, *voices.command[1:]), asking=(path, *voices.asking[1:]))
    return replace(program, command=(path, *program.command[1:]), voices=voices)


class Speaker:
    """Says one sentence at a time; a new one takes the place of the old one."""

    def __init__(self, program: SpeechProgram) -> None:
        self._program = program
        self._process: subprocess.Popen[bytes] | None = None
        self._search: VoiceSearch | None = None
        self._voices: dict[str, Voice | None] = {}

    def knows(self, code: str) -> bool:
        """Whether it is known which voice there is for a language, or that there is none."""
        return code in self._voices

    def look_for(self, code: str) -> bool:
        """Find out by and by which voice there is for a language; whether it is known. Returns at once."""
        listed = self._program.voices
        if code in self._voices or listed is None:
            self._voices.setdefault(code, None)
            return True
        if self._search is None or self._search.code != code:
            self.look_no_longer()
            self._search = VoiceSearch(listed, code)
        self._search.look()
        if self._search.over:
            self._voices[code], self._search = self._search.voice, None
        return self.knows(code)

    def voice(self, code: str) -> Voice | None:
        """The voice of a language, where one is known."""
        return self._voices.get(code)

    def look_no_longer(self) -> None:
        """End a search for a voice; it begins anew when it is asked for."""
        search, self._search = self._search, None
        if search is not None:
            search.stop()

    def say(self, sentence: str, voice: Voice | None = None) -> bool:
        """Begin to say a sentence, with the program's own voice or another; whether that could be begun.

        Returns at once.
        """
        self.stop()
        by_argument = self._program.by_argument
        command = list(self._program.command if voice is None else voice.command)
        command += [sentence] if by_argument else []
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
