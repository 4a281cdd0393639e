"""One worker a physical instrument: connects, sets up, polls on a schedule, and looks after the link.

How the pieces fit::

    link = link_for("TCPIP::192.168.1.20::hislip0::INSTR")     # drivers.addresses
    meter = ScpiMeter("left meter", link, clock)               # drivers.scpi.meter
    core = WorkerCore(meter, clock, inbox.put, setup=MeterSetup(0.1), period_s=0.5)
    worker = Worker(core, clock)
    worker.start()
    worker.ask(PeriodRequest("r7", 0.2))                       # from any thread; answered by a RequestOutcome
    worker.stop()                                              # within 0.1 s over TCP and HiSLIP

`WorkerCore` has no thread: whoever owns time calls `advance(now_s)`, which does at most one blocking thing
and returns when it wants to be called next. `Worker` is the thin thread around it.

What happens is posted as facts (`drivers.reading`): a Reading for each input, a Gap for the time without
one, a MeterStatus for each change of state, a RequestOutcome for each request. Nothing else leaves: a
broken instrument is a state in words, never an exception.

The states: idle, connecting, identifying, configuring, polling; resyncing after an exchange that went
wrong (two such in a row; the third opens the connection anew); waiting to try again, from 0.2 s up to 5 s;
stopped at the end, or because another instrument answers at the address, until the one from before is back.
"""

from __future__ import annotations

import logging
import math
import random
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import replace

from drivers.clock import Clock, host_seconds
from drivers.errors import DriverError, LinkAborted, LinkGarbled, LinkTimedOut, MeterRefused
from drivers.meter import Meter, MeterFacts, MeterSetup, same_instrument
from drivers.patience import Patience
from drivers.reading import Gap, GapReason, MeterState, MeterStatus, Reading, RequestOutcome
from drivers.requests import MeterRequest, PeriodRequest, RangeRequest

CONNECT_LIMIT_S = 5.0  # host time
SET_UP_LIMIT_S = 30.0  # host time; a meter of few words lets several questions time out
RESYNC_LIMIT_S = 2.0  # host time
STRIKES = 3
GAP_EVERY_S = 3.0  # while there are no readings, their absence is reported this often
KEEP_ALIVE_S = 50.0  # some instruments drop a connection that is idle for 120 s

_log = logging.getLogger(__name__)

Fact = Reading | Gap | MeterStatus | RequestOutcome


