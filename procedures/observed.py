"""What a person looked at, and what was taken down from point to point: events of a run (`events.Event`)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

# The question of a checklist to which a picture is the answer.
WHICH_PHOTOGRAPH = "Say which photograph it is, by its file or number."


class CheckResult(StrEnum):
    """What a person says about one thing that is looked at."""

    PASSED = "pass"
    FAILED = "fail"
    NOT_THERE = "does not apply"


@dataclass(frozen=True, slots=True)
class Inspected:
    """One thing of a checklist was looked at: what was found, in words where any were given.

    `photograph` is the attachment that shows it, or how a person named a picture that is kept elsewhere;
    `further` are the others of several.
    """

    at_s: float
    step: str
    item: str
    text: str
    result: CheckResult
    words: str = ""
    photograph: str = ""
    further: tuple[str, ...] = ()

    @property
    def photographs(self) -> tuple[str, ...]:
        """All of them, in the order in which they were named."""
        return tuple(filter(None, (self.photograph, *self.further)))


@dataclass(frozen=True, slots=True)
class Captured:
    """One of several points was taken down hands-free; a sound may say so. `following` is the next point.

    `value` is without its sign and None where the point was passed over; `number` counts from 1 to `total`.
    """

    at_s: float
    step: str
    channel: str
    point: str
    value: float | None
    number: int
    total: int
    following: str = ""
