"""Trim: turn one channel's trimmer by the live reading, with the analysis saying what to turn to."""

from __future__ import annotations

from typing import ClassVar, Literal

from drivers.reading import Unit
from procedures import cautions
from procedures.analysis.channel import AdviceKind, TrimAdvice
from procedures.analysis.figures import figure, side
from procedures.events import Action, Answer, ChannelReading, Choice, Input, Outcome, TrimDeclared
from procedures.steps.judging import RESOLUTION
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, ChannelName, Conduct, Prompt, StepFields
from procedures.steps.wanted import fair_reading_wanted, fixed_bias, lead_wanted

TRIM_PERIOD_S = 0.25  # while a person turns: a late reading makes hands overshoot
USUAL_PERIOD_S = 1.0
DONE_FOR_S = 5.0

_DONE, _GIVE_UP = "done", "give up"
_STAYS = frozenset({AdviceKind.DONE, AdviceKind.LEAVE_ALONE})
_TURNS = frozenset({AdviceKind.NUDGE, AdviceKind.TURN, AdviceKind.TURN_BACK, AdviceKind.APPROACH_FROM_BELOW})


class Trim(StepFields):
    """The channel whose trimmer is to be turned."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ("trimmed", "left alone", "given up")

    kind: Literal["trim"]
    channel: ChannelName

    def unfit(self, sitting: Sitting) -> str:
        """Without a trimmer there is nothing to turn."""
        return fixed_bias(sitting)

    def open(self, sitting: Sitting) -> Conduct:
        """Take the trimmer in hand."""
        return _Trimming(self, sitting)


class _Trimming(Conduct):
    needs_power = True
    needs_warmth = True

    def __init__(self, line: Trim, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._channel = line.channel
        self._begun = False
        self._stays: tuple[AdviceKind, float] | None = None
        self._turned = False

    def begin(self) -> None:
        if self._channel in self.sitting.given_up:
            self.end("given up", "given up before")
        else:
            self._try_to_begin()

    def feed(self, fact: Input) -> None:
        self._try_to_begin()
        if not self._begun:
            return
        if fair_reading_wanted(self.sitting):
            self.lose_power()  # or what is as good as that: no reading means anything now
            return
        if isinstance(fact, TrimDeclared) and fact.channel == self._channel:
            self._turned = True
        if isinstance(fact, ChannelReading) and fact.channel != self._channel:
            return
        advice = self.sitting.watcher.advice(self._channel)
        self.sitting.advise(advice)
        self._turned = self._turned or advice.kind in _TURNS
        self._end_when_it_stays(advice)

    def answer(self, name: str, answer: Answer) -> None:
        if answer.choice == _DONE:
            self.end("trimmed", "as a person decided")
        elif answer.choice == _GIVE_UP:
            reason = answer.text or "the trimmer could not be set"
            self.sitting.given_up.add(self._channel)
            self.sitting.judge(self._channel, Outcome.FAILED, f"given up: {reason}")
            self.end("given up", reason)

    def lose_power(self) -> None:
        self.sitting.drop_advice(self._channel)
        self._stays = None

    def leave(self) -> None:
        if not self._begun:
            return
        sitting, channel = self.sitting, self._channel
        sitting.watcher.end_trim(channel, sitting.at_s)
        sitting.drop_advice(channel)
        sitting.request(Action.PERIOD, channel, period_s=USUAL_PERIOD_S)
        if not sitting.is_typed(channel):
            sitting.request(Action.GUIDE, channel, guide="end")
        if self._turned or (self.ending is not None and self.ending.outcome == "trimmed"):
            sitting.changed.setdefault(channel, "the trimmer was turned")

    def _try_to_begin(self) -> None:
        sitting = self.sitting
        if self._begun or not sitting.readable(self._channel) or fair_reading_wanted(sitting):
            return
        self._begun = True
        sitting.watcher.begin_trim(self._channel, sitting.at_s)
        sitting.request(Action.PERIOD, self._channel, period_s=TRIM_PERIOD_S)
        if not sitting.is_typed(self._channel):
            # Who types the reading looks at the display already.
            sitting.request(Action.GUIDE, self._channel, guide="begin")
        sitting.advise(sitting.watcher.advice(self._channel))

    def _end_when_it_stays(self, advice: TrimAdvice) -> None:
        """Nothing is left to do when the advice has said so for a while."""
        if advice.kind not in _STAYS:
            self._stays = None
        elif self._stays is None or self._stays[0] is not advice.kind:
            self._stays = (advice.kind, self.sitting.at_s)
        elif self.sitting.at_s - self._stays[1] >= DONE_FOR_S:
            level = self.sitting.state(self._channel).level
            shown = "" if level is None else f" at {figure(level, resolution=RESOLUTION)}"
            outcome = "trimmed" if self._turned and advice.kind is AdviceKind.DONE else "left alone"
            self.end(outcome, f"{outcome}{shown}")

    def prompt(self) -> Prompt:
        wanted = fair_reading_wanted(self.sitting) or lead_wanted(self.sitting, self._channel)
        if wanted is not None:
            return wanted
        advice = self.sitting.advice.get(self._channel)
        name = side(self._channel)
        text = self._text(name, advice)
        choices = (
            Choice(_DONE, f"The {name} trimmer is set", default=True),
            Choice(_GIVE_UP, f"The {name} trimmer cannot be set"),
        )
        asked = Asked("trim", f"Say when the {name} trimmer is set{self._upset()}.", choices=choices)
        return Prompt(text, cautions.TRIMMING, asked, focus=self._channel)

    def _upset(self) -> str:
        """Which presets this one upsets, in words that end a sentence."""
        amplifier = self.sitting.amplifier
        presets = amplifier.presets_of(self._channel) if amplifier else ()
        upset = dict.fromkeys(name for preset in presets for name in preset.interacts_with)
        names = [f'"{name}"' for name in upset]
        return f"; look at {' and '.join(names)} again then, for they interact" if names else ""

    def _text(self, name: str, advice: TrimAdvice | None) -> str:
        """The advice; where the analysis has none to give, what the trimmer is for."""
        if advice is not None and advice.kind is not AdviceKind.CANNOT_SAY:
            return advice.text
        setup = self.sitting.channels.get(self._channel)
        described = self.sitting.described(self._channel)
        if described is not None and described.target_residual:
            return f"Turn the {name} trimmer by the residual: {described.target_residual.rstrip('.')}."
        if described is not None and described.target_watts is not None:
            return f"Turn the {name} trimmer slowly towards {figure(described.target_watts, Unit.WATT)}."
        if setup is None or setup.target_volts is None:
            return f"Turn the {name} trimmer slowly, and watch the reading."
        target = figure(setup.target_volts, resolution=RESOLUTION)
        return f"Turn the {name} trimmer slowly towards {target}, and watch the reading."
