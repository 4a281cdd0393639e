"""Frozen facts that a run takes in and gives out.

Everything that decides is an *input*; everything that a run says is an *output*. Both are kept in the
journal, so that feeding the inputs to a new run gives the outputs again. Times are session seconds
(`at_s`), counted from the session's start. Inputs may arrive out of order by a reading's length.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from drivers.reading import GapReason, MeterState, ReadingFlag, Unit
from procedures.observed import Captured, Inspected

# --- inputs -------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ChannelReading:
    """A value of a channel: the middle of its interval, and half its length."""

    at_s: float
    channel: str
    value: float
    unit: Unit = Unit.VOLT
    half_s: float = 0.0
    flags: frozenset[ReadingFlag] = frozenset()


@dataclass(frozen=True, slots=True)
class ChannelGap:
    """A channel had no value from `at_s` to `until_s`."""

    at_s: float
    until_s: float
    channel: str
    reason: GapReason
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Answer:
    """A person answered a question or confirmed an instruction. `choice` is one of the offered keys."""

    at_s: float
    question: str
    choice: str
    text: str = ""


@dataclass(frozen=True, slots=True)
class LeadMoved:
    """The probes of one meter input now touch another channel (None: nothing)."""

    at_s: float
    meter: str
    input: str
    channel: str | None


class Supply(StrEnum):
    """What the amplifier is fed from. Declared by a person; the program cannot see or switch it."""

    OFF = "off"
    MAINS = "mains"
    SERIES_LAMP = "series lamp"
    REDUCED = "reduced mains"


@dataclass(frozen=True, slots=True)
class SupplyChanged:
    """The amplifier was switched, or its feed changed. Warm-up counts from leaving OFF."""

    at_s: float
    supply: Supply


@dataclass(frozen=True, slots=True)
class LidChanged:
    """The amplifier's cover was put on or taken off."""

    at_s: float
    fitted: bool


@dataclass(frozen=True, slots=True)
class DriveChanged:
    """A signal is applied to the amplifier, or no longer is."""

    at_s: float
    driven: bool


@dataclass(frozen=True, slots=True)
class TrimDeclared:
    """A person says that this channel's trimmer has been, or is being, turned."""

    at_s: float
    channel: str


@dataclass(frozen=True, slots=True)
class MeterChanged:
    """What a meter is doing now."""

    at_s: float
    meter: str
    state: MeterState
    detail: str = ""
    identity: str = ""


@dataclass(frozen=True, slots=True)
class Tick:
    """Time passed without anything else happening; fed when `next_deadline` is reached."""

    at_s: float


@dataclass(frozen=True, slots=True)
class RequestClosed:
    """What became of a request: done, or refused with the reason in `detail`."""

    at_s: float
    request: str
    done: bool
    detail: str = ""


@dataclass(frozen=True, slots=True)
class AudioMeasured:
    """What came of playing and recording for a request, for one output channel.

    `figures` are those of `procedures.analysis.audio.taking`; `conditions` is what they were taken under, and
    `capture` the digest of the samples where they were kept. `trouble` says in a sentence why there are none.
    """

    at_s: float
    request: str
    channel: str
    figures: dict[str, float] = field(default_factory=dict)
    conditions: str = ""
    capture: str = ""
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class Acknowledged:
    """A person has seen an alarm. It falls silent and re-arms 10 % higher."""

    at_s: float
    alarm: str


@dataclass(frozen=True, slots=True)
class PauseChanged:
    """The steps were paused or taken up again. Readings, record and alarms go on."""

    at_s: float
    paused: bool


@dataclass(frozen=True, slots=True)
class AwayChanged:
    """The person left the bench or came back."""

    at_s: float
    away: bool


@dataclass(frozen=True, slots=True)
class Note:
    """Words, or a bare mark on the trace when the text is empty."""

    at_s: float
    text: str = ""
    channel: str | None = None


@dataclass(frozen=True, slots=True)
class SegmentOpened:
    """Recording began again after a break that nobody watched (crash, sleep, resume)."""

    at_s: float
    reason: str
    unwatched_s: float
    supply: Supply


@dataclass(frozen=True, slots=True)
class StopRequested:
    """A person ends the run."""

    at_s: float
    reason: str = ""


Input = (
    ChannelReading
    | ChannelGap
    | Answer
    | LeadMoved
    | SupplyChanged
    | LidChanged
    | DriveChanged
    | TrimDeclared
    | MeterChanged
    | Tick
    | RequestClosed
    | AudioMeasured
    | Acknowledged
    | PauseChanged
    | AwayChanged
    | Note
    | SegmentOpened
    | StopRequested
)

# --- outputs ------------------------------------------------------------------------------------------


