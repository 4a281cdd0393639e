"""A scripted pair of hands at the simulated bench: does what the screen says, as a careful person would.

It sees what a person sees (`RunView`) and can do what a person can do: press the one key, answer, work the
mains switch, the lid, the probes, and turn trimmers with an error of the hand, by the reading. It never looks
at the simulated unit itself.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from app.bench.practised_finds import HandedPractice, PractisedFinds
from drivers.reading import Unit
from procedures.analysis.channel import AdviceKind, ChannelState, TrimAdvice
from procedures.events import (
    Answer,
    AnswerKind,
    DriveChanged,
    LeadMoved,
    LidChanged,
    Question,
    Supply,
    SupplyChanged,
    Tier,
)
from procedures.procedure import Procedure
from procedures.setup import RunSetup
from procedures.steps.signal import AGAIN
from procedures.view import RunView

REACTION_S = 1.0
READ_S = 4.0  # after turning, until the reading has followed
NUDGE = 0.012  # of the trimmer's travel: some three degrees
LARGEST_TURN = 0.06
HAND_ERROR = 0.15  # of what was meant to be turned
GIVES_UP = frozenset({AdviceKind.NO_RESPONSE, AdviceKind.WRONG_TRIMMER, AdviceKind.RANGE_EXHAUSTED})
TURNS = frozenset({AdviceKind.NUDGE, AdviceKind.TURN, AdviceKind.TURN_BACK, AdviceKind.APPROACH_FROM_BELOW})
PATIENCE_S = 60.0
MOST_REPEATS = 2  # how often the hands wait longer when they are asked
# What the hands read off other instruments when they are asked for a value, by its unit.
READ_OFF = {Unit.CELSIUS: "22", Unit.VOLT: "230", Unit.OHM: "0.27", Unit.HERTZ: "50"}


class HandedBench(Protocol):
    """What the hands need of a bench."""

    @property
    def setup(self) -> RunSetup:
        """What the run was told."""
        ...

    @property
    def view(self) -> RunView:
        """What the screen shows."""
        ...

    def session_s(self) -> float:
        """Session seconds now; the screen is a little behind."""
        ...

    def press_next(self) -> None:
        """Press the one key."""
        ...

    def answer(self, question: str, choice: str, text: str = "") -> None:
        """Answer a question."""
        ...

    def supply(self, supply: Supply) -> None:
        """Say what the amplifier is fed from."""
        ...


@dataclass(slots=True)
class _Feel:
    """What the hands have learned of one trimmer: volts by a full turn of its travel, and the last turn.

    `out` is how far it stands from where it was found; `other` is what the screen said when another
    channel followed it, after which it is left alone.
    """

    gain: float | None = None
    before_volts: float = 0.0
    turned: float = 0.0
    ready_s: float = -math.inf
    stuck_since_s: float | None = None
    nudge: float = NUDGE
    out: float = 0.0
    other: str = ""


class PractisedHands:
    """Acts at most once in `REACTION_S`; `advance` is called like every other part of a bench.

    `answers` gives the choice to make at a step, by the step's id, where it is not the usual one.
    """

    def __init__(
        self,
        bench: HandedBench,
        practice: HandedPractice,
        seed: int = 0,
        answers: Mapping[str, str] | None = None,
    ) -> None:
        self._bench = bench
        self._practice = practice
        self._answers = dict(answers or {})
        self._random = np.random.default_rng([seed, 77])
        self._feel: dict[str, _Feel] = {}
        self._asked: dict[tuple[str | None, str], int] = {}
        self._procedure: Procedure = bench.setup.procedure
        self._finds = PractisedFinds(bench, practice, self._procedure, self._answers)
        self._done_for: tuple[str, str, str] | None = None
        self._done_s = -math.inf

    def advance(self, now_s: float) -> float:
        """Look at the screen and do the next thing."""
        view = self._bench.view
        if view.ended is not None:
            return math.inf
        if not self._switch_off_at_once(view):
            self._work(view, now_s)
        return now_s + REACTION_S

    # --- what is asked for ----------------------------------------------------------------------------

    def _switch_off_at_once(self, view: RunView) -> bool:
        """An alarm to switch off goes before everything."""
        alarmed = any(active.alarm.tier is Tier.OFF for active in view.alarms)
        if alarmed and view.supply is not Supply.OFF:
            self._practice.switch(Supply.OFF)
            self._bench.supply(Supply.OFF)
            return True
        return False

    def _work(self, view: RunView, now_s: float) -> None:
        fact = view.next_fact
        kind = self._kind(view)
        if isinstance(fact, SupplyChanged | LidChanged | LeadMoved | DriveChanged):
            if not self._just_done(view, type(fact).__name__, now_s):
                self._do_with_hands(fact)
                self._bench.press_next()
        elif kind in ("trim", "turn-down") and view.focus is not None:
            self._trim(view, view.focus, now_s)
        elif view.question is not None and view.question.id.endswith("/caution"):
            self._bench.answer(view.question.id, view.question.choices[0].key)
        elif view.question is not None and kind in ("nudge", "round"):
            self._finds.takes(view, view.question, now_s)
        elif view.question is not None and not self._just_done(view, view.question.id, now_s):
            if not self._finds.takes(view, view.question, now_s):
                self._answer(view, view.question, kind)
        elif fact is not None and view.question is None and not self._just_done(view, view.next_label, now_s):
            self._bench.press_next()

    def _kind(self, view: RunView) -> str:
        line = self._procedure.step_named(view.step) if view.step is not None else None
        return line.kind if line is not None else ""

    def _just_done(self, view: RunView, what: str, now_s: float) -> bool:
        """Whether this was done a moment ago and the screen has only not followed yet."""
        done = (view.step or "", what, view.instruction.text if view.instruction else "")
        if done == self._done_for and now_s < self._done_s + 3.0 * REACTION_S:
            return True
        self._done_for, self._done_s = done, now_s
        return False

    def _do_with_hands(self, fact: SupplyChanged | LidChanged | LeadMoved | DriveChanged) -> None:
        match fact:
            case SupplyChanged():
                self._practice.switch(fact.supply)
            case LidChanged():
                self._practice.fit_lid(fact.fitted)
            case DriveChanged():
                self._practice.drive(fact.driven)
            case LeadMoved():
                pass  # the bench takes the simulated probes along

    def _answer(self, view: RunView, question: Question, kind: str) -> None:
        default = next((choice for choice in question.choices if choice.default), None)
        if question.step in self._answers:
            self._bench.answer(question.id, self._answers[question.step])
        elif question.kind is AnswerKind.VALUE:
            load = re.search(r"(\d+) Ω load", question.text)
            text = load.group(1) if load else READ_OFF.get(question.unit or Unit.VOLT, "1")
            self._bench.answer(question.id, "typed", text)
        elif default is not None:
            asked = self._asked.get((view.step, default.key), 0)
            self._asked[view.step, default.key] = asked + 1
            if asked >= MOST_REPEATS and (kind == "warm-up" or default.key == AGAIN):
                self._bench.answer(question.id, question.choices[-1].key)
            elif isinstance(view.next_fact, Answer):
                self._bench.press_next()
            else:
                self._bench.answer(question.id, default.key)
        elif kind == "choose" or (kind == "" and question.choices):
            # Cautions, or the cause after an alarm: no one key for these.
            self._bench.answer(question.id, question.choices[0].key)

    # --- trimming -------------------------------------------------------------------------------------

    def _trim(self, view: RunView, channel: str, now_s: float) -> None:
        feel = self._feel.setdefault(channel, _Feel())
        state = next((state for state in view.channels if state.channel == channel), None)
        if state is None or state.value is None or view.at_s < feel.ready_s:
            return
        advice = next((advice for advice in view.advice if advice.channel == channel), None)
        self._turn_back(channel, advice, feel)
        if self._given_up(view, advice, feel, now_s):
            return
        wanted = self._wanted_volts(view, channel, advice)
        if wanted is None:
            return
        self._turn(channel, feel, state, wanted)

    def _given_up(self, view: RunView, advice: TrimAdvice | None, feel: _Feel, now_s: float) -> bool:
        """Say that it cannot be set when the screen has said so for a while."""
        if advice is None or (advice.kind not in GIVES_UP and not feel.other):
            feel.stuck_since_s = None
            return False
        if feel.stuck_since_s is None:
            feel.stuck_since_s = now_s
        if now_s - feel.stuck_since_s < PATIENCE_S or view.question is None:
            return bool(feel.other) or advice.kind is not AdviceKind.NO_RESPONSE
        self._bench.answer(view.question.id, "give up", feel.other or advice.text)
        return True

    def _turn_back(self, channel: str, advice: TrimAdvice | None, feel: _Feel) -> None:
        """As the screen asks where another channel followed: back to where it was, and hands off."""
        if advice is None or advice.kind is not AdviceKind.WRONG_TRIMMER or feel.other:
            return
        feel.other = advice.text
        if feel.out:
            self._practice.turn(channel, -feel.out)
            feel.out = feel.turned = 0.0

    def _wanted_volts(self, view: RunView, channel: str, advice: TrimAdvice | None) -> float | None:
        setup = next((setup for setup in self._bench.setup.channels if setup.channel == channel), None)
        target = setup.target_volts if setup is not None else None
        if self._kind(view) == "turn-down":
            return None if target is None else 0.42 * target
        if advice is None or advice.kind not in TURNS | {AdviceKind.NO_RESPONSE}:
            return None
        return advice.show_volts if advice.show_volts is not None else target

    def _turn(self, channel: str, feel: _Feel, state: ChannelState, wanted: float) -> None:
        assert state.value is not None
        volts = state.value
        self._learn(feel, volts, wanted)
        if feel.gain is None:
            by = feel.nudge
        else:
            missing = wanted - volts
            if abs(missing) < 0.004 * abs(wanted):
                return
            by = 0.8 * missing / feel.gain * (1.0 + HAND_ERROR * float(self._random.uniform(-1.0, 1.0)))
            by = max(-LARGEST_TURN, min(LARGEST_TURN, by))
        feel.before_volts, feel.turned = volts, by
        # By the session's own time: what is on the screen now may be older than this turn.
        feel.ready_s = self._bench.session_s() + READ_S
        feel.out += by
        self._practice.turn(channel, by)

    def _learn(self, feel: _Feel, volts: float, wanted: float) -> None:
        """What the last turn did to the reading: its direction and how much a turn brings."""
        if feel.turned == 0.0:
            return
        change = volts - feel.before_volts
        if abs(change) > 0.006 * abs(wanted):
            gain = change / feel.turned
            if feel.gain is None or gain * feel.gain > 0.0:
                feel.gain = gain if feel.gain is None else 0.5 * (feel.gain + gain)
        elif feel.gain is None:
            feel.nudge = min(feel.nudge * 1.5, LARGEST_TURN)  # the play of the trimmer took it up
        feel.turned = 0.0
