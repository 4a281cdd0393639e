"""What a screen may show of the signals of a session: the newest captures, all figures by their orders."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from drivers.audio.capture import Capture
from procedures.amplifier import Amplifier
from procedures.analysis.audio.taken import Taken, taken_of
from procedures.ratings import Ratings


@dataclass(frozen=True, slots=True)
class Signals:
    """`ratings` is what the figures are held against.

    Without `captures` (a past session) spectrum and residual cannot be shown.
    """

    captures: tuple[Capture, ...] = ()
    taken: tuple[Taken, ...] = ()
    ratings: Ratings = field(default_factory=Ratings)

    @property
    def measure(self) -> str:
        """What was measured last."""
        return self.taken[-1].measure if self.taken else ""


def past_signals(facts: Iterable[object], amplifier: Amplifier | None) -> Signals | None:
    """The signals of a recorded session; None where nothing was played."""
    taken = taken_of(facts)
    ratings = amplifier.ratings if amplifier is not None else Ratings()
    return Signals((), taken, ratings) if taken else None
