"""What keys do to the traces: closer, wider, earlier, later, cursors, back to now."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Protocol

CLOSER = 0.5
STEP = 0.005  # of what is in view
FAR = 0.05
SCREENFUL = 0.25


class MovedTraces(Protocol):
    """A plot of traces that can be moved about, with cursors on it."""

    def zoom(self, factor: float) -> None:
        """Show `factor` times as long a stretch."""
        ...

    def pan(self, share: float) -> None:
        """Move by a share of what is in view, to later times where positive."""
        ...

    def next_cursor(self) -> None:
        """One cursor, then two, then none."""
        ...

    def swap_cursors(self) -> None:
        """Let the keys move the other one."""
        ...

    def move_cursor(self, share: float) -> None:
        """Move the chosen cursor by a share of what is in view."""
        ...


def trace_deeds(plot: MovedTraces, back: Callable[[], None]) -> dict[str, Callable[[], None]]:
    """The deeds that concern the traces alone, by name; `back` ends all moving about."""
    return {
        "follow": back,
        "cursor": plot.next_cursor,
        "cursor-swap": plot.swap_cursors,
        "cursor-earlier": partial(plot.move_cursor, -STEP),
        "cursor-later": partial(plot.move_cursor, STEP),
        "cursor-far-earlier": partial(plot.move_cursor, -FAR),
        "cursor-far-later": partial(plot.move_cursor, FAR),
        "zoom-in": partial(plot.zoom, CLOSER),
        "zoom-out": partial(plot.zoom, 1.0 / CLOSER),
        "pan-earlier": partial(plot.pan, -SCREENFUL),
        "pan-later": partial(plot.pan, SCREENFUL),
    }
