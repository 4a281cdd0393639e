"""What the window needs of everything that is written about amplifiers and jobs."""

from __future__ import annotations

from typing import Protocol


class Papers(Protocol):
    """Jobs, amplifiers and data files. Refusals are ValueError or OSError with one sentence."""

    def left_before(self, model: str) -> tuple[float, ...]:
        """What channels of this model were left at before, in volts. May take seconds: for a thread."""
        ...
