"""The conductor: the one place where everything that happens at the bench comes together.

Meters, people and time post into one sequence-numbered inbox. In each turn the conductor maps bench time to
session seconds and meter inputs to channels, feeds the run, hands one batch to the record, and then lets
readers see it. `advance` is a steppable core: a thin thread (`app.bench.turning`) calls it at life speed,
tests and stepped benches call it themselves. Whatever goes wrong in the run, readings go on being recorded.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Mapping, Sequence
from typing import Protocol

from app.bench.leads_in_time import LeadsInTime
from app.bench.sleep import NeverSleeps, SleepWatch
from app.bench.snapshot import Snapshot, SnapshotStore
from app.records.session_folder import Entry
from drivers.clock import Clock
from drivers.reading import Gap, GapReason, MeterStatus, Reading, RequestOutcome
from procedures.events import (
    Action,
    ChannelGap,
    ChannelReading,
    Event,
    Input,
    LeadMoved,
    MeterChanged,
    Request,
    RequestClosed,
    RunEnded,
    SegmentOpened,
    StepChanged,
    Tick,
)
from procedures.leads import Leads
from procedures.records.journal import Anchor, Fault, TakenBack
from procedures.records.practised import Diagnosis, HandMoved, PractiseLine, UnitTruth
from procedures.view import RunView

TURN_S = 0.25
HELD_PER_S = 500.0  # so many entries that cannot be written are tried again once a second, twice as many …
ANCHOR_S = 60.0


class RunPort(Protocol):
    """A procedure being carried out: facts in, events out; no clock of its own."""

    def feed(self, fact: Input) -> Sequence[Event]:
        """Take one input; what the run says to it."""
        ...

    def next_deadline(self) -> float | None:
        """The session second at which a Tick is wanted, if any."""
        ...

    def view(self) -> RunView:
        """Everything there is to show."""
        ...


class RecordPort(Protocol):
    """Where the session is kept."""

    def append(self, entries: Sequence[Entry]) -> None:
        """Keep a batch; raises OSError, and then nothing of it was kept."""
        ...

    def force_soon(self) -> None:
        """Have everything forced to disk now rather than within the second."""
        ...


class RequestTaker(Protocol):
    """A meter's worker, as far as requests of the run go. The outcome comes back through the inbox."""

    def request(self, request: Request) -> None:
        """Carry the request out or refuse it, soon."""
        ...


class AudioPort(Protocol):
    """What plays into the amplifier and records it. The answer comes back through the inbox."""

    def carry_out(self, request: Request) -> None:
        """Play, or fall silent, soon."""
        ...


class Inbox(Protocol):
    """Where outcomes go."""

    def post(self, item: RequestClosed) -> None:
        """Let it in."""
        ...


class SoundPort(Protocol):
    """What makes the bench heard. Both return at once."""

    def show(self, snapshot: Snapshot) -> None:
        """There is a new snapshot."""
        ...

    def answer(self, request: Request, inbox: Inbox) -> None:
        """Say whether the request to guide by sound is met."""
        ...


Posted = Reading | Gap | MeterStatus | RequestOutcome | Input | TakenBack | PractiseLine


