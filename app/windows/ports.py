"""What the window needs of the rest of the program, as small protocols and the facts they exchange.

The window never builds a meter, a run or a folder: it is handed a `Workshop` and talks to the bench that
the workshop opens. Nothing in here draws, and nothing in here may block for longer than a key press is
allowed to take; whatever takes time happens in the bench's own threads and shows up in the next picture.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol, runtime_checkable

from app.bench.audio.signals import Signals
from app.bench.snapshot import Trace
from app.bench.told_words import ToldMeter
from app.windows.choice_ports import Chosen
from app.windows.hearing_ports import AudioControls, SoundControls
from app.windows.jobs.ports import JobsKept
from app.windows.paper_ports import Papers, WarmUps
from app.windows.start_lists import Card, SessionLine, StartLists
from drivers.checking import CheckLine
from drivers.reading import MeterStatus
from procedures.amplifier import Amplifier
from procedures.analysis.channel import ChannelSetup
from procedures.events import Supply, Tier
from procedures.leads import Leads
from procedures.view import RunView


@dataclass(frozen=True, slots=True)
class TraceMark:
    """Something to mark on the traces. `kind` is one of step, note, supply, lead, lid, alarm."""

    at_s: float
    kind: str
    text: str
    channel: str | None = None
    tier: Tier | None = None  # of an alarm


@dataclass(frozen=True, slots=True)
class BenchPicture:
    """Everything there is to show at one moment. The same `serial` means that nothing changed."""

    serial: int
    view: RunView
    setups: tuple[ChannelSetup, ...] = ()
    traces: tuple[Trace, ...] = ()
    marks: tuple[TraceMark, ...] = ()
    meters: tuple[MeterStatus, ...] = ()
    leads: Leads = field(default_factory=Leads)
    unit_name: str = ""
    practice: bool = False
    review: bool = False
    speed: float = 1.0
    folder: Path | None = None
    trouble: str = ""  # one sentence: what the record or the bench cannot do just now
    ask_every_s: float = 60.0  # how often a typed display is asked for; 0: never
    sound: str = ""  # one sentence: why nothing is heard; empty while sound works as usual
    signals: Signals | None = None  # what was played into the amplifier, where anything was
    hands: str = ""  # one sentence: where hands and words differ in practice
    tour: bool = False  # nothing of it is kept, so that it may be left without a question

    @property
    def supply_told(self) -> bool:
        """Whether anybody has said what the amplifier is fed from; the program cannot see it."""
        return any(mark.kind == "supply" for mark in self.marks)

    def setup_of(self, channel: str) -> ChannelSetup:
        """What is declared about a channel; an undeclared channel is only watched."""
        return next((s for s in self.setups if s.channel == channel), ChannelSetup(channel=channel))


@dataclass(frozen=True, slots=True)
class Trimmer:
    """A trimmer of the simulated unit: where its knob stands, 0 at one stop and 1 at the other.

    `play` is the part of the travel that a turn back takes up before anything follows.
    """

    channel: str
    position: float
    play: float = 0.0


@dataclass(frozen=True, slots=True)
class Hands:
    """What the technician's hands can do on the simulated bench, and how things stand there."""

    supply: Supply
    lid_fitted: bool
    trimmers: tuple[Trimmer, ...]
    speed: float
    probes: tuple[str, ...] = ()  # the test points that are touched, a meter each; empty words: none


class PracticeControls(Protocol):
    """The simulated unit beside the bench: what hands do there is not known to the run by itself."""

    def hands(self) -> Hands:
        """How everything stands now."""
        ...

    def switch(self, supply: Supply) -> None:
        """Work the mains switch, with or without the series lamp."""
        ...

    def turn(self, channel: str, by: float) -> None:
        """Turn a trimmer by a fraction of its travel, either way."""
        ...

    def fit_lid(self, fitted: bool) -> None:
        """Put the cover on or take it off."""
        ...

    def slip(self, channel: str) -> None:
        """Let the probe of this channel lose contact for a moment."""
        ...

    def short(self, channel: str) -> None:
        """Let the probe slip so that it shorts an output device for a moment: with power on it does harm."""
        ...

    def drive(self, driven: bool) -> None:
        """Play a signal into a load on both outputs, or take it away."""
        ...

    def set_speed(self, speed: float) -> None:
        """Bench seconds a second."""
        ...


