"""What the start screen offers, as facts, and who is asked for them: small enough to be there at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

GROUP_ROLE = 0x0100 + 78  # of an item of a box: the heading under which its list shows it


@dataclass(frozen=True, slots=True)
class Card:
    """Something to be chosen on the start screen: `key` is handed back, `group` a heading for several."""

    key: str
    title: str
    detail: str = ""
    group: str = ""


@dataclass(frozen=True, slots=True)
class JobAtBench:
    """A job that a run is to be begun for: its key, what it is called, and its unit."""

    key: str
    name: str
    maker: str = ""
    model: str = ""
    serial: str = ""


@dataclass(frozen=True, slots=True)
class SessionLine:
    """A past session as its header or the archive tells it; `here` is False for another bench's."""

    key: str
    title: str
    started: str
    procedure: str
    lasted_s: float | None = None
    outcome: str = ""
    finished: bool = False
    practice: bool = False
    here: bool = True
    serial: str = ""
    model: str = ""


class StartLists(Protocol):
    """What can be chosen from. Asked in the window's thread: every answer takes milliseconds."""

    def meters(self) -> tuple[Card, ...]:
        """The meters that were used before, most recent first."""
        ...

    def amplifiers(self) -> tuple[Card, ...]:
        """The amplifiers that are known."""
        ...

    def procedures(self) -> tuple[Card, ...]:
        """The procedures that can be carried out."""
        ...

    def last_job(self) -> tuple[str, str]:
        """Amplifier and procedure of the guided job that was begun last; empty words before the first."""
        ...

    def simulated_units(self) -> tuple[Card, ...]:
        """The units that the simulated bench can play."""
        ...

    def newest(self, many: int) -> tuple[SessionLine, ...]:
        """The newest sessions, so many at the most."""
        ...