class WorkerCore:
    """The life of one meter, one step at a time.

    Args:
        meter: used by no one else.
        clock: bench time, for schedules and stamps.
        post: takes each fact; called from whichever thread calls `advance`. Must not block.
        setup: what the meter is set to.
        period_s: bench seconds from one reading to the next.
        jitter: gives numbers in [0, 1); spreads the waiting times by a fifth either way.
        resync_limit_s: host seconds for a dirty link to become clean.
        advice: what to try when the meter has been away for five minutes.
        identity: who has to answer at the address; empty: whoever does first.
    """

    def __init__(
        self,
        meter: Meter,
        clock: Clock,
        post: Callable[[Fact], None],
        *,
        setup: MeterSetup | None = None,
        period_s: float = 0.5,
        jitter: Callable[[], float] = random.random,
        resync_limit_s: float = RESYNC_LIMIT_S,
        advice: str = "switch the meter off and on, and check its cable and that no other program holds it",
        identity: str = "",
    ) -> None:
        self._meter = meter
        self._clock = clock
        self._post = post
        self._setup = setup or MeterSetup()
        self._period_s = period_s
        self._resync_limit_s = resync_limit_s
        self._advice = advice
        self.stopping = threading.Event()
        self._requests: deque[MeterRequest] = deque()
        self._retry = threading.Event()
        self._state = MeterState.IDLE
        self._said: tuple[MeterState, str] | None = None
        self._facts: MeterFacts | None = None
        self._identity = identity
        self._due_s = -math.inf
        self._slot_s = 0.0
        self._covered_s: float | None = None  # up to here there is a reading or a gap
        self._talked_s = 0.0
        self._strikes = 0
        self._patience = Patience(jitter)
        self._why = ""

    @property
    def meter(self) -> Meter:
        """The meter that is looked after."""
        return self._meter

    @property
    def state(self) -> MeterState:
        """What it is doing. Any thread."""
        return self._state

    @property
    def facts(self) -> MeterFacts | None:
        """What the meter confirmed when it was last set up; None before. Any thread."""
        return self._facts

    @property
    def period_s(self) -> float:
        """Bench seconds from one reading to the next. Any thread."""
        return self._period_s

    def ask(self, request: MeterRequest) -> None:
        """Hand in a request; it is carried out between two readings. Any thread."""
        self._requests.append(request)

    def retry_now(self) -> None:
        """Do not wait for the next try. Any thread."""
        self._retry.set()

    # --- one step ------------------------------------------------------------------------------------

    def advance(self, now_s: float) -> float:
        """Do what is due at `now_s` and return the bench time of the next thing (inf: nothing)."""
        if self._covered_s is None:
            self._covered_s = now_s
            self._patience.begin(now_s)
        if self.stopping.is_set():
            return math.inf
        try:
            self._step(now_s)
        except Exception as problem:  # a defect here must not end the watch over a hot amplifier
            _log.exception("%s: unexpected problem", self._meter.address)
            self._give_up_for_now(f"unexpected problem ({type(problem).__name__}: {problem})")
        return self._next_due_s()

    def stop(self) -> None:
        """Give the meter back and say so. The last call."""
        self._meter.disconnect()
        for request in self._taken():
            self._answer(request, False, "the meter has been stopped")
        if self._state is not MeterState.STOPPED:
            self._enter(MeterState.STOPPED, "stopped")

    def _step(self, now_s: float) -> None:
        if self._retry.is_set():
            self._retry.clear()
            if self._state is MeterState.WAITING:
                self._due_s = now_s
        self._take_requests()
        if now_s < self._due_s:
            self._stay_in_touch(now_s)
        elif self._state in (MeterState.IDLE, MeterState.WAITING, MeterState.STOPPED):
            self._connect()
        elif self._state is MeterState.CONFIGURING:
            self._configure()
        elif self._state is MeterState.RESYNCING:
            self._resync()
        elif self._state is MeterState.POLLING:
            self._poll(now_s)

    def _next_due_s(self) -> float:
        if self._state is MeterState.POLLING:
            return min(self._due_s, self._talked_s + KEEP_ALIVE_S)
        assert self._covered_s is not None
        return min(self._due_s, self._covered_s + GAP_EVERY_S)

    def _stay_in_touch(self, now_s: float) -> None:
        """Between due times: report the silence while down, keep a slow connection alive while up."""
        assert self._covered_s is not None
        if self._state is MeterState.POLLING:
            if now_s >= self._talked_s + KEEP_ALIVE_S:
                self._enter(MeterState.RESYNCING, "keeping the connection alive", quietly=True)
                self._resync(kept_due_s=self._due_s)
        elif now_s >= self._covered_s + GAP_EVERY_S:
            self._gap(GapReason.LOST, self._why)

    # --- getting there -------------------------------------------------------------------------------

    def _connect(self) -> None:
        self._enter(MeterState.CONNECTING, self._meter.address, quietly=self._patience.tried)
        try:
            identity = self._meter.connect(host_seconds() + CONNECT_LIMIT_S)
        except DriverError as problem:
            self._give_up_for_now(problem)
            return
        self._enter(MeterState.IDENTIFYING, identity, quietly=self._patience.tried)
        if self._identity and not same_instrument(identity, self._identity):
            self._meter.disconnect()
            self._why = f"another instrument answers at {self._meter.address}"
            self._gap(GapReason.LOST, self._why)
            now_s = self._clock.now()
            self._due_s = now_s + self._patience.next_wait_s(now_s)
            self._enter(
                MeterState.STOPPED,
                f"{self._meter.address}: another instrument answers, {identity} where {self._identity} was; "
                "put that one back, or begin a new session with this one",
                identity=identity,
            )
            return
        self._identity = identity
        self._enter(MeterState.CONFIGURING, identity, quietly=self._patience.tried)
        self._due_s = self._clock.now()

    def _configure(self) -> None:
        try:
            self._facts = self._meter.configure(self._setup, host_seconds() + SET_UP_LIMIT_S)
        except DriverError as problem:
            self._give_up_for_now(problem)
            return
        self._strikes = 0
        self._start_polling()

    def _start_polling(self) -> None:
        now_s = self._clock.now()
        self._enter(MeterState.POLLING, self._set_up_in_words())
        self._talked_s = now_s
        self._slot_s = self._due_s = now_s

    def _set_up_in_words(self) -> str:
        return self._facts.in_words() if self._facts else ""

    # --- polling -------------------------------------------------------------------------------------

    def _poll(self, now_s: float) -> None:
        limit_s = self._facts.limit_s if self._facts else 4.0
        try:
            facts = self._meter.read(host_seconds() + limit_s)
        except (LinkTimedOut, LinkGarbled) as problem:
            self._strike(problem)
            return
        except DriverError as problem:
            self._give_up_for_now(problem)
            return
        for fact in facts:
            self._post(fact)
        self._talked_s = self._clock.now()
        self._covered_s = max((fact.end_s for fact in facts), default=self._talked_s)
        self._strikes = 0
        self._patience.reset()
        self._next_slot()

    def _next_slot(self) -> None:
        """The next moment of the schedule that is still ahead; missed ones are skipped, never made up for."""
        now_s = self._clock.now()
        missed = math.floor((now_s - self._slot_s) / self._period_s) + 1
        self._slot_s += max(1, missed) * self._period_s
        self._due_s = self._slot_s

    def _strike(self, problem: LinkTimedOut | LinkGarbled) -> None:
        """An exchange went wrong: resynchronise twice, then open anew."""
        reason = GapReason.TIMED_OUT if isinstance(problem, LinkTimedOut) else GapReason.GARBLED
        self._why = str(problem)
        self._gap(reason, self._why)
        self._strikes += 1
        if self._strikes >= STRIKES:
            self._give_up_for_now(f"{problem}; {STRIKES} times in a row, so the connection is opened anew")
            return
        self._enter(MeterState.RESYNCING, str(problem))
        self._due_s = self._clock.now()

    def _resync(self, kept_due_s: float | None = None) -> None:
        try:
            self._meter.recover(host_seconds() + self._resync_limit_s)
        except (LinkTimedOut, LinkGarbled) as problem:
            self._strike(problem)
            return
        except DriverError as problem:
            self._give_up_for_now(problem)
            return
        self._talked_s = self._clock.now()
        self._enter(MeterState.POLLING, self._set_up_in_words(), quietly=kept_due_s is not None)
        if kept_due_s is None:
            self._next_slot()
        else:
            self._due_s = kept_due_s

    # --- being away ----------------------------------------------------------------------------------

    def _give_up_for_now(self, problem: DriverError | str) -> None:
        """Let go of the meter and try again later."""
        if isinstance(problem, LinkAborted) and self.stopping.is_set():
            return
        self._meter.disconnect()
        self._why = str(problem)
        self._gap(GapReason.LOST, self._why)
        now_s = self._clock.now()
        self._strikes = 0
        self._due_s = now_s + self._patience.next_wait_s(now_s)
        detail = self._why
        if self._patience.exhausted:
            detail = f"{detail}; away for more than five minutes: {self._advice}"
        self._enter(MeterState.WAITING, detail)

    def _gap(self, reason: GapReason, detail: str) -> None:
        """The time since the last reading, or since the last such gap, has none."""
        assert self._covered_s is not None
        now_s = self._clock.now()
        for meter_input in self._meter.inputs:
            self._post(Gap(self._meter.name, meter_input, self._covered_s, now_s, reason, detail))
        self._covered_s = max(self._covered_s, now_s)

    def _enter(self, state: MeterState, detail: str, *, quietly: bool = False, identity: str = "") -> None:
        """Change state and say so; the same words twice in a row are said once."""
        self._state = state
        if quietly or self._said == (state, detail):
            return
        self._said = (state, detail)
        self._post(
            MeterStatus(self._meter.name, state, self._clock.now(), detail, identity or self._identity)
        )

    # --- requests ------------------------------------------------------------------------------------

    def _take_requests(self) -> None:
        """Carry out what was asked for; while a meter is being set up, requests wait."""
        if self._state in (MeterState.WAITING, MeterState.STOPPED):
            self._take_those_that_need_no_meter()
            return
        while self._requests and self._state is MeterState.POLLING:
            self._carry_out(self._requests.popleft())

    def _take_those_that_need_no_meter(self) -> None:
        for request in self._taken():
            if isinstance(request, PeriodRequest):
                self._carry_out(request)
            else:
                self._answer(request, False, f"{self._meter.name} is not connected ({self._state.value})")

    def _taken(self) -> list[MeterRequest]:
        taken: list[MeterRequest] = []
        while self._requests:
            taken.append(self._requests.popleft())
        return taken

    def _carry_out(self, request: MeterRequest) -> None:
        if isinstance(request, PeriodRequest):
            self._change_period(request)
        elif isinstance(request, RangeRequest):
            self._change_setup(request, replace(self._setup, range_volts=request.range_volts))
        else:
            self._change_setup(request, replace(self._setup, inputs=request.inputs))

    def _answer(self, request: MeterRequest, done: bool, detail: str = "") -> None:
        self._post(RequestOutcome(request.id, self._clock.now(), done, detail))

    def _change_period(self, request: PeriodRequest) -> None:
        if not (math.isfinite(request.period_s) and request.period_s > 0.0):
            self._answer(request, False, f"a period of {request.period_s} s is none")
            return
        self._period_s = request.period_s
        if self._state is MeterState.POLLING:
            self._slot_s = self._due_s = self._clock.now()
        needed_s = self._facts.reading_s if self._facts else 0.0
        detail = f"the meter needs {needed_s:.2g} s for a reading" if needed_s > request.period_s else ""
        self._answer(request, True, detail)

    def _change_setup(self, request: MeterRequest, setup: MeterSetup) -> None:
        """Set the meter up anew; what it refuses is undone."""
        try:
            self._facts = self._meter.configure(setup, host_seconds() + SET_UP_LIMIT_S)
        except MeterRefused as refusal:
            self._answer(request, False, str(refusal))
            self._enter(MeterState.CONFIGURING, self._identity, quietly=True)
            self._due_s = self._clock.now()
            return
        except DriverError as problem:
            self._answer(request, False, str(problem))
            self._give_up_for_now(problem)
            return
        self._setup = setup
        self._answer(request, True)
        self._start_polling()


