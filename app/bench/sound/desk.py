"""Sound for one bench after another: takes snapshots, decides, plays; says in words when it cannot.

`SoundDesk` is a steppable core (`advance`) inside one thin thread that exists while somebody holds the desk.
The conductor only hands over references and is never held up: devices are opened, sounds made and voices
started in the desk's own thread.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Sequence
from typing import Protocol

from app.bench.snapshot import Snapshot
from app.bench.sound.choosing import Choice, SoundChooser
from app.bench.sound.devices import NoSound, OpenOutput, PortAudio, SoundDevices, choose_output
from app.bench.sound.heard import Alarmed, GuidanceOver, Guiding, Heard, Silent
from app.bench.sound.mixer import Lasting, Mixer
from app.bench.sound.speech import Speaker
from app.bench.sound.spoken import English, SpokenWords, Tongue
from app.bench.sound.synthesis import long_enough, samples
from app.settings import SoundChoice
from drivers.clock import host_seconds
from procedures.analysis.channel import ChannelSetup
from procedures.events import Request, RequestClosed

LOOK_S = 0.4  # host seconds between two looks when nothing happens
LEASE_S = 2.0
RETRY_S = 10.0
MUTED = "Sound is muted."


class Posting(Protocol):
    """Where the outcome of a request goes."""

    def post(self, item: RequestClosed) -> None:
        """Let it in."""
        ...


def _keep_nothing(_choice: SoundChoice) -> None:
    """Remember nothing."""


class SoundDesk:
    """Plays what a bench has to say. `advance` belongs to one thread, everything else to any."""

    def __init__(
        self,
        choice: SoundChoice | None = None,
        *,
        devices: SoundDevices | None = None,
        speaker: Speaker | None = None,
        tongue: Tongue | None = None,
        keep: Callable[[SoundChoice], None] = _keep_nothing,
        seconds: Callable[[], float] = host_seconds,
    ) -> None:
        self._choice = choice or SoundChoice()
        self._devices = devices or PortAudio()
        self._speaker = speaker
        self._words = SpokenWords(speaker, tongue or English())
        self._keep = keep
        self._seconds = seconds
        self._lock = threading.Lock()
        self._holders = 0
        self._thread: threading.Thread | None = None
        self._wake = threading.Event()
        self._ending = threading.Event()
        self._snapshot: Snapshot | None = None
        self._chooser: SoundChooser | None = None
        self._tried: list[Heard] = []
        self._output: OpenOutput | None = None
        self._mixer: Mixer | None = None
        self._opened: tuple[str, str] | None = None
        self._again_s = 0.0
        self._lasting: tuple[Heard, float] | None = None
        self._trouble = ""
        self._names: tuple[str, ...] = ()
        self._named = False

    # --- what a person chooses ----------------------------------------------------------------------

    @property
    def choice(self) -> SoundChoice:
        """What is chosen now."""
        return self._choice

    def choose(self, choice: SoundChoice) -> None:
        """Choose something else, at once and for the next time."""
        self._choice = choice
        self._again_s = 0.0
        self._keep(choice)
        self._wake.set()

    @property
    def can_speak(self) -> bool:
        """Whether this computer has a speech program that was found."""
        return self._speaker is not None

    @property
    def notice(self) -> str:
        """One sentence for the screen; empty while sound works as usual."""
        return MUTED if self._choice.muted else self._trouble

    @property
    def speech_notice(self) -> str:
        """Why nothing is spoken although it was chosen; empty when it is, or was not chosen."""
        if not self._choice.speech:
            return ""
        if self._speaker is None:
            return "Nothing is spoken: no speech program was found on this computer."
        if self._choice.measuring:
            return "Nothing is spoken: a voice may go to the device that is assigned to measurement."
        return ""

    @property
    def voice_notice(self) -> str:
        """In which language and with which voice is spoken; empty when nothing is."""
        return self._words.notice if self._choice.speech and not self.speech_notice else ""

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the outputs that have been found; looked for by the desk's own thread."""
        return self._names

    def try_out(self, heard: Heard) -> None:
        """Let a person hear a sound once, if it is not muted."""
        with self._lock:
            self._tried.append(heard)
        self._wake.set()

    # --- what a bench says --------------------------------------------------------------------------

    def attend(self, setups: Sequence[ChannelSetup]) -> None:
        """Begin to listen to a bench, whose snapshots `show` brings. `release` ends it."""
        with self._lock:
            self._chooser = SoundChooser({setup.channel: setup for setup in setups})
            self._snapshot = None
        self.hold()

    def show(self, snapshot: Snapshot) -> None:
        """There is a new snapshot. Returns at once."""
        self._snapshot = snapshot
        self._wake.set()

    def answer(self, request: Request, inbox: Posting) -> None:
        """Say whether a request to guide by sound can be met; the request itself is in the snapshot."""
        reason = self.notice
        if not reason and self._output is None:
            reason = "the sound output is not open yet"
        inbox.post(RequestClosed(request.at_s, request.id, not reason, reason))

    def forget(self) -> None:
        """The bench is left."""
        with self._lock:
            self._chooser = self._snapshot = None
        self.release()

    # --- running ------------------------------------------------------------------------------------

    def hold(self) -> None:
        """Keep the desk going until as many `release` have followed."""
        with self._lock:
            self._holders += 1
            if self._thread is None:
                self._ending.clear()
                self._thread = threading.Thread(target=self._run, name="sound", daemon=True)
                self._thread.start()

    def release(self, patience_s: float = 3.0) -> None:
        """Let go; with the last one the output is closed and the thread ended."""
        with self._lock:
            self._holders = max(0, self._holders - 1)
            thread = self._thread if self._holders == 0 else None
            if thread is None:
                return
            self._thread = None
        self._ending.set()
        self._wake.set()
        thread.join(patience_s)

    def _run(self) -> None:
        while not self._ending.is_set():
            self._wake.clear()
            try:
                self.advance(self._seconds())
            except Exception as error:  # whatever it is: the bench goes on, and its alarms are on the screen
                self._break_down(error)
            self._wake.wait(LOOK_S)
        self.close()

    def _break_down(self, error: Exception) -> None:
        """Say that nothing is heard, let the output go, and try again after a while."""
        with contextlib.suppress(Exception):
            self.close()
        self._trouble = f"No sound, by an error of this program ({type(error).__name__}: {error})."
        self._again_s = self._seconds() + RETRY_S

    # --- the core -----------------------------------------------------------------------------------

    def advance(self, now_s: float) -> float:
        """Do what is to be done at host second `now_s`; when to look again."""
        choice = self._choice
        self._open_or_close(choice, now_s)
        with self._lock:
            chooser, snapshot = self._chooser, self._snapshot
            tried, self._tried = self._tried, []
        found = chooser.look(snapshot, now_s) if chooser is not None and snapshot is not None else Choice()
        if self._mixer is not None:
            self._play(self._mixer, found, tried, choice)
        self._speak(found, choice)
        return now_s + LOOK_S

    def close(self) -> None:
        """Close the output and silence the voice."""
        output, self._output, self._mixer, self._opened = self._output, None, None, None
        self._lasting = None
        if output is not None:
            output.close()
        if self._speaker is not None:
            self._speaker.stop()
            self._speaker.look_no_longer()

    def _play(self, mixer: Mixer, found: Choice, tried: Sequence[Heard], choice: SoundChoice) -> None:
        wanted = (found.lasting, _volume(found.lasting, choice))
        if wanted != self._lasting:
            if found.urgent:
                mixer.hush()
            mixer.last(self._made(*wanted, rate=mixer.rate))
            self._lasting = wanted
        mixer.renew()
        for heard in found.once:
            mixer.say(samples(heard, _volume(heard, choice), mixer.rate))
        for heard in () if found.urgent else tried:
            mixer.hush()
            mixer.say(long_enough(heard, choice.volume, mixer.rate))

    def _made(self, heard: Heard, volume: float, rate: float) -> Lasting:
        turn = samples(heard, volume, rate)
        if isinstance(heard, Guiding):
            return Lasting(turn, LEASE_S, samples(GuidanceOver(), volume, rate))
        return Lasting(turn)

    def _speak(self, found: Choice, choice: SoundChoice) -> None:
        speaker = self._speaker
        if speaker is None:
            return
        if choice.speech:
            self._words.look()
        alarmed = found.urgent or any(isinstance(heard, Alarmed) for heard in found.once)
        if alarmed or choice.muted or not choice.speech or choice.measuring:
            speaker.stop()
        elif found.sentence:
            self._words.say(found.sentence)

    def _open_or_close(self, choice: SoundChoice, now_s: float) -> None:
        wanted = (choice.output, choice.measuring)
        lost = self._output is not None and not self._output.alive
        if self._output is not None and (choice.muted or lost or wanted != self._opened):
            self._output.close()
            self._output = self._mixer = self._lasting = None
            if lost:
                self._trouble = "No sound: the sound output has gone; it is tried again."
                self._again_s = now_s + RETRY_S
        if self._output is not None or now_s < self._again_s or (choice.muted and self._named):
            return
        try:
            there = self._devices.outputs()
            self._names, self._named = tuple(dict.fromkeys(one.name for one in there)), True
            if choice.muted:
                return
            device = choose_output(there, choice.output, choice.measuring)
            mixer = Mixer(device.rate)
            self._output = self._devices.open(device, mixer.fill)
        except NoSound as refusal:
            self._trouble = str(refusal)
            self._again_s = now_s + RETRY_S
            return
        self._mixer, self._opened, self._trouble = mixer, wanted, ""


def _volume(heard: Heard, choice: SoundChoice) -> float:
    if isinstance(heard, Silent):
        return 0.0
    if isinstance(heard, Guiding) and heard.channel:
        return choice.loudness(heard.channel)
    return choice.volume
