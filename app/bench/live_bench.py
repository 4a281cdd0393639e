"""A bench with a run on it: meters, conductor, record, and everything that a person does there.

The window, the terminal and the tests all work a bench through this one face (`app.windows.ports.BenchPort`).
A live bench has threads; a stepped one is turned by its owner, in one thread and without waiting.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from app.bench.audio.desk import AudioDesk
from app.bench.audio.signals import Signals
from app.bench.conductor import Conductor
from app.bench.marks import Marks
from app.bench.meter_requests import MeterRequests
from app.bench.practised_sights import Sights
from app.bench.read_off import value_read_off
from app.bench.sleep import SleepWatch
from app.bench.snapshot import Snapshot, SnapshotStore
from app.bench.sound.desk import SoundDesk
from app.bench.stepping import Steppable, SteppedTurns
from app.bench.told_and_done import ToldAndDone
from app.bench.turning import ConductorThread, DiskForcer
from app.records.exporting import export_session
from app.records.session_folder import SessionRecord
from app.windows.ports import BenchPicture, PracticeControls
from drivers.clock import Clock, SteppedClock
from drivers.errors import ReplyRefused
from drivers.meter import Meter, MeterFacts, MeterSetup
from drivers.reading import GapReason, ReadingFlag
from drivers.worker import Worker, WorkerCore
from procedures.analysis.channel import ChannelSetup
from procedures.events import (
    Acknowledged,
    Answer,
    AwayChanged,
    ChannelGap,
    ChannelReading,
    DriveChanged,
    Input,
    LeadMoved,
    LidChanged,
    Note,
    PauseChanged,
    StopRequested,
    Supply,
    SupplyChanged,
    TrimDeclared,
)
from procedures.job import Naming, UnitName
from procedures.leads import Leads
from procedures.records.journal import TakenBack
from procedures.runner import Run
from procedures.setup import RunSetup
from procedures.view import RunView


@dataclass(frozen=True, slots=True)
class PolledMeter:
    """A meter with what it is set to and how often it is read; `identity` is who has to answer, if set."""

    meter: Meter
    setup: MeterSetup
    period_s: float = 0.5
    identity: str = ""


@dataclass(slots=True)
class BenchParts:
    """Everything that a bench is put together from."""

    clock: Clock
    setup: RunSetup
    record: SessionRecord
    meters: Sequence[PolledMeter] = ()
    practice: PracticeControls | None = None
    move_probes: Callable[[str, str | None], None] | None = None
    steppers: Sequence[Steppable] = ()
    closers: Sequence[Callable[[], object]] = ()
    sleep: SleepWatch | None = None
    unit_name: str = ""
    run: Run | None = None
    store: SnapshotStore | None = None
    leads: Leads | None = None
    begin_s: float = 0.0
    ask_every_s: float = 60.0  # how often a typed display is asked for; 0: never
    notice: str = ""  # one sentence that stays in sight, such as a file that could not be used


class LiveBench:
    """See the module. Build one, then `start` it, or step it with `turns`."""

    def __init__(self, parts: BenchParts) -> None:
        self.run = parts.run or Run(parts.setup)
        self.clock = parts.clock
        self.setup = parts.setup
        self.record = parts.record
        leads = parts.leads if parts.leads is not None else Leads(parts.setup.leads)
        self.store = parts.store or SnapshotStore(self.run.view(), leads)
        self._practice = parts.practice
        self._hands = ToldAndDone(parts.practice)
        self._sights = Sights(parts.practice, parts.setup.procedure)
        self._move_probes = parts.move_probes
        self._steppers = tuple(parts.steppers)
        self._closers = list(parts.closers)
        self._when_closed: list[Callable[[], object]] = []
        self._unit_name = parts.unit_name
        self.conductor = Conductor(
            clock=parts.clock,
            run=self.run,
            record=parts.record,
            store=self.store,
            leads=leads,
            sleep=parts.sleep,
            begin_s=parts.begin_s,
        )
        self._cores = [
            WorkerCore(
                m.meter,
                parts.clock,
                self.conductor.post,
                setup=m.setup,
                period_s=m.period_s,
                identity=m.identity,
            )
            for m in parts.meters
        ]
        self._workers = [Worker(core, parts.clock) for core in self._cores]
        for worker in self._workers:
            taker = MeterRequests(worker.ask, self.conductor)
            self.conductor.workers[worker.core.meter.name] = taker
        self._forcer = DiskForcer(parts.record.force)
        self._thread = ConductorThread(self.conductor, parts.clock)
        self._marks = Marks(parts.setup.procedure)
        self._typed: dict[str, float | None] = {}  # None: overload, which cannot be unchanged
        self._notice = parts.notice
        self._ask_every_s = parts.ask_every_s
        self._refused_lead = ""
        self._sound: SoundDesk | None = None
        self._audio: AudioDesk | None = None
        self._picture: BenchPicture | None = None
        self._picturing = threading.Lock()
        self._live = False
        self._left = False

    # --- running ------------------------------------------------------------------------------------

    def start(self) -> None:
        """Begin at life (or scaled) speed, in threads of its own."""
        self._live = True
        self.record.force_soon = self._forcer.soon
        self._forcer.start()
        self._thread.start()
        for worker in self._workers:
            worker.start()

    def on_leave(self, then: Callable[[], object]) -> None:
        """Have something done when the bench is left, such as remembering its meters."""
        self._closers.append(then)

    def on_closed(self, then: Callable[[], object]) -> None:
        """Have something done when the record is closed, such as filing it; it must return at once."""
        self._when_closed.append(then)

    def be_heard(self, sound: SoundDesk) -> None:
        """Guide and call by sound from now on, until the bench is left."""
        self._sound = self.conductor.sound = sound
        sound.attend(self.setup.channels)
        self._closers.append(sound.forget)

    def hear(self, audio: AudioDesk) -> None:
        """Play and record with this desk from now on, until the bench is left."""
        self._audio = self.conductor.audio = audio
        self._closers.insert(0, audio.close)

    @property
    def sound_notice(self) -> str:
        """Why nothing is heard, in one sentence; empty while sound works, or was not asked for."""
        return self._sound.notice if self._sound is not None else ""

    def meter_facts(self) -> dict[str, tuple[str, MeterFacts]]:
        """Address and confirmed settings of every meter that was reached, by its name."""
        return {
            core.meter.name: (core.meter.address, core.facts)
            for core in self._cores
            if core.facts is not None
        }

    def meter_addresses(self) -> dict[str, str]:
        """Where every meter of this bench is, by its name."""
        return {core.meter.name: core.meter.address for core in self._cores}

    def turns(self, *after: Steppable) -> SteppedTurns:
        """Everything of this bench in stepped time, and whatever comes after it in each moment."""
        if not isinstance(self.clock, SteppedClock):
            raise TypeError("only a bench on a stepped clock can be stepped")
        return SteppedTurns(self.clock, [*self._steppers, *self._cores, self.conductor, *after])

    def leave(self) -> None:
        """Stop what still goes, close the record, end all threads. The second call does nothing."""
        self._let_go(ended=True)

    def leave_open(self) -> None:
        """See `BenchPort.leave_open`."""
        self._let_go(ended=self.conductor.ended is not None)

    def _let_go(self, *, ended: bool) -> None:
        if self._left:
            return
        self._left = True
        if ended and self.conductor.ended is None:
            self._say(StopRequested(self.session_s(), "The program was closed."))
        for worker in self._workers:
            worker.request_stop()
        if self._live:
            for worker in self._workers:
                worker.stop()
            self._thread.stop()
            self._forcer.stop()
        else:
            for core in self._cores:
                core.stop()
            self.conductor.finish(self.clock.now())
        with contextlib.ExitStack() as closing:  # each is called, whatever the others do
            closing.callback(self.record.leave, closed=ended)
            for close in reversed(self._closers):
                closing.callback(close)
        for then in self._when_closed:
            then()

    # --- what there is to show ----------------------------------------------------------------------

    @property
    def practice(self) -> PracticeControls | None:
        """The simulated unit, or None on real meters."""
        return self._practice

    def snapshot(self) -> Snapshot:
        """The newest snapshot."""
        return self.store.newest()

    @property
    def view(self) -> RunView:
        """What the run looks like now."""
        return self.store.newest().view

    def picture(self) -> BenchPicture:
        """The newest picture; the same `serial` means that nothing changed."""
        snapshot = self.store.newest()
        said = (self._refused_lead, snapshot.trouble, self._forcer.trouble, self._notice)
        trouble = " ".join(filter(None, said))
        with self._picturing:
            shown = self._picture
            speed = self._practice.hands().speed if self._practice is not None else 1.0
            sound = self.sound_notice
            hands = self._hands.difference(snapshot.view) or self._sights.sentence(snapshot.view)
            new = (snapshot.serial, trouble, speed, sound, hands)
            if shown is not None and new == (
                shown.serial,
                shown.trouble,
                shown.speed,
                shown.sound,
                shown.hands,
            ):
                return shown
            self._picture = BenchPicture(
                serial=snapshot.serial,
                view=snapshot.view,
                setups=self.setup.channels,
                traces=snapshot.traces,
                marks=self._marks.of(snapshot),
                meters=snapshot.meters,
                leads=snapshot.leads,
                unit_name=self._unit_name,
                practice=self.setup.practice,
                speed=speed,
                folder=self.record.folder,
                trouble=trouble,
                ask_every_s=self._ask_every_s,
                sound=sound,
                signals=self._signals(),
                hands=hands,
            )
            return self._picture

    def _signals(self) -> Signals | None:
        """What was played, for the screen; None while nothing was."""
        return self._audio.heard(self.setup) if self._audio is not None else None

    # --- what a person does -------------------------------------------------------------------------

    def session_s(self) -> float:
        """Session seconds now."""
        return self.conductor.session_s()

    def _say(self, fact: Input) -> None:
        self.conductor.post(fact)

    def press_next(self) -> None:
        """Do what `RunView.next_label` names."""
        fact = self.view.key(self.session_s())
        if isinstance(fact, LeadMoved):
            self.move_lead(fact.meter, fact.input, fact.channel)
        elif isinstance(fact, SupplyChanged):
            self.supply(fact.supply)
        elif isinstance(fact, LidChanged):
            self.lid(fact.fitted)
        elif isinstance(fact, DriveChanged):
            self.driven(fact.driven)
        elif fact is not None:
            self._say(fact)

    def answer(self, question: str, choice: str, text: str = "") -> None:
        """Answer a question by one of its choices, or by words."""
        self._say(Answer(self.session_s(), question, choice, text))

    def typed(self, channel: str, value: float) -> None:
        """A person read this value off a display; it is in the channel's unit."""
        self._typed[channel] = value
        self._read_off(channel, value, ReadingFlag.TYPED)

    def read_off(self, channel: str, text: str) -> None:
        """A person typed what the display shows, OL included. Raises ReplyRefused."""
        value = value_read_off(self._setup_of(channel), text)
        if value is not None:
            self.typed(channel, value)
            return
        self._typed[channel] = None
        at_s, detail = self.session_s(), "the display shows overload"
        self._say(ChannelGap(at_s, at_s, channel, GapReason.OVERLOAD, detail))

    def still(self, channel: str) -> None:
        """A person says that the display shows the same as before. Raises ReplyRefused."""
        if self._last_typed(channel) is None:
            raise ReplyRefused(
                f"nothing was typed yet for {channel} that could be unchanged; type the reading once", b""
            )
        self.unchanged(channel)

    def unchanged(self, channel: str) -> None:
        """A person says that the typed value still stands; without one nothing happens."""
        value = self._last_typed(channel)
        if value is not None:
            self._read_off(channel, value, ReadingFlag.TYPED, ReadingFlag.UNCHANGED)

    def _last_typed(self, channel: str) -> float | None:
        """The value that stands on the display; after a break, what was typed last before it."""
        declared = any(one.channel == channel and one.typed for one in self.setup.channels)
        if channel not in self._typed and declared:
            trace = next((one for one in self.snapshot().traces if one.channel == channel), None)
            if trace is not None and trace.values.size:
                self._typed[channel] = float(trace.values[-1])
        return self._typed.get(channel)

    def _read_off(self, channel: str, value: float, *flags: ReadingFlag) -> None:
        unit = self._setup_of(channel).unit
        self._say(ChannelReading(self.session_s(), channel, value, unit, flags=frozenset(flags)))

    def _setup_of(self, channel: str) -> ChannelSetup:
        return next((x for x in self.setup.channels if x.channel == channel), ChannelSetup(channel))

    def move_lead(self, meter: str, meter_input: str, channel: str | None) -> None:
        """The probes of this input touch another channel now (None: nothing).

        An earthed input is refused on live test points: nothing is read there, and the reason is shown.
        """
        wanted = next((one for one in self.setup.channels if one.channel == channel), None)
        refusal = self.setup.earthing.refusal(meter, wanted) if wanted is not None else ""
        self._refused_lead = refusal and f"Take the lead of {meter} off {channel}: {refusal}"
        if refusal:
            self._say(Note(self.session_s(), self._refused_lead, channel))
            channel = None
        if self._move_probes is not None:
            self._move_probes(meter, channel)
        self._say(LeadMoved(self.session_s(), meter, meter_input, channel))

    def supply(self, supply: Supply) -> None:
        """A person says what the amplifier is fed from."""
        kept = self._hands.supply(supply)
        if kept is supply or kept is not self.view.supply:
            self._say(SupplyChanged(self.session_s(), kept))

    def lid(self, fitted: bool) -> None:
        """A person says that the cover is on or off."""
        kept = self._hands.lid(fitted)
        if kept is fitted or kept is not self.view.lid_fitted:
            self._say(LidChanged(self.session_s(), kept))

    def driven(self, driven: bool) -> None:
        """A person says that a signal is applied, or no longer is; in practice it then is so."""
        if self._practice is not None:
            self._practice.drive(driven)
        self._say(DriveChanged(self.session_s(), driven))

    def trim(self, channel: str) -> None:
        """A person says that this channel's trimmer is being turned."""
        self._say(TrimDeclared(self.session_s(), channel))

    def note(self, text: str, channel: str | None = None) -> None:
        """Keep words, or a bare mark when `text` is empty."""
        self._say(Note(self.session_s(), text, channel))

    def undo_note(self) -> str:
        """Take back the newest note or mark that has not been taken back; what was taken, or ''."""
        with self._picturing:
            self._marks.of(self.store.newest())
            note = self._marks.newest_note()
            if note is None:
                return ""
            self._marks.withdraw(note.at_s)
            self._picture = None
        self.conductor.post(TakenBack(self.session_s(), note.at_s))
        return note.text or "mark"

    def acknowledge(self, alarm: str) -> None:
        """A person has seen this alarm."""
        self._say(Acknowledged(self.session_s(), alarm))

    def pause(self, paused: bool) -> None:
        """Hold the steps, or go on. Readings, record and alarms go on either way."""
        self._say(PauseChanged(self.session_s(), paused))

    def away(self, away: bool) -> None:
        """The person leaves the bench, or is back."""
        self._say(AwayChanged(self.session_s(), away))

    def stop(self, reason: str) -> None:
        """End the run."""
        self._say(StopRequested(self.session_s(), reason))

    def name(self, unit: str | UnitName, job: str) -> None:
        """Say which unit and job the readings belong to, at any time. Raises OSError."""
        named = UnitName(model=unit) if isinstance(unit, str) else unit
        self.record.name(Naming(named, job=job, given_utc=self.clock.utc().isoformat()))
        with self._picturing:
            self._unit_name = str(unit) or self._unit_name
            self._picture = None

    def export_csv(self, path: Path) -> str:
        """Write the readings; a sentence that says what was written. Raises OSError, ValueError."""
        return export_session(self.record.folder, path)