class Worker:
    """The thread around a `WorkerCore`: it owns the meter, and nothing else of the program waits for it."""

    def __init__(self, core: WorkerCore, clock: Clock) -> None:
        self._core = core
        self._clock = clock
        self._wake = threading.Event()
        # A daemon, because a call inside a USB library may outlast any patience (see VisaLink.stop_bound_s).
        self._thread = threading.Thread(target=self._run, name=f"meter {core.meter.name}", daemon=True)

    @property
    def core(self) -> WorkerCore:
        """State, facts and period may be read from any thread."""
        return self._core

    def start(self) -> None:
        """Begin; once."""
        self._thread.start()

    def ask(self, request: MeterRequest) -> None:
        """Hand in a request; it is answered by a RequestOutcome."""
        self._core.ask(request)
        self._wake.set()

    def retry_now(self) -> None:
        """Try to connect at once instead of waiting."""
        self._core.retry_now()
        self._wake.set()

    def request_stop(self) -> None:
        """Ask the thread to end; returns at once. `stop` waits for it."""
        self._core.stopping.set()
        self._wake.set()
        self._core.meter.abort()

    def stop(self, timeout_s: float = 1.0) -> bool:
        """End the thread; True when it has ended within `timeout_s` of host time.

        False means that it is stuck inside a library; it will let go by itself within the bound of its link.
        """
        self.request_stop()
        if self._thread.ident is not None:
            self._thread.join(timeout_s)
        return not self._thread.is_alive()

    def _run(self) -> None:
        stopping = self._core.stopping
        while not stopping.is_set():
            self._wake.clear()
            now_s = self._clock.now()
            due_s = self._core.advance(now_s)
            if not stopping.is_set():
                self._clock.wait_until(min(due_s, now_s + 60.0), self._wake)
        self._core.stop()
