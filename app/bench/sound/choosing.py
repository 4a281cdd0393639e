"""What is to be heard now: decided from the newest snapshot and nothing else.

Alarms go before everything. Guidance is heard only while the run asks for it (`Action.GUIDE`), the trimmer
can be guided and a reading is there; when it ends, that is heard. Chimes are for what a person would else
have to look for.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from app.bench.snapshot import Snapshot
from app.bench.sound.heard import (
    LASTING_ALARMS,
    Alarmed,
    GuidanceOver,
    Guiding,
    Heard,
    NeedsYou,
    Settled,
    Silent,
)
from procedures.analysis.channel import AdviceKind, ChannelSetup, ChannelState, TrimAdvice
from procedures.events import Action, Request, RunEnded, Tier
from procedures.view import ActiveAlarm, RunView

AGAIN_S = 12.0  # after which an alarm that is said once is said again, until it is acknowledged
NEAR_SHARE = 0.05  # of the reading to turn down to: what counts as near
LATE_S = 3.0  # without a reading, after which nobody is guided
REMIND_S = 45.0  # after which somebody is called again …
REMINDERS = 2  # … so many times
_URGENCY = (Tier.OFF, Tier.ACT, Tier.LEAD, Tier.LOOK, Tier.BLIND)
# Whoever turns on at one of these would turn at the wrong thing, or to no avail.
_STUCK = frozenset(
    {AdviceKind.STOP, AdviceKind.NO_RESPONSE, AdviceKind.WRONG_TRIMMER, AdviceKind.RANGE_EXHAUSTED}
)
_UNGUIDED = _STUCK | {AdviceKind.LEAVE_ALONE}


@dataclass(frozen=True, slots=True)
class Choice:
    """What lasts now, what is said once, and the sentence that may be spoken (empty: none).

    `urgent` is True while a lasting alarm is heard: nothing is spoken over it.
    """

    lasting: Heard = field(default_factory=Silent)
    once: tuple[Heard, ...] = ()
    sentence: str = ""
    urgent: bool = False


@dataclass(slots=True)
class _Alarms:
    """Which alarms that are said once have been said, and when."""

    said_s: dict[str, float] = field(default_factory=dict)

    def due(self, alarms: list[ActiveAlarm], now_s: float) -> list[Heard]:
        """Those that are to be said now."""
        due: list[Heard] = []
        present = {f"{one.alarm.id}/{one.alarm.tier}": one.alarm.tier for one in alarms}
        self.said_s = {name: at_s for name, at_s in self.said_s.items() if name in present}
        for name, tier in present.items():
            if now_s - self.said_s.get(name, -AGAIN_S) >= AGAIN_S:
                self.said_s[name] = now_s
                due.append(Alarmed(tier))
        return due


class SoundChooser:
    """Follows one bench. `look` is called for each new snapshot, and now and then without one."""

    def __init__(self, setups: Mapping[str, ChannelSetup]) -> None:
        self._setups = dict(setups)
        self._events = 0
        self._guided: str | None = None
        self._at_most: float | None = None
        self._guiding: str | None = None  # the channel whose guidance is heard
        self._readings, self._read_s = 0, 0.0
        self._alarms = _Alarms()
        self._settled: dict[str, bool] | None = None
        self._waiting: tuple[object, ...] | None = None
        self._called_s, self._calls = 0.0, 0
        self._spoken = ""

    @property
    def guided(self) -> str | None:
        """The channel that the run wants guided by sound."""
        return self._guided

    def look(self, snapshot: Snapshot, now_s: float) -> Choice:
        """What is to be heard, at host second `now_s`."""
        self._follow_requests(snapshot)
        view = snapshot.view
        loud = [one for one in view.alarms if not one.acknowledged] if view.ended is None else []
        lasting_alarm = next(
            (tier for tier in _URGENCY if tier in LASTING_ALARMS and any(a.alarm.tier is tier for a in loud)),
            None,
        )
        guidance = self._guidance(view) if lasting_alarm is None and self._fresh(snapshot, now_s) else None
        once = self._alarms.due([one for one in loud if one.alarm.tier not in LASTING_ALARMS], now_s)
        once += self._chimes(view, now_s, guidance, quiet=lasting_alarm is not None)
        if lasting_alarm is not None:
            self._guiding = None
            return Choice(Alarmed(lasting_alarm), (), urgent=True)
        return Choice(guidance or Silent(), tuple(once), self._sentence(view))

    # --- guidance -----------------------------------------------------------------------------------

    def _follow_requests(self, snapshot: Snapshot) -> None:
        for event in snapshot.events[self._events :]:
            if isinstance(event, Request) and event.action is Action.GUIDE:
                if event.parameters.get("guide") == "begin":
                    self._guided = event.subject
                    at_most = event.parameters.get("at_most_volts")
                    self._at_most = float(at_most) if at_most is not None else None
                elif self._guided == event.subject:
                    self._guided = None
            elif isinstance(event, RunEnded):
                self._guided = None
        self._events = len(snapshot.events)

    def _fresh(self, snapshot: Snapshot, now_s: float) -> bool:
        """Whether readings of the guided channel still come; a tone must not outlive what it tells of."""
        trace = snapshot.trace(self._guided) if self._guided is not None else None
        readings = 0 if trace is None else len(trace.values)
        if readings != self._readings:
            self._readings, self._read_s = readings, now_s
        return now_s - self._read_s <= LATE_S

    def _guidance(self, view: RunView) -> Guiding | None:
        channel = self._guided
        if channel is None or view.focus != channel or view.paused or view.ended is not None:
            return None
        state = next((one for one in view.channels if one.channel == channel), None)
        setup = self._setups.get(channel)
        if state is None or state.value is None or state.gap or (setup is not None and setup.typed):
            return None
        if self._at_most is not None:
            return _turned_down(abs(state.value), self._at_most, channel)
        advice = next((one for one in view.advice if one.channel == channel), None)
        wanted = _wanted(state, advice)
        if wanted is None:
            return None
        return Guiding.at(abs(state.value), *wanted, channel)

    def _is_stuck(self, view: RunView) -> bool:
        return any(one.channel == self._guided and one.kind in _STUCK for one in view.advice)

    # --- said once ----------------------------------------------------------------------------------

    def _chimes(self, view: RunView, now_s: float, guidance: Guiding | None, quiet: bool) -> list[Heard]:
        chimes: list[Heard] = []
        guided = guidance.channel if guidance is not None else None
        if self._guiding not in (None, guided):
            # Stuck, or the wrong trimmer, is something to look at; all else is only an end.
            chimes.append(NeedsYou() if guided is None and self._is_stuck(view) else GuidanceOver())
        self._guiding = guided
        settled = {state.channel: bool(state.settled) for state in view.channels}
        if self._settled is not None and any(
            now and not self._settled.get(channel, False) for channel, now in settled.items()
        ):
            chimes.append(Settled())
        self._settled = settled
        if self._calls_for_a_person(view, now_s, guided is not None or quiet):
            chimes.append(NeedsYou())
        return chimes

    def _calls_for_a_person(self, view: RunView, now_s: float, busy: bool) -> bool:
        """Whether the work has come to wait for a person, or has waited for long."""
        asked = view.question.id if view.question is not None else ""
        waiting = (view.step, asked, view.next_label, view.ended is not None)
        first, news = self._waiting is None, waiting != self._waiting
        self._waiting = waiting
        idle = not (asked or view.next_label or view.ended is not None)
        if first or idle or busy or view.paused or view.by_itself:
            # Whoever has just begun, or has the trimmer in hand, is there already; where the step goes on
            # by itself, nobody need come.
            self._calls = REMINDERS + 1
            return False
        if news:
            self._called_s, self._calls = now_s, 0
            return True
        if view.ended is not None or self._calls >= REMINDERS or now_s - self._called_s < REMIND_S:
            return False
        self._called_s, self._calls = now_s, self._calls + 1
        return True

    # --- spoken -------------------------------------------------------------------------------------

    def _sentence(self, view: RunView) -> str:
        """A new instruction; while a trimmer is guided only the first one, because the tone says the rest."""
        said = view.instruction.text if view.instruction is not None else ""
        if view.ended is not None:
            said = view.ended.reason
        # Figures that go on by themselves (minutes, millivolts) do not make a sentence new.
        key = f"{view.step}" if self._guiding else re.sub(r"[\d.,:]+", "", said)
        if not said or key == self._spoken:
            return ""
        self._spoken = key
        return said


def _turned_down(reading: float, at_most: float, channel: str) -> Guiding:
    """Turning down until the reading is low enough; lower is as right."""
    half = NEAR_SHARE * at_most
    return Guiding.at(max(reading, at_most - half), at_most - half, half, channel)


def _wanted(state: ChannelState, advice: TrimAdvice | None) -> tuple[float, float] | None:
    """The reading to turn to and how near is near enough; None when nothing is to be turned."""
    if advice is None or advice.kind in _UNGUIDED:
        return None
    window = None
    if state.accept_low is not None and state.accept_high is not None:
        half = 0.5 * abs(state.accept_high - state.accept_low)
        window = (0.5 * abs(state.accept_low + state.accept_high), half) if half > 0.0 else None
    if advice.show_volts is None:
        # Nothing is known about the drift: the target itself is what is turned to.
        return window if advice.kind is AdviceKind.CANNOT_SAY else None
    half = advice.reach_volts or (0.3 * window[1] if window is not None else 0.01 * abs(advice.show_volts))
    return abs(advice.show_volts), half