class Conductor:
    """Owns run, leads, session time and the inbox. `advance` belongs to one thread; `post` to any."""

    def __init__(
        self,
        *,
        clock: Clock,
        run: RunPort,
        record: RecordPort,
        store: SnapshotStore,
        leads: Leads,
        workers: Mapping[str, RequestTaker] | None = None,
        sleep: SleepWatch | None = None,
        begin_s: float = 0.0,
    ) -> None:
        self._clock = clock
        self._run = run
        self._record = record
        self._store = store
        self._leads = LeadsInTime(leads)
        self.workers: dict[str, RequestTaker] = dict(workers or {})
        self.sound: SoundPort | None = None
        self.audio: AudioPort | None = None
        self._sleep = sleep or NeverSleeps()
        self._begin_s = begin_s
        self._shift_s = begin_s - clock.now()
        self._next_anchor_s = begin_s
        self._inbox: queue.SimpleQueue[Posted] = queue.SimpleQueue()
        self._batch: list[Entry] = []
        self._forced = False  # whether what is written next is to be forced to the disk
        self._try_s = 0.0  # bench second before which a record that refused is not tried again
        self._trouble = ""
        self._record_trouble = ""
        self._changed = True
        self._started = False
        self.ended: RunEnded | None = None
        self.wake = threading.Event()

    def session_s(self, bench_s: float | None = None) -> float:
        """Session seconds of a moment of bench time (default: now)."""
        return (self._clock.now() if bench_s is None else bench_s) + self._shift_s

    def post(self, item: Posted) -> None:
        """Let something that happened in; it is dealt with in the order of posting."""
        self._inbox.put(item)
        self.wake.set()

    @property
    def leads(self) -> Leads:
        """The present leads."""
        return self._leads.now

    @property
    def idle(self) -> bool:
        """Whether everything that was posted has been dealt with and kept."""
        return self._inbox.empty() and not self._batch

    def advance(self, now_s: float) -> float:
        """Take one turn at bench time `now_s`; when the next one is due."""
        self._notice_sleep()
        here_s = self.session_s(now_s)
        self._anchor(here_s)
        if not self._started:
            self._started = True
            if self._inbox.empty():
                self._take_or_say(Tick(here_s))  # a run begins with the first fact that it is fed
        while True:
            try:
                item = self._inbox.get_nowait()
            except queue.Empty:
                break
            self._take_or_say(item)
        deadline_s = self._deadline_s()
        if deadline_s is not None and deadline_s <= here_s:
            self._take_or_say(Tick(here_s))
            deadline_s = self._deadline_s()
        self._keep(now_s)
        self._publish()
        due_s = now_s + TURN_S
        return due_s if deadline_s is None else min(due_s, max(now_s, deadline_s - self._shift_s))

    def finish(self, now_s: float) -> None:
        """Take the last turn: what is held is tried once more, however lately that was refused."""
        self._try_s = 0.0
        self.advance(now_s)

    # --- what comes in --------------------------------------------------------------------------------

    def _take_or_say(self, item: Posted) -> None:
        try:
            self._take(item)
        except Exception as error:  # whatever it is: what comes after it must still be kept
            self._break_down(error)

    def _take(self, item: Posted) -> None:
        match item:
            case Reading():
                self._reading(item)
            case Gap():
                self._gap(item)
            case MeterStatus():
                self._store.meter(item)
                at_s = self.session_s(item.at_s)
                self._feed(MeterChanged(at_s, item.meter, item.state, item.detail, item.identity))
            case RequestOutcome():
                at_s = self.session_s(item.at_s)
                self._feed(RequestClosed(at_s, item.request_id, item.done, item.detail))
            case LeadMoved():
                self._move_lead(item)
            case TakenBack() | HandMoved() | UnitTruth() | Diagnosis():
                self._batch.append(item)
            case _:
                self._feed(item)

    def _reading(self, reading: Reading) -> None:
        start_s, end_s = self.session_s(reading.start_s), self.session_s(reading.end_s)
        where = self._leads.between(reading.meter, reading.input, start_s, end_s)
        if where.channel is None:
            return
        if where.straddles:
            detail = "the lead was being moved"
            self._feed(ChannelGap(start_s, end_s, where.channel, GapReason.MOVED, detail))
            return
        middle_s = max(0.0, (start_s + end_s) / 2.0)
        half_s = (end_s - start_s) / 2.0
        value, unit = reading.value, reading.unit
        self._feed(ChannelReading(middle_s, where.channel, value, unit, half_s, reading.flags))

    def _gap(self, gap: Gap) -> None:
        start_s, end_s = self.session_s(gap.start_s), self.session_s(gap.end_s)
        where = self._leads.between(gap.meter, gap.input, start_s, end_s)
        if where.channel is not None:
            self._feed(ChannelGap(max(0.0, start_s), end_s, where.channel, gap.reason, gap.detail))

    def _move_lead(self, moved: LeadMoved) -> None:
        self._store.moved(self._leads.move(moved))
        self._feed(moved)

    # --- what the run says ----------------------------------------------------------------------------

    def _feed(self, given: Input) -> None:
        self._batch.append(given)
        self._show(given)
        if self._trouble:
            return
        try:
            events = self._run.feed(given)
        except Exception as error:  # whatever it is: readings must go on being kept
            self._break_down(error)
            return
        for event in events:
            self._batch.append(event)
            self._store.said(event)
            match event:
                case Request():
                    self._carry_out(event)
                case StepChanged():
                    self._forced = True
                case RunEnded():
                    self.ended = event
                    self._forced = True
                case _:
                    pass

    def _show(self, given: Input) -> None:
        self._changed = True
        match given:
            case ChannelReading():
                self._store.reading(given.channel, given.unit, given.at_s, given.value)
            case ChannelGap():
                self._store.miss(given.channel, given.until_s)
            case Tick():
                pass
            case _:
                self._store.fed(given)

    def _break_down(self, error: Exception) -> None:
        self._trouble = (
            f"The guidance has stopped by an error of this program ({type(error).__name__}: {error}). "
            "Readings go on being recorded, but nothing judges them any more: look at the unit yourself, "
            "and switch its mains off before you leave it."
        )
        self._batch.append(Fault(self.session_s(), self._trouble))
        self._changed = True
        self._forced = True

    def _carry_out(self, request: Request) -> None:
        if request.action is Action.GUIDE:
            self._guide(request)
            return
        if request.action in (Action.PLAY, Action.SILENCE):
            self._sound_out(request)
            return
        lead = self._leads.now.lead_of(request.subject)
        worker = self.workers.get(lead.meter if lead is not None else request.subject)
        if worker is not None:
            worker.request(request)
            return
        reason = f"nothing at this bench can do this for {request.subject}"
        self.post(RequestClosed(request.at_s, request.id, False, reason))

    def _sound_out(self, request: Request) -> None:
        """Have a signal played and recorded, or silenced."""
        if self.audio is not None:
            self.audio.carry_out(request)
        else:
            reason = "this bench has no generator and recorder: choose a sound device for measuring"
            self.post(RequestClosed(request.at_s, request.id, False, reason))

    def _guide(self, request: Request) -> None:
        """Guidance by sound follows from the snapshot; the run only has to know whether it is heard."""
        if self.sound is not None:
            self.sound.answer(request, self)
        else:
            self.post(RequestClosed(request.at_s, request.id, False, "this bench has no sound"))

    # --- time -----------------------------------------------------------------------------------------

    def _deadline_s(self) -> float | None:
        if self._trouble:
            return None
        try:
            return self._run.next_deadline()
        except Exception as error:  # as in `_feed`
            self._break_down(error)
            return None

    def _view(self) -> RunView:
        """The run's view, or the last one that it could give."""
        if not self._trouble:
            try:
                return self._run.view()
            except Exception as error:  # as in `_feed`
                self._break_down(error)
        return self._store.newest().view

    def _anchor(self, here_s: float) -> None:
        if here_s >= self._next_anchor_s:
            self._batch.append(Anchor(here_s, self._clock.utc()))
            self._next_anchor_s = here_s + ANCHOR_S

    def _notice_sleep(self) -> None:
        slept = self._sleep.since_last_turn()
        if slept is None:
            return
        self._shift_s += slept.hidden_s
        here_s = self.session_s()
        self._next_anchor_s = here_s
        for lead in self._leads.now:
            if lead.channel is not None:
                reason = GapReason.NOT_RUNNING
                began_s = max(0.0, here_s - slept.unwatched_s)
                self._feed(ChannelGap(began_s, here_s, lead.channel, reason, slept.reason))
        supply = self._view().supply
        self._feed(SegmentOpened(here_s, slept.reason, slept.unwatched_s, supply))

    # --- what goes out --------------------------------------------------------------------------------

    def _keep(self, now_s: float) -> None:
        if not self._batch or now_s < self._try_s:
            return
        try:
            self._record.append(self._batch)
        except OSError as error:
            self._record_trouble = (
                f"The record cannot be written ({error.strerror or error}): readings are held in memory and "
                "tried again; make room before you close the program, which forgets them."
            )
            self._changed = True
            # … every two seconds: the longer it lasts the more there is to put into words each time.
            self._try_s = now_s + len(self._batch) / HELD_PER_S
            return
        except Exception as error:  # an entry that cannot be written down must not hold up the others
            self._break_down(error)
            self._keep_singly()
            return
        self._changed = self._changed or bool(self._record_trouble)
        self._record_trouble = ""
        self._batch = []
        if self._forced:  # only now: forced before it was written, it would wait for the next second
            self._forced = False
            self._record.force_soon()

    def _keep_singly(self) -> None:
        while self._batch:
            try:
                self._record.append(self._batch[:1])
            except OSError:
                return  # the rest is tried again
            except Exception:
                pass
            self._batch.pop(0)

    def _publish(self) -> None:
        if not self._changed:
            return
        self._changed = False
        view = self._view()
        trouble = " ".join(filter(None, (self._trouble, self._record_trouble)))
        self._store.publish(view, self._leads.now, trouble)
        if self.sound is not None:
            self.sound.show(self._store.newest())
