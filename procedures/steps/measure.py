"""Measure: take a channel's reading down by itself when it is steady or settled, and judge it by its limits.

Hands stay off: the value is taken as soon as it may be. "Not measured", with one of four reasons, is an
answer by one key. One meter serves several channels: the step asks for the lead to be moved.
"""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from procedures import cautions
from procedures.analysis.channel import Position
from procedures.analysis.figures import duration
from procedures.events import Answer, ChannelGap, ChannelReading, Choice, Input, LeadMoved, Outcome
from procedures.steps.findings import CHANGED, FAR_HIGH, FAR_HIGH_FACTOR, INSIDE, NOT_MEASURED, RECORDED
from procedures.steps.judging import Limits, judged, limits_of, span_doubt
from procedures.steps.sitting import Sitting
from procedures.steps.steadiness import Steadiness
from procedures.steps.step import Asked, ChannelName, Conduct, Prompt, StepFields, Words
from procedures.steps.wanted import fair_reading_wanted, lead_wanted, quiet_wanted

_PATIENCE_MIN = {"steady": 2.0, "settled": 30.0}
DEAD = "dead"
_REASONS = {
    DEAD: "Not measured: dead",
    "too hot": "Not measured: too hot",
    "unsafe": "Not measured: unsafe",
    "already changed": "Not measured: already changed",
}
TAKE = "take"
AS_PLANNED, ELSEWHERE = "as planned", "other"
_OUTSIDE = (Position.ABOVE, Position.BELOW)
STEADY_SHARE = 0.01  # of the target: halves of the span may differ by so much
STEADY_LEAST = 1e-4  # V (or the channel's unit), where there is no target


