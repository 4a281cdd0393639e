"""One repair visit: the unit's name, what a session is called, and everything that a job sheet holds.

All of it can be given at any time: before, during, or long after the work. A job is a list of facts in the
order in which they were written down; what they come to is folded in `procedures.records.job_sheet`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from drivers.reading import Unit


@dataclass(frozen=True, slots=True)
class UnitName:
    """One amplifier: maker and model as printed, and its serial number."""

    maker: str = ""
    model: str = ""
    serial: str = ""

    def __str__(self) -> str:
        """The name as a person says it."""
        name = " ".join(part for part in (self.maker, self.model) if part)
        serial = f"serial {self.serial}" if self.serial else ""
        return ", ".join(part for part in (name, serial) if part)


@dataclass(frozen=True, slots=True)
class Naming:
    """A session's names: the unit, the job's number, and words of the technician's own.

    Not the customer's name: that is kept apart, so that it can be erased without touching measurements.
    """

    unit: UnitName = UnitName()
    job: str = ""
    words: str = ""
    given_utc: str = ""


class SheetField(StrEnum):
    """One line of the job sheet that is filled in with words. Its value is what stands on the sheet."""

    NUMBER = "job number"
    CUSTOMER_REFERENCE = "customer reference"  # the workshop's own word for the customer, not the name
    DATE_IN = "date in"
    MAKER = "maker"
    MODEL = "model"
    SERIAL = "serial"
    MAINS = "mains voltage"
    FUSE = "fuse rating"
    PROTECTION_CLASS = "protection class"
    MODIFICATIONS = "modifications"
    ACCESSORIES = "accessories"
    CONDITION = "condition"  # of the cabinet: scratches, dents, smell of smoke
    COMPLAINT = "complaint"  # in the customer's words
    COMPLAINT_WHEN = "when it happens"  # cold, warm, at which volume, channel and source
    CONNECTED = "what was connected"
    EARLIER_REPAIRS = "earlier repairs"
    WARRANTY = "warranty"
    CONSENT = "consent"
    ESTIMATE = "estimate"
    CEILING = "estimate ceiling"
    DEPOSIT = "deposit"
    DIAGNOSIS = "diagnosis"
    PRICE = "price"
    COLLECTED = "collected"


class State(StrEnum):
    """When something was so. The three are never mixed."""

    AS_RECEIVED = "as received"
    AS_FOUND = "as found"
    AS_LEFT = "as left"


class Reproduced(StrEnum):
    """Whether the complaint was met again at the bench."""

    YES = "reproduced"
    NO = "did not recur"
    NOT_TRIED = "not tried"


class JobOutcome(StrEnum):
    """How a job ended. Leaving a unit alone is a result."""

    REPAIRED = "repaired"
    ADJUSTED = "adjusted"
    LEFT_ALONE = "left alone"
    NO_FAULT_FOUND = "no fault found"
    DECLINED = "declined"
    BEYOND_ECONOMIC_REPAIR = "beyond economic repair"
    RETURNED_UNREPAIRED = "returned unrepaired"


class EntryKind(StrEnum):
    """What can be taken back again, besides a part (`PartTakenBack`)."""

    STATE = "state"
    WORK = "work"
    TEST = "test left out"
    PHOTOGRAPH = "photograph"
    OUTCOME = "outcome"


@dataclass(frozen=True, slots=True)
class Filled:
    """A line of the sheet was filled in, or filled in anew; empty words clear it."""

    at_utc: datetime
    sheet_field: SheetField
    words: str


@dataclass(frozen=True, slots=True)
class ComplaintTried:
    """Somebody tried to reproduce the complaint, for so many hours."""

    at_utc: datetime
    reproduced: Reproduced
    hours: float | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class StateNoted:
    """Something measured or seen in one of the three states; a later one of the same name replaces it.

    `value` is in SI units and None where there is none: `reason` then says why it was not measured, unless
    it is something seen that `words` tell.
    """

    at_utc: datetime
    state: State
    name: str
    value: float | None = None
    unit: Unit | None = None
    channel: str = ""
    words: str = ""
    reason: str = ""

    @property
    def key(self) -> str:
        """What tells it from the others."""
        return "\n".join((self.state.value, self.name, self.channel))


@dataclass(frozen=True, slots=True)
class PartFitted:
    """A part that was fitted. `part` identifies it, so that the entry can be corrected or taken back.

    `returned` is whether the old part went back to the customer; None: nobody has said.
    """

    at_utc: datetime
    part: str
    reference: str
    rating_asked: str = ""
    rating_fitted: str = ""
    quantity: int = 1
    maker: str = ""
    source: str = ""
    batch: str = ""
    matched: str = ""
    price: str = ""
    safety_critical: bool = False
    customer_supplied: bool = False
    returned: bool | None = None
    words: str = ""

    @property
    def questions(self) -> tuple[str, ...]:
        """What ought to be looked at before this part is relied on."""
        asked = []
        if self.customer_supplied or not self.source.strip():
            asked.append(NO_SOURCE)
        asked_for, fitted = (" ".join(r.split()).casefold() for r in (self.rating_asked, self.rating_fitted))
        if asked_for and fitted and asked_for != fitted:
            mark = " This part is marked safety-critical." if self.safety_critical else ""
            asked.append(f"Fitted is {self.rating_fitted}, asked for is {self.rating_asked}.{mark}")
        return tuple(asked)


# Common practice, no source.
NO_SOURCE = (
    "Where it came from is not known to the workshop. Semiconductors with false markings are about: compare "
    "it with one that is known before it is relied on."
)


@dataclass(frozen=True, slots=True)
class PartTakenBack:
    """The entry of a part was wrong: it counts no more."""

    at_utc: datetime
    part: str
    words: str = ""


@dataclass(frozen=True, slots=True)
class Worked:
    """Something was done: step, part, fault, action, and how long it took.

    `entry` identifies it, so that it can be corrected; one without is told by its time and its words.
    """

    at_utc: datetime
    action: str
    step: str = ""
    reference: str = ""
    fault: str = ""
    minutes: float | None = None
    entry: str = ""

    @property
    def key(self) -> str:
        """What tells it from the others."""
        return self.entry or "\n".join((self.at_utc.isoformat(), self.step, self.reference, self.action))


@dataclass(frozen=True, slots=True)
class TestLeftOut:
    """A test that was not done, and why."""

    at_utc: datetime
    test: str
    reason: str

    __test__ = False  # not a test, whatever pytest thinks of the name

    @property
    def key(self) -> str:
        """What tells it from the others."""
        return self.test


@dataclass(frozen=True, slots=True)
class Photographed:
    """A picture of the unit in one of the three states; `file` is its name among the attachments.

    `of_customer`: it shows who the customer is (a receipt, a label), and is erased with that.
    """

    at_utc: datetime
    file: str
    words: str = ""
    state: State | None = None
    of_customer: bool = False

    @property
    def key(self) -> str:
        """What tells it from the others."""
        return self.file


@dataclass(frozen=True, slots=True)
class SessionFiled:
    """A session belongs to this job, or (`belongs` False) no longer does; by its identifier."""

    at_utc: datetime
    session: str
    belongs: bool = True


@dataclass(frozen=True, slots=True)
class Concluded:
    """How the job ended; a later one replaces it."""

    at_utc: datetime
    outcome: JobOutcome
    words: str = ""


@dataclass(frozen=True, slots=True)
class TakenBack:
    """The entry of this kind and key was wrong: it counts no more. With an outcome the job goes on."""

    at_utc: datetime
    what: EntryKind
    key: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class IdentityErased:
    """The file with the customer's identity was erased."""

    at_utc: datetime


JobFact = (
    Filled
    | ComplaintTried
    | StateNoted
    | PartFitted
    | PartTakenBack
    | Worked
    | TestLeftOut
    | Photographed
    | SessionFiled
    | Concluded
    | TakenBack
    | IdentityErased
)


@dataclass(frozen=True, slots=True)
class Customer:
    """Who the customer is. Kept apart from everything else, in one file that can be erased."""

    name: str = ""
    contact: str = ""
    words: str = ""
