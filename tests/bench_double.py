"""A small amplifier that warms up, a scripted analysis, and a pair of hands: whole runs without a bench.

The amplifier follows one exponential a channel and nothing more; the simulated bench has the physics. The
scripted analysis judges by simple rules, so that tests of the steps do not depend on the real one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from procedures.analysis.channel import AdviceKind, ChannelSetup, ChannelState, TrimAdvice
from procedures.events import (
    Alarm,
    Answer,
    ChannelReading,
    Event,
    Input,
    LeadMoved,
    LidChanged,
    StepState,
    Supply,
    SupplyChanged,
    Tick,
    Tier,
    TrimDeclared,
)
from procedures.leads import Lead, Leads
from procedures.library import shipped_amplifiers
from procedures.procedure import load_procedure
from procedures.runner import Run
from procedures.setup import RunSetup
from procedures.view import RunView

TAU_S = 200.0


@dataclass
class Channel:
    """One channel: where it rests at full warmth, how far it starts from there, and its knob."""

    rest_volts: float
    cold: float = 0.8  # the reading at power-on, as a part of the resting value
    knob: float = 1.0  # multiplies the reading
    reversed: bool = False

    def volts(self, on_s: float) -> float:
        return self.rest_volts * self.knob * (1.0 + (self.cold - 1.0) * math.exp(-on_s / TAU_S))

    def turn(self, by: float) -> None:
        self.knob *= 1.0 - by if self.reversed else 1.0 + by


@dataclass
class AmplifierDouble:
    """Two channels that warm up from power-on."""

    channels: dict[str, Channel]
    supply: Supply = Supply.OFF
    on_since_s: float = 0.0

    def switch(self, supply: Supply, at_s: float) -> None:
        if self.supply is Supply.OFF and supply is not Supply.OFF:
            self.on_since_s = at_s
        self.supply = supply

    def volts(self, channel: str, at_s: float) -> float:
        if self.supply is Supply.OFF:
            return 0.0
        on_s = at_s - self.on_since_s
        lamp = 0.4 if self.supply is Supply.SERIES_LAMP else 1.0
        return self.channels[channel].volts(on_s) * lamp


class ScriptedAnalysis:
    """Settled: near the resting value 20 minutes after power-on. Advice: turn until it shows the target."""

    def __init__(self, channels: Sequence[ChannelSetup]) -> None:
        self.setups = {channel.channel: channel for channel in channels}
        self.values: dict[str, list[tuple[float, float]]] = {name: [] for name in self.setups}
        self.now_s = 0.0
        self.on_s: float | None = None
        self.trimming: list[str] = []
        self.trims: list[str] = []
        self.to_say: list[Event] = []

    def say_alarm(self, tier: Tier, channel: str, text: str = "far too high") -> None:
        """Raise an alarm with the next fact."""
        self.to_say.append(Alarm(self.now_s, f"{tier.value} {channel}", tier, channel, text))

    def feed(self, fact: Input) -> tuple[Event, ...]:
        self.now_s = max(self.now_s, fact.at_s)
        if isinstance(fact, ChannelReading) and fact.channel in self.values:
            self.values[fact.channel].append((fact.at_s, fact.value))
        elif isinstance(fact, SupplyChanged):
            self.on_s = None if fact.supply is Supply.OFF else (self.on_s or fact.at_s)
        elif isinstance(fact, LeadMoved) and fact.channel in self.values:
            self.values[fact.channel].clear()
        said, self.to_say = tuple(self.to_say), []
        return said

    def next_deadline(self) -> float | None:
        return None

    def state(self, channel: str) -> ChannelState:
        setup, values = self.setups[channel], self.values[channel]
        level = values[-1][1] if values else None
        settled = None if setup.target_volts is None else self._settled(channel)
        low, high = setup.low_volts, setup.high_volts
        return ChannelState(
            channel,
            self.now_s,
            level,
            level,
            settled=settled,
            reason="moving",
            accept_low=low,
            accept_high=high,
        )

    def _settled(self, channel: str) -> bool:
        values, needed_s = self.values[channel], self.setups[channel].condition.warm_up_s
        if self.on_s is None or self.now_s - self.on_s < needed_s or len(values) < 10:
            return False
        return abs(values[-1][1] - values[-10][1]) < 0.002 * abs(values[-1][1])

    def states(self) -> tuple[ChannelState, ...]:
        return tuple(self.state(name) for name in self.setups)

    def begin_trim(self, channel: str, at_s: float) -> None:
        self.trimming.append(channel)
        self.trims.append(channel)

    def end_trim(self, channel: str, at_s: float) -> None:
        self.trimming.remove(channel)

    def advice(self, channel: str) -> TrimAdvice:
        setup, level = self.setups[channel], self.state(channel).level
        target = setup.target_volts or 0.0
        if level is None:
            return TrimAdvice(channel, AdviceKind.WAIT, "Wait for a reading.")
        if abs(level / target - 1.0) < 0.01:
            return TrimAdvice(channel, AdviceKind.DONE, "Leave the trimmer as it is.", target, target)
        text = f"Turn the trimmer until it shows {target * 1000.0:.1f} mV."
        return TrimAdvice(channel, AdviceKind.TURN, text, target, target)


@dataclass
class Sitting:
    """A run, an amplifier and a pair of hands that does what the run says.

    `answers` gives the choice for a question by the last part of its id; `text` for typed answers. `typed`
    channels are read off and typed every 20 s while the run waits for them. Everything fed and said is kept.
    """

    run: Run
    amplifier: AmplifierDouble
    leads: Leads
    answers: dict[str, str] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)
    typed: tuple[str, ...] = ()
    at_s: float = 0.0
    fed: list[Input] = field(default_factory=list)
    said: list[Event] = field(default_factory=list)
    facts: list[Input | Event] = field(default_factory=list)
    presses_keys: bool = True

    def feed(self, fact: Input) -> tuple[Event, ...]:
        """Do what a fact says, and feed it."""
        if isinstance(fact, SupplyChanged):
            self.amplifier.switch(fact.supply, fact.at_s)
        elif isinstance(fact, LeadMoved):
            self.leads = self.leads.moved(fact.meter, fact.input, fact.channel)
        events = self.run.feed(fact)
        self.fed.append(fact)
        self.said.extend(events)
        self.facts += [fact, *events]
        return events

    def second(self) -> None:
        """One second: readings, then hands."""
        self.at_s += 1.0
        read = [lead.channel for lead in self.leads if lead.channel is not None]
        read += [channel for channel in self.typed if self.at_s % 20.0 == 0.0]
        for channel in read:
            self.feed(
                ChannelReading(self.at_s - 0.1, channel, self.amplifier.volts(channel, self.at_s), half_s=0.1)
            )
        due = self.run.next_deadline()
        if due is not None and due <= self.at_s:
            self.feed(Tick(self.at_s))
        if self.at_s % 3.0 == 0.0:
            self._use_hands(self.run.view())

    def _use_hands(self, view: RunView) -> None:
        question = view.question
        name = question.id.rsplit("/", 1)[-1] if question else ""
        if question is not None and (name in self.answers or name in self.texts):
            self.feed(Answer(self.at_s, question.id, self.answers.get(name, ""), self.texts.get(name, "")))
            return
        if question is not None and name == "caution":
            self.feed(Answer(self.at_s, question.id, "acknowledged"))
            return
        self._turn(view)
        trimming = any(advice.kind is AdviceKind.TURN for advice in view.advice)
        key = view.key(self.at_s)
        if key is not None and self.presses_keys and not trimming and "trim" not in name:
            self.feed(key)

    def _turn(self, view: RunView) -> None:
        for advice in view.advice:
            if advice.kind is AdviceKind.TURN and advice.show_volts is not None:
                channel = self.amplifier.channels[advice.channel]
                channel.knob *= advice.show_volts / self.amplifier.volts(advice.channel, self.at_s)
        text = view.instruction.text if view.instruction else ""
        if view.focus in self.amplifier.channels and "trimmer" in text and not view.advice:
            channel = self.amplifier.channels[view.focus]
            if "by a hair" in text:
                channel.turn(0.05)
            elif "back at once" in text:
                channel.reversed = not channel.reversed
                channel.turn(-0.1 if not channel.reversed else 0.1)
            elif "that way" in text:
                channel.turn(0.1 if channel.reversed else -0.1)

    def until(self, done: Callable[[RunView], bool], within_s: float = 3 * 3600.0) -> RunView:
        """Go on, second by second, until something holds of the view."""
        limit_s = self.at_s + within_s
        view = self.run.view()
        while not done(view):
            assert self.at_s < limit_s, f"still at {view.step}: {view.instruction}"
            self.second()
            view = self.run.view()
        return view

    def to_step(self, step: str) -> RunView:
        """Go on until a step is in hand."""
        return self.until(lambda view: view.step == step)

    def to_end(self) -> RunView:
        """Go on until the run has ended."""
        return self.until(lambda view: view.ended is not None)

    def mains(self) -> None:
        self.feed(SupplyChanged(self.at_s, Supply.MAINS))

    def lid(self, fitted: bool) -> None:
        self.feed(LidChanged(self.at_s, fitted))

    def declare_trim(self, channel: str) -> None:
        self.feed(TrimDeclared(self.at_s, channel))


HEAD = """format = 1
id = "test"
title = "Test"
purpose = "To be tested."
channels = ["left bias", "right bias"]
"""


def short_run(*steps: str, amplifier: str = "Kestrow K-40") -> Run:
    """A run of a few lines, `s0`, `s1` and so on, after its first fact; one meter, on the left."""
    lines = "".join(
        f'[[step]]\nid = "s{number}"\ntitle = "Step"\n{step}\n' for number, step in enumerate(steps)
    )
    setup = RunSetup.build(
        load_procedure(HEAD + lines),
        shipped_amplifiers()[amplifier],
        leads=[Lead("one", "1", "left bias")],
        cautions_acknowledged=True,
    )
    run = Run(setup, ScriptedAnalysis(setup.channels))
    run.feed(Tick(0.0))
    return run


def answer(run: Run, choice: str, text: str = "", at_s: float = 1.0) -> tuple[Event, ...]:
    """Answer the question that the run asks."""
    question = run.view().question
    assert question is not None
    return run.feed(Answer(at_s, question.id, choice, text))


def instruction(run: Run) -> str:
    """What the run says is to be done."""
    now = run.view().instruction
    return now.text if now else ""


def reasons(run: Run) -> dict[str, tuple[StepState, str]]:
    """Where each step stands, and why."""
    return {line.id: (line.state, line.reason) for line in run.view().steps}
