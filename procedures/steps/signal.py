"""Signal: one measurement of the verification, from the first tone to a verdict for each channel.

The plans (`signal_plans`) say what is played and what follows from it; here is how a plan is carried out: the
requests, the answers of the audio bench, rests, questions, and silence whenever the step is left.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from procedures.analysis.audio.fitness import CannotMeasure
from procedures.events import (
    Action,
    Answer,
    AudioMeasured,
    Choice,
    DriveChanged,
    Input,
    Outcome,
    RequestClosed,
    Tier,
)
from procedures.steps import signal_setting as plans
from procedures.steps.signal_path import ALLOWED, PATH_FINDING
from procedures.steps.signal_plans import plan
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, Conduct, Prompt, StepFields

AGAIN, SKIP, READY = "again", "skip", "ready"
PLAYING = "The generator plays: hands off the output terminals, speakers disconnected."
BY_METER = ("gain", "level", "power", "response")
_PATIENCE_S = 30.0
_WORTH_SAYING_S = 1.5


class SignalStep(StepFields):
    """What is measured, into which load, on which outputs, against the amplifier's ratings.

    `warm_minutes` is how long `preconditioning` plays.
    `at_hz` are the frequencies of `level`, which a multimeter reads; `by_hand`: a person drives the inputs.
    `read_by` lets the multimeter's AC volts measure gain, response and power too, without a recorder.
    `rest_s` is the pause after each stretch near full power, for the load and the heatsink.
    """

    OUTCOMES: ClassVar[tuple[str, ...]] = ("passed", "failed", "recorded", "not measured")

    kind: Literal["signal"]
    measure: Literal[
        "gain",
        "power",
        "distortion",
        "response",
        "quick response",
        "preconditioning",
        "noise",
        "crosstalk",
        "modulation",
        "difference tones",
        "damping",
        "level",
    ]
    load_ohm: float = Field(default=8.0, gt=0.0, le=1000.0)
    outputs: tuple[str, ...] = Field(default=("left", "right"), min_length=1, max_length=8)
    distortion_percent: float = Field(default=1.0, gt=0.0, le=50.0)
    rest_s: float = Field(default=5.0, ge=0.0, le=3600.0)
    rated_only: bool = False
    warm_minutes: float = Field(default=60.0, gt=0.0, le=240.0)
    at_hz: tuple[Annotated[float, Field(ge=1.0, le=1e6)], ...] = Field((1000.0,), min_length=1, max_length=40)
    by_hand: bool = False
    read_by: Literal["recorder", "ac volts"] = "recorder"

    @model_validator(mode="after")
    def _can_be_read_so(self) -> Self:
        if self.read_by == "ac volts" and self.measure not in BY_METER:
            raise ValueError(f"{self.measure} needs a recorder; AC volts do for {', '.join(BY_METER)}")
        return self

    def open(self, sitting: Sitting) -> Conduct:
        """Start."""
        return _Measuring(self, sitting)

    def unfit(self, sitting: Sitting) -> str:
        """Left out where the amplifier has no rating into this load and the line asks for one."""
        ratings = sitting.amplifier.ratings if sitting.amplifier is not None else None
        rated = any(power.load_ohm == self.load_ohm for power in ratings.power) if ratings else False
        return f"no rating into {self.load_ohm:g} Ω" if self.rated_only and not rated else ""


class _Measuring(Conduct):
    needs_power = True

    def __init__(self, line: SignalStep, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line
        self._plan = plan(line.measure, plans.Setting.of(line, sitting), sitting)
        self._now: plans.Wish | None = None
        self._request = ""
        self._asked_s = 0.0
        self._got: dict[str, AudioMeasured] = {}
        self._trouble = ""
        self._rest_until_s: float | None = None

    # --- facts --------------------------------------------------------------------------------------

    def begin(self) -> None:
        if self.sitting.findings.get(PATH_FINDING) != ALLOWED:
            self._give_up("how the recorder may be connected was not settled")
            return
        self._go_on(None)

    def feed(self, fact: Input) -> None:
        if self.ending is not None or self._now is None:
            return
        if self._hot():
            self._silence()
            self._give_up("stopped at an alarm")
            return
        if isinstance(fact, AudioMeasured) and fact.request == self._request:
            self._got[fact.channel] = fact
        elif isinstance(fact, RequestClosed) and fact.request == self._request:
            self._closed(fact)
        elif isinstance(fact, DriveChanged) and self._waiting:
            self._asked_s = self.sitting.at_s  # a sign of life: the next of many tones
        elif self._rest_until_s is not None and self.sitting.at_s >= self._rest_until_s - 1e-6:
            self._rest_until_s = None
            self._go_on(None)
        elif self._waiting and self.sitting.at_s > self._asked_s + self._patience_s():
            self._silence()
            self._trouble = "the audio bench did not answer in time"
            self._request = ""

    def answer(self, name: str, answer: Answer) -> None:
        if answer.choice == SKIP:
            self._silence()
            self._give_up(self._trouble or "a person chose not to measure it")
        elif answer.choice == AGAIN and self._trouble:
            self._trouble = ""
            self._carry_out()
        elif answer.choice == READY and isinstance(self._now, plans.Ask):
            self._go_on(None)

    def deadline_s(self) -> float | None:
        if self._rest_until_s is not None:
            return self._rest_until_s
        return self._asked_s + self._patience_s() + 0.1 if self._waiting else None

    def lose_power(self) -> None:
        self._silence()
        self._rest_until_s = None  # nothing goes on by itself: a person says when to measure again
        self._trouble = "the amplifier was switched off"

    def leave(self) -> None:
        self._silence()
        self._plan.close()

    # --- going on -----------------------------------------------------------------------------------

    def _closed(self, fact: RequestClosed) -> None:
        self._request = ""
        troubles = [one.trouble for one in self._got.values() if one.trouble]
        if not fact.done or troubles:
            self._trouble = troubles[0] if troubles else fact.detail or "the audio bench refused"
            return
        self._go_on({channel: one.figures for channel, one in self._got.items()})

    def _go_on(self, result: Mapping[str, Mapping[str, float]] | None) -> None:
        try:
            self._now = self._plan.send(result)
        except StopIteration as over:
            outcome, reason = over.value
            self._now = None
            self.end(outcome, reason)
            return
        except CannotMeasure as reason:
            self._give_up(str(reason))
            return
        self._carry_out()

    def _carry_out(self) -> None:
        match self._now:
            case plans.Play(order=order, read_by=read_by, at=at):
                self._got = {}
                self._asked_s = self.sitting.at_s
                what = order.parameters() | {"measure": self._line.measure}
                what |= {"read_by": read_by, "at": at} if read_by else {}
                self._request = self.sitting.request(Action.PLAY, "outputs", self._patience_s(), **what)
            case plans.Rest(seconds=seconds):
                self._rest_until_s = self.sitting.at_s + seconds
            case _:
                pass

    def _silence(self) -> None:
        if self._request:
            self.sitting.request(Action.SILENCE, "outputs")
            self._request = ""

    def _give_up(self, reason: str) -> None:
        for output in self._line.outputs:
            subject = f"{self._line.title}, {output}"
            self.sitting.judge(None, Outcome.NOT_MEASURED, f"{subject}: {reason}", None, subject)
        self._now = None
        self.end("not measured", reason)

    @property
    def _waiting(self) -> bool:
        return bool(self._request)

    def _patience_s(self) -> float:
        return _PATIENCE_S + (self._now.order.seconds if isinstance(self._now, plans.Play) else 0.0)

    def _hot(self) -> bool:
        return any(
            alarm.alarm.tier in (Tier.ACT, Tier.OFF) and not alarm.acknowledged
            for alarm in self.sitting.alarms.values()
        )

    # --- asking -------------------------------------------------------------------------------------

    def prompt(self) -> Prompt:
        skip = Choice(SKIP, "Not measured")
        if self._trouble:
            said = self._trouble[0].upper() + self._trouble[1:].rstrip(".")
            text = f"{said}. Put it right, then measure again."
            return Prompt(
                text, asked=Asked("trouble", text, choices=(Choice(AGAIN, "Measure again", True), skip))
            )
        match self._now:
            case plans.Ask(text=text, caution=caution):
                return Prompt(
                    text, caution, Asked("ready", text, choices=(Choice(READY, "Done", True), skip))
                )
            case plans.Rest(why=why):
                return Prompt(
                    f"{why}.", asked=Asked("rest", why, choices=(skip,)), progress=self._plan_progress()
                )
            case plans.Play(says=says):
                left = _left_words(self._now)
                return Prompt(
                    f"{says}{left}.",
                    PLAYING,
                    Asked("play", says, choices=(skip,)),
                    progress=self._plan_progress(),
                )
        return Prompt("")

    def _plan_progress(self) -> float | None:
        return getattr(self._now, "progress", None)


def _left_words(play: plans.Play) -> str:
    """How long it may still take, where that is worth saying and the plan has not said it itself."""
    seconds = play.left_s if play.left_s is not None else play.order.seconds + play.order.settle_s
    if "to go" in play.says or seconds < _WORTH_SAYING_S:
        return ""
    if seconds < 90.0:
        return f"; {math.ceil(seconds / 5.0) * 5:g} s to go at the most"
    return f"; {math.ceil(seconds / 60.0):g} min to go at the most"
