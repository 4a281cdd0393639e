"""Names that somebody gave (amplifiers, meters, channels, units): the same in every language.

Whatever shows such a name tells it here first, so that a sentence is not left in English because of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from app.language import pass_names

if TYPE_CHECKING:
    from app.windows.jobs.ports import JobLine
    from app.windows.ports import BenchPicture
    from app.windows.start_lists import Card, SessionLine

_SERIAL = re.compile(r",\sserial\s")


def names_offered(*lists: Iterable[Card]) -> None:
    """What a start screen offers; a meter's card has its channel beside its name."""
    pass_names(part for cards in lists for card in cards for part in card.title.split(" · "))


def names_at_bench(picture: BenchPicture) -> None:
    """What is at one bench: the unit, its channels, its meters."""
    pass_names((picture.unit_name, *(setup.channel for setup in picture.setups)))
    pass_names(name for lead in picture.leads for name in (lead.channel or "", lead.meter))


def names_of_sessions(lines: Iterable[SessionLine]) -> None:
    """What past sessions are called."""
    pass_names(name for line in lines for name in (_unit(line.title), line.serial, line.model))


def names_of_jobs(lines: Iterable[JobLine]) -> None:
    """The units of jobs, each without its serial number."""
    pass_names(_unit(line.unit) for line in lines)


def _unit(words: str) -> str:
    """The words without a serial number at their end, which is worded by itself."""
    return _SERIAL.split(words)[0]
