"""A bench in stepped time: everything runs in one thread, and nothing sleeps."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable
from typing import Protocol

from drivers.clock import SteppedClock


class Steppable(Protocol):
    """A core that does what is due and says when it is due again."""

    def advance(self, now_s: float) -> float:
        """Do what is due at bench time `now_s`; when the next call is due."""
        ...


class SteppedTurns:
    """Calls every part when it is due, moving the clock from one due moment to the next.

    Parts that are due at the same moment are called in the order in which they were given: meters before
    the conductor, the conductor before the hands.
    """

    def __init__(self, clock: SteppedClock, parts: Iterable[Steppable]) -> None:
        self._clock = clock
        now_s = clock.now()
        self._due: list[tuple[float, int, Steppable]] = [
            (now_s, place, part) for place, part in enumerate(parts)
        ]
        heapq.heapify(self._due)

    def run(self, until: Callable[[], bool], at_most_s: float) -> bool:
        """Step until `until()` holds; whether it did within `at_most_s` of bench time."""
        limit_s = self._clock.now() + at_most_s
        while not until():
            due_s, place, part = self._due[0]
            if due_s > limit_s:
                self._clock.advance_to(limit_s)
                return False
            self._clock.advance_to(due_s)
            again_s = part.advance(self._clock.now())
            # A part that is due again at once must still let the others have their turn.
            heapq.heapreplace(self._due, (max(again_s, due_s + 1e-6), place, part))
        return True