class StepState(StrEnum):
    """Where a step stands."""

    WAITING = "waiting"
    ACTIVE = "active"
    DONE = "done"
    SKIPPED = "skipped"
    STOPPED = "stopped"


@dataclass(frozen=True, slots=True)
class StepChanged:
    """A step began or ended, with the reason in words."""

    at_s: float
    step: str
    state: StepState
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Instruction:
    """What to do now: one sentence, verb first, with the caution that belongs to the situation beside it."""

    at_s: float
    step: str
    text: str
    caution: str = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """One possible answer. `key` is stored; `text` is what a person reads; `default` is the one big key."""

    key: str
    text: str
    default: bool = False


class AnswerKind(StrEnum):
    """How a question is answered."""

    CHOICE = "choice"
    TEXT = "text"
    VALUE = "value"


@dataclass(frozen=True, slots=True)
class Question:
    """Something only a person can say. `unit` is set where a value is asked for."""

    at_s: float
    id: str
    step: str
    text: str
    kind: AnswerKind = AnswerKind.CHOICE
    choices: tuple[Choice, ...] = ()
    unit: Unit | None = None


@dataclass(frozen=True, slots=True)
class Advice:
    """What the readings suggest for one channel, in words; replaces the channel's previous advice.

    `show_volts` is what the meter should show now, `rest_volts` where it will rest then.
    """

    at_s: float
    channel: str
    kind: str
    text: str
    show_volts: float | None = None
    rest_volts: float | None = None


class Outcome(StrEnum):
    """How a judgement ended."""

    PASSED = "passed"
    FAILED = "failed"
    LEFT_ALONE = "left alone"
    NOT_MEASURED = "not measured"


@dataclass(frozen=True, slots=True)
class Verdict:
    """A judgement, always with the reason.

    About a channel, about a `subject` of another kind, or about the whole (neither).

    A subject is something that is no channel: a relay contact, a joint, the spread over all pairs.
    """

    at_s: float
    step: str
    channel: str | None
    outcome: Outcome
    reason: str
    value: float | None = None
    subject: str = ""


@dataclass(frozen=True, slots=True)
class RecordedValue:
    """A value that the record keeps under a name: `as received`, `as found`, `as left`, `ambient` …

    `value` is None when it was not measured; `reason` then says why. `conditions` are words and numbers
    that belong to it: seconds from power-on, lid, supply, typed.
    """

    at_s: float
    name: str
    channel: str | None
    value: float | None
    unit: Unit
    conditions: dict[str, str] = field(default_factory=dict)
    reason: str = ""


class Tier(StrEnum):
    """How urgent an alarm is (the table of alarms is in `analysis.runaway`)."""

    LOOK = "look"
    ACT = "act"
    OFF = "off"
    LEAD = "lead"
    BLIND = "blind"


@dataclass(frozen=True, slots=True)
class Alarm:
    """Something that cannot wait. The same id again means the same alarm, escalated or re-armed."""

    at_s: float
    id: str
    tier: Tier
    channel: str | None
    text: str


@dataclass(frozen=True, slots=True)
class AlarmCleared:
    """The condition of an alarm has passed."""

    at_s: float
    id: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Disturbance:
    """Something that happened to a reading, named in words: step, scratchy wiper, hum beat, lid, slip."""

    at_s: float
    channel: str | None
    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class SettledChanged:
    """A channel became settled, or is no longer."""

    at_s: float
    channel: str
    settled: bool
    reason: str


class Action(StrEnum):
    """What a run may ask the conductor for."""

    RANGE = "range"
    PERIOD = "period"
    CLOSE_CHANNEL = "close scanner channel"
    PLAY = "play and record"  # the parameters are those of `procedures.analysis.audio.orders`
    SILENCE = "silence"
    # `guide` is "begin" or "end"; with `at_most_volts` all below that is right, else the advice says what is.
    GUIDE = "guide by sound"


@dataclass(frozen=True, slots=True)
class Request:
    """The run asks; the conductor carries out by `deadline_s` or refuses with a reason."""

    at_s: float
    id: str
    action: Action
    subject: str  # the channel, lead or output it is about
    parameters: dict[str, float | str] = field(default_factory=dict)
    deadline_s: float = 0.0


@dataclass(frozen=True, slots=True)
class RunEnded:
    """Nothing more will be asked. `finished` is False when it was stopped."""

    at_s: float
    finished: bool
    reason: str


Event = (
    StepChanged
    | Instruction
    | Question
    | Advice
    | Verdict
    | Inspected
    | Captured
    | RecordedValue
    | Alarm
    | AlarmCleared
    | Disturbance
    | SettledChanged
    | Request
    | RunEnded
)
