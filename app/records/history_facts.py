"""What is asked of the archive and what it answers, as plain facts: usable without any database."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

MOST = 200


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is looked for; what is empty does not matter. Dates are UTC, `until` not included."""

    serial: str = ""
    model: str = ""
    reference: str = ""
    job: str = ""
    outcome: str = ""
    since: datetime | None = None
    until: datetime | None = None
    words: str = ""
    practice: bool = True
    most: int = MOST


@dataclass(frozen=True, slots=True)
class Visit:
    """One session as the archive knows it; `folder` is the name of its folder at its bench."""

    bench: str
    session: str
    folder: str
    started_utc: datetime
    title: str
    unit: str
    serial: str
    job: str
    outcome: str
    summary: str
    practice: bool
    lasted_s: float
    model: str = ""


@dataclass(frozen=True, slots=True)
class Spread:
    """A quantity over many visits: how many, and least, quartiles and most; `values` ascend."""

    count: int
    least: float
    lower: float
    median: float
    upper: float
    most: float
    values: tuple[float, ...] = field(default=(), compare=False)


@dataclass(frozen=True, slots=True)
class ModelHistory:
    """What a model did so far, by channel; `faults` are kinds with how many sessions had them.

    `units` counts serial numbers, `unnumbered` the sessions of which none is known.
    """

    model: str
    sessions: int
    as_left: dict[str, Spread]
    drift: dict[str, Spread]
    settled_s: dict[str, Spread]
    faults: tuple[tuple[str, int], ...]
    units: int = 0
    unnumbered: int = 0
