"""One procedure being carried out: facts in, events out. No input or output of its own, and no clock.

The analysis watches for the whole run, in every step, while paused and after the last step. Steps are opened
one after the other by `procedures.course`; this module keeps the sitting up to date, decides what comes
before a step (an *off* alarm, a pause, missing power), and says what has changed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

from drivers.reading import GapReason
from procedures import interludes
from procedures.analysis.monitor import Monitor
from procedures.course import Course
from procedures.events import (
    Acknowledged,
    Alarm,
    AlarmCleared,
    Answer,
    AwayChanged,
    ChannelGap,
    DriveChanged,
    Event,
    Input,
    Instruction,
    LeadMoved,
    LidChanged,
    PauseChanged,
    Question,
    RunEnded,
    SegmentOpened,
    StopRequested,
    Supply,
    SupplyChanged,
    Tier,
    TrimDeclared,
)
from procedures.leads import Leads
from procedures.ranging import Ranging
from procedures.setup import RunSetup
from procedures.steps.sitting import Sitting, Watcher
from procedures.steps.step import Asked, Prompt
from procedures.view import ActiveAlarm, RunView

LEAST_STEP_S = 0.1  # a deadline is never nearer than this, so that whoever keeps it always gets on


class Analysis(Watcher, Protocol):
    """What a run needs of the analysis (`procedures.analysis.monitor.Monitor`)."""

    def feed(self, fact: Input) -> tuple[Event, ...]:
        """Take one fact; what it leads to, in order."""
        ...

    def next_deadline(self) -> float | None:
        """When a Tick is due if nothing else arrives before."""
        ...


def _analysis(setup: RunSetup) -> Analysis:
    monitor = Monitor(setup.channels, setup.settings)
    for warm_up in setup.remembered:
        if any(channel.channel == warm_up.channel for channel in setup.channels):
            monitor.remember(warm_up.channel, warm_up)
    return monitor


class Run:
    """A procedure being carried out on one unit. Starts with the first fact that it is fed."""

    def __init__(self, setup: RunSetup, analysis: Analysis | None = None) -> None:
        self.setup = setup
        self._analysis = analysis or _analysis(setup)
        self._sitting = Sitting(
            channels={channel.channel: channel for channel in setup.channels},
            watcher=self._analysis,
            leads=Leads(setup.leads),
            amplifier=setup.amplifier,
            lamp_first=bool(setup.after_off),
            earthing=setup.earthing,
            lid_fitted=setup.lid_fitted,
        )
        self._course = Course(
            setup.procedure, self._sitting, setup.cautions_acknowledged, setup.cautions_read
        )
        self._ranging = Ranging(self._sitting)
        self._paused = False
        self._away = False
        self._off_alarm: Alarm | None = None
        self._switched_off = False  # since that alarm
        self._ended: RunEnded | None = None
        self._prompt = Prompt("")
        self._instruction: Instruction | None = None
        self._question: Question | None = None
        self._handlers: dict[type, Callable[..., None]] = {
            Answer: self._answered,
            LeadMoved: self._lead_moved,
            SupplyChanged: self._supply_changed,
            LidChanged: self._lid_changed,
            DriveChanged: self._drive_changed,
            TrimDeclared: self._trim_declared,
            Acknowledged: self._acknowledged,
            PauseChanged: self._pause_changed,
            AwayChanged: self._away_changed,
            SegmentOpened: self._segment_opened,
            StopRequested: self._stop_requested,
        }

    # --- what others call ---------------------------------------------------------------------------

    def feed(self, fact: Input) -> tuple[Event, ...]:
        """Take one fact; everything that is to be said because of it, in order."""
        sitting = self._sitting
        sitting.take_time(fact.until_s if isinstance(fact, ChannelGap) else fact.at_s)
        for event in (*self._lifted(fact), *self._analysis.feed(fact)):
            if not self._is_elsewhere(event):
                sitting.outbox.append(event)
                self._alarms(event)
        handler = self._handlers.get(type(fact))
        if handler is not None:
            handler(fact)
        self._ranging.feed(fact)
        if self._ended is None:
            self._go_on(fact)
        said = tuple(sitting.outbox)
        sitting.outbox.clear()
        return said

    def next_deadline(self) -> float | None:
        """The session second by which a Tick is due if nothing else happens; None when nothing is pending."""
        step = None if self._ended or self._paused else self._course.deadline_s()
        due = [moment for moment in (self._analysis.next_deadline(), step) if moment is not None]
        return max(min(due), self._sitting.at_s + LEAST_STEP_S) if due else None

    def view(self) -> RunView:
        """Everything that a screen needs to know at this moment."""
        sitting, prompt = self._sitting, self._prompt
        return RunView(
            at_s=sitting.at_s,
            procedure=self.setup.procedure.id,
            title=self.setup.procedure.title,
            steps=self._course.lines(),
            step=None if self._ended else self._course.step,
            instruction=self._instruction,
            question=self._question,
            next_label=prompt.key_label,
            focus=prompt.focus,
            channels=sitting.states(),
            advice=tuple(sitting.advice.values()),
            alarms=tuple(sitting.alarms.values()),
            recorded=tuple(sitting.recorded),
            verdicts=tuple(sitting.verdicts),
            supply=sitting.supply,
            lid_fitted=sitting.lid_fitted,
            driven=sitting.driven,
            paused=self._paused,
            away=self._away,
            power_on_s=sitting.power_on_s,
            progress=prompt.progress,
            by_itself=prompt.by_itself,
            ended=self._ended,
            next_fact=prompt.key_fact,
            inspected=tuple(sitting.inspected),
            remembered=self.setup.remembered_from,
        )

    @property
    def resume_refusal(self) -> str:
        """Why this run may not be taken up again after a break; empty when it may."""
        if self._off_alarm is not None:
            return (
                "Start a new run on the series lamp, once a cause is recorded or called unknown: after the "
                "alarm to switch off, a run is not taken up again."
            )
        return f"Start a new run: this one has ended ({self._ended.reason})." if self._ended else ""

    # --- what facts mean ----------------------------------------------------------------------------

    def _lifted(self, fact: Input) -> tuple[Event, ...]:
        """What it means to the analysis, which knows of no leads, that a lead is taken off its channel."""
        if not isinstance(fact, LeadMoved):
            return ()
        left = self._sitting.leads.channel_of(fact.meter, fact.input)
        if left is None or left == fact.channel or left not in self._sitting.channels:
            return ()
        return self._analysis.feed(ChannelGap(fact.at_s, fact.at_s, left, GapReason.MOVED))

    def _is_elsewhere(self, event: Event) -> bool:
        """Whether it is about a channel that is silent because its lead reads another one.

        The analysis knows of no leads. A channel that nobody polls is not blind, it is not read; the end of
        an alarm that was never passed on is not passed on either.
        """
        if isinstance(event, Alarm) and event.tier is Tier.BLIND and event.channel is not None:
            return not self._sitting.readable(event.channel)
        return isinstance(event, AlarmCleared) and event.id not in self._sitting.alarms

    def _alarms(self, event: Event) -> None:
        if isinstance(event, Alarm):
            self._sitting.alarms[event.id] = ActiveAlarm(event)
            if event.tier is Tier.OFF and self._off_alarm is None:
                self._off_alarm, self._switched_off = event, False
                self._course.stop(event.text)
        elif isinstance(event, AlarmCleared):
            self._sitting.alarms.pop(event.id, None)

    def _answered(self, fact: Answer) -> None:
        if self._ended or self._question is None or fact.question != self._question.id:
            return  # answered twice, or a question that is no longer asked
        if self._off_alarm is not None:
            self._end(False, interludes.after_off(self._off_alarm, fact))
        elif not self._paused:
            self._course.answer(fact)

    def _lead_moved(self, fact: LeadMoved) -> None:
        self._sitting.leads = self._sitting.leads.moved(fact.meter, fact.input, fact.channel)

    def _supply_changed(self, fact: SupplyChanged) -> None:
        self._switched_off = fact.supply is Supply.OFF
        self._take_supply(fact.supply, fact.at_s)

    def _take_supply(self, supply: Supply, at_s: float) -> None:
        sitting = self._sitting
        if supply is Supply.OFF:
            sitting.power_on_s = None
        elif supply is not sitting.supply and sitting.supply in (Supply.OFF, Supply.SERIES_LAMP):
            # A lamp is taken out with the power off, whether that was said or not.
            sitting.power_on_s = at_s
            self._course.power_returned()
        sitting.supply = supply
        if supply is Supply.SERIES_LAMP:
            sitting.lamp_first = False

    def _lid_changed(self, fact: LidChanged) -> None:
        self._sitting.lid_fitted = fact.fitted

    def _drive_changed(self, fact: DriveChanged) -> None:
        self._sitting.driven = fact.driven

    def _trim_declared(self, fact: TrimDeclared) -> None:
        self._sitting.changed.setdefault(fact.channel, "the trimmer was turned")

    def _acknowledged(self, fact: Acknowledged) -> None:
        alarm = self._sitting.alarms.get(fact.alarm)
        if alarm is not None:
            self._sitting.alarms[fact.alarm] = replace(alarm, acknowledged=True)

    def _pause_changed(self, fact: PauseChanged) -> None:
        self._paused = fact.paused

    def _away_changed(self, fact: AwayChanged) -> None:
        self._away = fact.away

    def _segment_opened(self, fact: SegmentOpened) -> None:
        if self._ended is None and self.resume_refusal:
            self._end(False, self.resume_refusal)
        self._take_supply(fact.supply, fact.at_s)

    def _stop_requested(self, fact: StopRequested) -> None:
        if self._ended is None:
            self._end(False, fact.reason or "Stopped by a person.")

    # --- going on -----------------------------------------------------------------------------------

    def _go_on(self, fact: Input) -> None:
        if self._off_alarm is None and not self._paused:
            self._course.feed(fact)
            if self._course.finished:
                self._end(True, "Every step was carried out.")
        if self._ended is None:
            self._show(self._wanted())

    def _wanted(self) -> Prompt:
        """What is wanted of the person now: the most urgent of several."""
        sitting = self._sitting
        if self._off_alarm is not None:
            return interludes.off_alarm(self._off_alarm, self._switched_off)
        if self._away:
            return interludes.away(sitting)
        if self._paused:
            return interludes.paused(sitting)
        if self._course.lacks_power:
            return interludes.power_wanted(sitting)
        return self._course.prompt()

    def _show(self, prompt: Prompt) -> None:
        """Say what has changed about what is wanted."""
        step = self._course.step or ""
        instruction = self._instruction
        shown = instruction and (instruction.step, instruction.text, instruction.caution)
        if not prompt.text:
            self._instruction = None
        elif shown != (step, prompt.text, prompt.caution):
            self._instruction = Instruction(self._sitting.at_s, step, prompt.text, prompt.caution)
            self._sitting.outbox.append(self._instruction)
        self._ask(prompt.asked, step)
        self._prompt = self._with_key(prompt)

    def _ask(self, asked: Asked | None, step: str) -> None:
        if asked is None:
            self._question = None
            return
        name = f"{step or 'run'}/{self._course.visit}/{asked.name}"
        before = self._question
        if before and (before.id, before.text, before.choices) == (name, asked.text, asked.choices):
            return
        self._question = Question(
            self._sitting.at_s, name, step, asked.text, asked.kind, asked.choices, asked.unit
        )
        self._sitting.outbox.append(self._question)

    def _with_key(self, prompt: Prompt) -> Prompt:
        """The prompt, with the question's default choice on the one key where the key is free."""
        question = self._question
        chosen = next((c for c in question.choices if c.default), None) if question else None
        if prompt.key_fact is not None or question is None or chosen is None:
            return prompt
        return replace(
            prompt,
            key_label=chosen.text,
            key_fact=Answer(self._sitting.at_s, question.id, chosen.key),
        )

    def _end(self, finished: bool, reason: str) -> None:
        self._course.stop(reason)
        self._ended = RunEnded(self._sitting.at_s, finished, reason)
        self._sitting.outbox.append(self._ended)
        self._show(Prompt("") if self._sitting.supply is Supply.OFF else interludes.after_the_end())
