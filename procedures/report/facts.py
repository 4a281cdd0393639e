"""The facts of a report: every number that will stand on paper, with all that belongs to it.

SI units inside; a number that nobody measured is None, and its reason stands beside it. Not here: how they
are found in a record (`folding`), and how they are worded and laid out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from drivers.meter import MeterAccuracy
from drivers.reading import Unit
from procedures.amplifier import Condition
from procedures.analysis.channel import DecisionRule
from procedures.events import Alarm, Answer, Disturbance, Note, Outcome
from procedures.job import Customer, UnitName
from procedures.observed import Inspected
from procedures.records.job_sheet import JobSheet, StepTime


@dataclass(frozen=True, slots=True)
class Limits:
    """The window of a channel, what is accepted inside it, and what a reading may be wrong by.

    `expanded` is U for the coverage factor `k`, in the value's unit; None where no figures of the meter or
    display are known. Without `k` it is what the measurement itself stated. `accept_low` and `accept_high`
    are None without a guard band.
    """

    low: float | None = None
    high: float | None = None
    accept_low: float | None = None
    accept_high: float | None = None
    expanded: float | None = None
    k: float | None = None


@dataclass(frozen=True, slots=True)
class Measured:
    """A value under a name: `as found`, `as left`, `room` …; None with the reason where there is none.

    `about` is the channel, or what a person named; `conditions` are as the record has them. `words` are
    what was seen where there is nothing to measure.
    """

    name: str
    about: str
    value: float | None
    unit: Unit | None
    limits: Limits = Limits()
    conditions: Mapping[str, str] = field(default_factory=dict)
    reason: str = ""
    words: str = ""

    @property
    def typed(self) -> bool:
        """Whether a person typed it instead of a meter sending it."""
        return self.conditions.get("typed") == "yes"


@dataclass(frozen=True, slots=True)
class Judged:
    """A verdict with its subject, the value it is about, and the part of the work and step it came from.

    `state` is the name under which the value was recorded, such as `as found`.
    """

    part: str
    step: str
    about: str
    outcome: Outcome
    reason: str
    value: float | None = None
    unit: Unit | None = None
    limits: Limits = Limits()
    typed: bool = False
    state: str = ""


@dataclass(frozen=True, slots=True)
class Looked:
    """One thing of a checklist, with the title of its step."""

    step: str
    found: Inspected


@dataclass(frozen=True, slots=True)
class Target:
    """What a channel was to read, and on whose word."""

    channel: str
    unit: Unit
    target: float | None
    low: float | None
    high: float | None
    condition: Condition
    test_point: str
    resistance_ohm: float | None
    pairs: int
    source: str
    chosen_by: str
    reason: str
    rule: DecisionRule


@dataclass(frozen=True, slots=True)
class Instrument:
    """A meter as it named itself, what it read, and the figures that its uncertainty was reckoned with.

    `by_hand`: a display that a person read off. When it is to be calibrated again is not in the record.
    """

    name: str
    identity: str
    channels: tuple[str, ...]
    accuracy: MeterAccuracy | None
    address: str = ""
    by_hand: bool = False


@dataclass(frozen=True, slots=True)
class NotDone:
    """A test that was not done, and why."""

    what: str
    reason: str


@dataclass(frozen=True, slots=True)
class Deed:
    """Something that was done to the unit during a session: the step's title and how it ended."""

    step: str
    ended: str


@dataclass(frozen=True, slots=True)
class SessionPart:
    """One session of the visit. `ended` is in words; `load` is what the amplifier's data asks for.

    `remembered` are the days of earlier visits on which the forecast leaned.
    """

    session: str
    title: str
    unit: str
    job: str
    started_utc: datetime
    practice: bool
    program: str
    rules: str
    finished: bool
    ended: str
    readings: int
    gaps: int
    lasted_s: float
    on_s: float
    load: str = ""
    remembered: tuple[str, ...] = ()
    states: tuple[Measured, ...] = ()
    others: tuple[Measured, ...] = ()
    judged: tuple[Judged, ...] = ()
    whole: Judged | None = None
    looked: tuple[Looked, ...] = ()
    targets: tuple[Target, ...] = ()
    instruments: tuple[Instrument, ...] = ()
    surroundings: tuple[Measured, ...] = ()
    deeds: tuple[Deed, ...] = ()
    not_done: tuple[NotDone, ...] = ()
    alarms: tuple[Alarm, ...] = ()
    disturbances: tuple[Disturbance, ...] = ()
    notes: tuple[Note, ...] = ()
    words: tuple[Answer, ...] = ()
    times: tuple[StepTime, ...] = ()
    titles: Mapping[str, str] = field(default_factory=dict)
    closed: bool = True
    problems: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReportFacts:
    """One visit. A missing job is an empty sheet; a missing customer is None.

    `troubles` say what belongs to the visit and could not be read, one sentence each.
    """

    unit: UnitName
    sheet: JobSheet = field(default_factory=JobSheet)
    job: str = ""
    opened_utc: datetime | None = None
    customer: Customer | None = None
    sessions: tuple[SessionPart, ...] = ()
    troubles: tuple[str, ...] = ()

    @property
    def practice(self) -> bool:
        """Whether anything in it comes from a simulated amplifier."""
        return any(part.practice for part in self.sessions)

    @property
    def unit_name(self) -> str:
        """The unit as the sheet or the sessions name it; empty where nobody has."""
        return str(self.unit) or next((part.unit for part in self.sessions if part.unit), "")
