"""What the window needs of everything that is written about amplifiers and jobs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from app.windows.amplifier_ports import AmplifierFiles
from procedures.analysis.remembered import RememberedWarmUp

WarmUps = tuple[RememberedWarmUp, ...]
Recollection = Callable[[], WarmUps]


class Papers(AmplifierFiles, Protocol):
    """Jobs, amplifiers and data files. Refusals are ValueError or OSError with one sentence."""

    def left_before(self, model: str) -> tuple[float, ...]:
        """What channels of this model were left at before, in volts. May take seconds: for a thread."""
        ...

    def recollection(self, model: str, serial: str) -> Recollection | None:
        """What finds how the unit of this model and serial number warmed up before.

        None where nobody could know. It may take seconds: for a thread. Practice is never among it.
        """
        ...

    def practised(self, unit: str) -> Recollection | None:
        """What finds how this simulated unit warmed up in practice before; None for one drawn by lot."""
        ...