class LimitFields(BaseModel):
    """Limits of this step, in place of the amplifier's."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)

    low_millivolts: float | None = None
    high_millivolts: float | None = None

    @model_validator(mode="after")
    def _ordered(self) -> LimitFields:
        low, high = self.low_millivolts, self.high_millivolts
        if low is None and high is None:
            raise ValueError("limits need low_millivolts, high_millivolts or both")
        if low is not None and high is not None and low >= high:
            raise ValueError(
                f"low_millivolts is {low:g} and high_millivolts {high:g}; low must be below high (swapped?)"
            )
        return self

    def limits(self) -> Limits:
        """The same in volts."""
        low, high = self.low_millivolts, self.high_millivolts
        return Limits(None if low is None else low / 1000.0, None if high is None else high / 1000.0)


class Measure(StepFields):
    """What to take down, under which name, and how it is judged.

    `until` says when the value may be taken. `judged = false` keeps the value and only looks whether it is
    far above the target (the state as found, cold). `as_found` marks a state before any work: it is taken
    once, it is "already changed" for a channel that was trimmed before, and a reading near half or twice
    the expected is asked about. With `leave_alone`, an accepted channel that nobody changed is left alone.
    `limits` go before the amplifier's own; `usual_limits` count where the amplifier has none.
    """

    OUTCOMES: ClassVar[tuple[str, ...]] = ("inside", "outside", "far high", "recorded", "not measured")

    kind: Literal["measure"]
    name: Words
    channels: tuple[ChannelName, ...] = Field(default=(), max_length=64)
    until: Literal["steady", "settled"] = "steady"
    patience_minutes: float | None = Field(default=None, gt=0.0, le=240.0)
    judged: bool = True
    as_found: bool = False
    leave_alone: bool = False
    limits: LimitFields | None = None
    usual_limits: LimitFields | None = None

    @property
    def patience_s(self) -> float:
        """How long a channel may take to become steady or settled, in seconds."""
        minutes = self.patience_minutes if self.patience_minutes is not None else _PATIENCE_MIN[self.until]
        return minutes * 60.0

    def open(self, sitting: Sitting) -> Conduct:
        """Start measuring."""
        return _Measuring(self, sitting)


class _Measuring(Conduct):
    needs_power = True

    def __init__(self, line: Measure, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line
        self.needs_warmth = line.until == "settled"
        self._channels = sitting.chosen(line.channels)
        self._pending = [channel for channel in self._channels if self._is_open(channel)]
        self._seen = {channel: Steadiness() for channel in self._pending}
        self._since_s: dict[str, float] = {}
        self._doubt: tuple[str, str, str] | None = None
        self._doubted: set[str] = set()
        self._to_move: str | None = None
        self._found: dict[str, str] = {}

    def begin(self) -> None:
        for channel in tuple(self._pending):
            if self._line.as_found and channel in self.sitting.changed:
                self._not_measured(channel, "already changed", CHANGED)
            elif self._is_dead(channel):
                self._not_measured(channel, DEAD, NOT_MEASURED)
        self._end_when_complete()

    def feed(self, fact: Input) -> None:
        if self._doubt is not None or self._to_move is not None:
            return
        if self._fair_wanted() is not None:
            self.lose_power()  # or what is as good as that: no reading counts now
        elif isinstance(fact, ChannelReading) and fact.channel in self._pending:
            self._since_s.setdefault(fact.channel, fact.at_s)
            self._seen[fact.channel].take(fact.at_s, fact.value)
        elif isinstance(fact, ChannelGap | LeadMoved) and fact.channel in self._seen:
            self._seen[fact.channel].forget()
        for channel in tuple(self._pending):
            self._consider(channel)
        self._end_when_complete()

    def lose_power(self) -> None:
        self._since_s.clear()
        for seen in self._seen.values():
            seen.forget()

    def answer(self, name: str, answer: Answer) -> None:
        channel = self._focus()
        if name == "span" and answer.choice in (AS_PLANNED, ELSEWHERE):
            self._settle_doubt(answer.choice)
        elif name == "moved" and self._to_move is not None:
            self._seen[self._to_move].forget()
            self._since_s.pop(self._to_move, None)
            self._to_move = None
        elif channel is not None and answer.choice in _REASONS:
            finding = CHANGED if answer.choice == "already changed" else NOT_MEASURED
            self._not_measured(channel, answer.choice, finding)
        elif channel is not None and answer.choice == TAKE and len(self._seen[channel]):
            self._take(channel, "taken by hand before it was known to stay")
        self._end_when_complete()

    def deadline_s(self) -> float | None:
        due = [since + self._line.patience_s for c, since in self._since_s.items() if c in self._pending]
        return min((due_s for due_s in due if due_s > self.sitting.at_s), default=None)

    # --- taking -------------------------------------------------------------------------------------

    def _is_open(self, channel: str) -> bool:
        name = self._line.name
        return not (self._line.as_found and self.sitting.recorded_value(name, channel) is not None)

    def _is_dead(self, channel: str) -> bool:
        """Whether a person said so earlier in this run; it is not asked again."""
        return any(
            r.channel == channel and r.value is None and r.reason == DEAD for r in self.sitting.recorded
        )

    def _fair_wanted(self) -> Prompt | None:
        """What has to be put right first; a value that is not judged may be taken on the lamp."""
        return fair_reading_wanted(self.sitting) if self._line.judged else quiet_wanted(self.sitting)

    def _focus(self) -> str | None:
        """The channel in hand: one that can be read as things are wired, else the next."""
        readable = (channel for channel in self._pending if self.sitting.readable(channel))
        return next(readable, self._pending[0] if self._pending else None)

    def _consider(self, channel: str) -> None:
        seen = self._seen[channel]
        if self._doubt is not None or not len(seen):
            return
        if self._may_be_taken(channel, seen):
            self._take(channel, "")
        elif self.sitting.at_s - self._since_s.get(channel, self.sitting.at_s) >= self._line.patience_s:
            why = self.sitting.state(channel).reason or "the reading keeps moving"
            self._take(channel, f"not {self._line.until} after {duration(self._line.patience_s)}: {why}")

    def _may_be_taken(self, channel: str, seen: Steadiness) -> bool:
        setup = self.sitting.channels.get(channel)
        expected = setup.target_volts if setup else None
        tolerance = max(STEADY_LEAST, STEADY_SHARE * (expected or abs(seen.value() or 0.0)))
        if self._line.until == "settled":
            state = self.sitting.state(channel)
            if state.settled is not None:
                # Inside the window only what will stay counts; outside it is enough that it came to rest.
                return state.settled or (state.rests is True and state.position in _OUTSIDE)
        elif self.sitting.is_typed(channel):
            return True
        return seen.steady(tolerance)

    def _take(self, channel: str, unsettled: str) -> None:
        value = self._seen[channel].value()
        if value is None:
            return
        doubt = span_doubt(self.sitting, channel, value) if self._line.as_found else ""
        if doubt and channel not in self._doubted:
            self._doubted.add(channel)
            self._doubt = (channel, doubt, unsettled)
            return
        self._pending.remove(channel)
        unit = self.sitting.channels[channel].unit
        more = {"settled": "no" if unsettled else "yes"} if self._line.until == "settled" else {}
        self.sitting.record(self._line.name, channel, value, unit, unsettled, **more)
        self._found[channel] = self._judge(channel, value, unsettled)
        self.sitting.findings[channel] = self._found[channel]

    def _judge(self, channel: str, value: float, unsettled: str) -> str:
        line, sitting = self._line, self.sitting
        if not line.judged:
            target = sitting.channels[channel].target_volts
            # Without the sign, as the alarms see it: reversed probes show the same current.
            far = target is not None and abs(value) > FAR_HIGH_FACTOR * target
            return FAR_HIGH if far else RECORDED
        limits = line.limits.limits() if line.limits else limits_of(sitting, channel)
        usual = line.usual_limits.limits() if line.usual_limits is not None else None
        if limits.low is None and limits.high is None and usual is not None:
            limits = usual
        if limits.low is None and limits.high is None:
            return RECORDED
        own = line.limits is not None or limits == usual
        finding, words = judged(sitting, channel, value, limits, own=own)
        if unsettled and line.until == "settled":
            # What may yet leave the window has not passed; what is outside has failed, settled or not.
            outcome = Outcome.NOT_MEASURED if finding == INSIDE else Outcome.FAILED
            sitting.judge(channel, outcome, f"{words}, but {unsettled}", value)
        elif finding != INSIDE:
            sitting.judge(channel, Outcome.FAILED, words, value)
        elif line.leave_alone and channel not in sitting.changed:
            sitting.judge(channel, Outcome.LEFT_ALONE, words, value)
        else:
            sitting.judge(channel, Outcome.PASSED, words, value)
        return finding

    def _not_measured(self, channel: str, reason: str, finding: str) -> None:
        self._pending.remove(channel)
        self.sitting.record(self._line.name, channel, None, self.sitting.channels[channel].unit, reason)
        self.sitting.judge(channel, Outcome.NOT_MEASURED, reason)
        self._found[channel] = self.sitting.findings[channel] = finding

    def _settle_doubt(self, choice: str) -> None:
        if self._doubt is None:
            return
        channel, _, unsettled = self._doubt
        self._doubt = None
        if choice == AS_PLANNED:
            self._take(channel, unsettled)
        else:
            self._to_move = channel

    def _end_when_complete(self) -> None:
        if self._pending or self.ending is not None:
            return
        found = set(self._found.values())
        if not found:
            self.end("recorded", "it was taken down before")
        elif not self._line.judged:
            self.end(FAR_HIGH if FAR_HIGH in found else RECORDED if RECORDED in found else NOT_MEASURED)
        elif found <= {INSIDE, RECORDED}:
            self.end(INSIDE if INSIDE in found else RECORDED, self._words())
        elif found <= {CHANGED, NOT_MEASURED}:
            self.end("not measured", self._words())
        else:
            self.end("outside", self._words())

    def _words(self) -> str:
        return "; ".join(f"{channel} {found}" for channel, found in self._found.items())

    # --- asking -------------------------------------------------------------------------------------

    def prompt(self) -> Prompt:
        channel = self._focus()
        if self._doubt is not None:
            return self._span_prompt(*self._doubt[:2])
        if self._to_move is not None:
            text = f"Switch off, and clip {self._to_move} to the points that the target is meant for."
            moved = Asked("moved", text, choices=(Choice("moved", "The clips are moved", default=True),))
            return Prompt(text, cautions.MOVING_LEAD, moved, focus=self._to_move)
        if channel is None:
            return Prompt("")
        if fair := self._fair_wanted():
            return fair
        wanted = lead_wanted(self.sitting, channel)
        asked = Asked(
            f"take {channel}", wanted.text if wanted else self._text(channel), choices=self._choices()
        )
        if wanted is not None:
            return Prompt(wanted.text, wanted.caution, asked, wanted.key_label, wanted.key_fact, channel)
        alone = not self.sitting.is_typed(channel)
        return Prompt(self._text(channel), cautions.TEST_POINTS, asked, focus=channel, by_itself=alone)

    def _text(self, channel: str) -> str:
        if self.sitting.is_typed(channel):
            often = ", once a minute until it has settled" if self._line.until == "settled" else ""
            return f"Read {channel} and type what the meter shows{often}."
        if self._line.until == "settled":
            return f"Keep your hands off {channel}: it is taken down once it has settled."
        return f"Keep your hands off {channel}: it is taken down once it is steady."

    @staticmethod
    def _choices() -> tuple[Choice, ...]:
        take = Choice(TAKE, "Take it as it is now")
        return (take, *(Choice(key, text) for key, text in _REASONS.items()))

    def _span_prompt(self, channel: str, doubt: str) -> Prompt:
        choices = (
            Choice(AS_PLANNED, "The probes are as planned", default=True),
            Choice(ELSEWHERE, "They are elsewhere: move them"),
        )
        text = f"Look where the probes of {channel} are, then answer."
        return Prompt(text, cautions.TEST_POINTS, Asked("span", doubt, choices=choices), focus=channel)