class BenchPort(Protocol):
    """A bench with a run on it. Every method returns at once; the effect is in a later picture."""

    @property
    def practice(self) -> PracticeControls | None:
        """The simulated unit, or None on real meters."""
        ...

    def picture(self) -> BenchPicture:
        """The newest picture; cheap, may be asked at any time."""
        ...

    def press_next(self) -> None:
        """Do what `RunView.next_label` names."""
        ...

    def answer(self, question: str, choice: str, text: str = "") -> None:
        """Answer a question by one of its choices, or by words."""
        ...

    def read_off(self, channel: str, text: str) -> None:
        """A person typed what the display shows, OL included. Raises ReplyRefused; then nothing happened."""
        ...

    def unchanged(self, channel: str) -> None:
        """A person says that the typed value still stands."""
        ...

    def move_lead(self, meter: str, meter_input: str, channel: str | None) -> None:
        """The probes of this input touch another channel now (None: nothing)."""
        ...

    def supply(self, supply: Supply) -> None:
        """A person says what the amplifier is fed from."""
        ...

    def lid(self, fitted: bool) -> None:
        """A person says that the cover is on or off."""
        ...

    def driven(self, driven: bool) -> None:
        """A person says that a signal is applied, or no longer is."""
        ...

    def note(self, text: str, channel: str | None = None) -> None:
        """Keep words, or a bare mark when `text` is empty."""
        ...

    def undo_note(self) -> str:
        """Take back the newest note or mark that has not been taken back; what was taken, or ''."""
        ...

    def acknowledge(self, alarm: str) -> None:
        """A person has seen this alarm."""
        ...

    def pause(self, paused: bool) -> None:
        """Hold the steps, or go on. Readings, record and alarms go on either way."""
        ...

    def away(self, away: bool) -> None:
        """The person leaves the bench, or is back."""
        ...

    def stop(self, reason: str) -> None:
        """End the run."""
        ...

    def name(self, unit: str, job: str) -> None:
        """Say afterwards which unit and job the readings belong to."""
        ...

    def export_csv(self, path: Path) -> str:
        """Write the readings; a sentence that says what was written. Raises OSError."""
        ...

    def leave_open(self) -> None:
        """Let go as a power cut would: the run is not stopped, and the next start asks about it."""
        ...

    def leave(self) -> None:
        """The window lets go: the run is stopped if it still goes, the record closed, threads ended."""
        ...


@runtime_checkable
class Replayed(Protocol):
    """A bench that shows a past session and can be wound: what the replay strip works."""

    @property
    def length_s(self) -> float:
        """Session seconds of the whole session."""
        ...

    @property
    def position_s(self) -> float:
        """The session second that is shown."""
        ...

    @property
    def playing(self) -> bool:
        """Whether it goes on by itself."""
        ...

    @property
    def speed(self) -> float:
        """Session seconds a second."""
        ...

    def play(self, playing: bool) -> None:
        """Go on, or hold. At the end it begins anew."""
        ...

    def seek(self, session_s: float) -> None:
        """Show another moment."""
        ...

    def set_speed(self, speed: float) -> None:
        """Session seconds a second."""
        ...


@dataclass(frozen=True, slots=True)
class FoundMeters:
    """What a search found, and a sentence for each bus that could not be searched."""

    meters: tuple[Card, ...]
    troubles: tuple[str, ...] = ()


