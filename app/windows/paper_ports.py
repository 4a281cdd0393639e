"""What the window needs of everything that is written about amplifiers and jobs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from app.bench.snapshot import Trace
from app.records.history_facts import ModelHistory, Wanted
from app.windows.amplifier_ports import AmplifierFiles
from app.windows.start_lists import SessionLine
from procedures.analysis.remembered import RememberedWarmUp

WarmUps = tuple[RememberedWarmUp, ...]
Recollection = Callable[[], WarmUps]


@dataclass(frozen=True, slots=True)
class Laid:
    """A session's traces to be laid beside others; their seconds count from its first power-on.

    `from_power_on` is False where nobody said when that was: then they count from the session's start.
    """

    title: str
    began: str
    traces: tuple[Trace, ...]
    from_power_on: bool = True
    practice: bool = False


class Papers(AmplifierFiles, Protocol):
    """Jobs, amplifiers, data files, the archive. Refusals are ValueError or OSError with one sentence.

    Everything but `recollection` and `practised` may take seconds: for a thread.
    """

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

    def find(self, wanted: Wanted, *, file_first: bool = False) -> tuple[SessionLine, ...]:
        """The sessions of every bench that fit everything that is wanted, newest first.

        `file_first` files what is missing in the archive before it is asked.
        """
        ...

    def filed(self, key: str) -> SessionLine | None:
        """A session of this bench as the archive knows it, with the model and serial number of its unit."""
        ...

    def outdated(self) -> int:
        """How many sessions of this bench an older program has filed and nobody has filed anew yet."""
        ...

    def model_history(self, model: str, *, practice: bool) -> ModelHistory:
        """What a model did so far; practice counts only when asked for."""
        ...

    def laid(self, keys: Sequence[str]) -> tuple[Laid, ...]:
        """The traces of sessions of this bench, to be laid over each other."""
        ...

    def take_in(self, path: Path) -> str:
        """Take a session out of a bundle; what was taken, in words."""
        ...