class SessionShelf(Protocol):
    """The sessions that were recorded on this computer."""

    def sessions(self) -> tuple[SessionLine, ...]:
        """Newest first, read from the headers alone."""
        ...

    def open(self, key: str) -> BenchPort:
        """The session as a bench that replays it. Raises OSError, ValueError with one sentence."""
        ...

    def export_csv(self, key: str, path: Path) -> str:
        """Write a session's readings; a sentence that says what was written. Raises OSError, ValueError."""
        ...

    def report(self, key: str, path: Path) -> str:
        """Write the service report, as PDF or, where the file is named so, HTML; what was written, in words.

        Raises ValueError, OSError.
        """
        ...

    def name(self, key: str, unit: str, job: str) -> None:
        """File a session under a unit and a job, afterwards. Raises OSError."""
        ...


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A session that ended without being closed. `resumable` is False after a switch-off alarm.

    `practice` is True where the amplifier was a simulated one, which ended with the program.
    """

    key: str
    title: str
    last_seen: str
    supply: Supply
    resumable: bool
    reason: str = ""
    practice: bool = False


class Workshop(StartLists, Chosen, JobsKept, Protocol):
    """What can be begun from the start screen. Refusals are ValueError or OSError with one sentence."""

    @property
    def shelf(self) -> SessionShelf:
        """The past sessions."""
        ...

    @property
    def sound(self) -> SoundControls | None:
        """What makes the benches heard; None where nothing is to be heard."""
        ...

    @property
    def audio(self) -> AudioControls | None:
        """The devices for measuring; None where there can be none."""
        ...

    @property
    def papers(self) -> Papers:
        """What is written about amplifiers and jobs."""
        ...

    def keep_look(self, look: str) -> None:
        """Remember which shades were chosen."""
        ...

    def search_meters(self) -> FoundMeters:
        """Which meters are there now. Takes seconds: for a thread of its own."""
        ...

    def check_meter(self, address: str) -> tuple[CheckLine, ...]:
        """Look at a meter, changing none of its settings. Takes half a minute at the most: for a thread."""
        ...

    def told_meter(self, address: str) -> ToldMeter:
        """What was told about the meter at an address."""
        ...

    def tell_meter(self, told: ToldMeter) -> None:
        """Keep what a person tells about a meter."""
        ...

    def input_question(self, address: str) -> str:
        """What to ask about the input of the meter at an address; empty when that is known."""
        ...

    def declare_input(self, address: str, isolated: bool) -> None:
        """A person says whether that input is isolated from earth."""
        ...

    def job_meters(self, amplifier: str) -> tuple[str, ...]:
        """The addresses of the meters that a guided job on the amplifier would use."""
        ...

    def tour_wanted(self) -> bool:
        """Whether the tour was never shown on this computer."""
        ...

    def tour(self) -> BenchPort:
        """The tour on the simulated bench, of which nothing is kept but that it was shown."""
        ...

    def unfinished(self) -> tuple[Unfinished, ...]:
        """Sessions that a crash or a power cut left open."""
        ...

    def watch(self, meter: str) -> BenchPort:
        """Watch a remembered meter."""
        ...

    def watch_address(self, address: str) -> BenchPort:
        """Watch the meter at an address that a person typed."""
        ...

    def watch_typed(self, volts: float) -> BenchPort:
        """Watch a channel whose values are typed, beginning with this one."""
        ...

    def guided(
        self, amplifier: str, procedure: str, serial: str = "", remembered: WarmUps = (), job: str = ""
    ) -> BenchPort:
        """Carry out a procedure on an amplifier with the meters that were used last, for a job or none."""
        ...

    def amplifier(self, key: str) -> Amplifier | None:
        """What is known about an amplifier."""
        ...

    def describe(self, amplifier: Amplifier) -> str:
        """Keep an amplifier that a person described; its key among the cards."""
        ...

    def simulated(self, unit: str, procedure: str, speed: float, remembered: WarmUps = ()) -> BenchPort:
        """Carry out a procedure on the simulated bench."""
        ...

    def resume(self, key: str, off_minutes: float | None) -> BenchPort:
        """Go on with an unfinished session in a new segment; `off_minutes` None: it was never off."""
        ...

    def close_unfinished(self, key: str, off_minutes: float | None) -> None:
        """Close an unfinished session as it stands."""
        ...
