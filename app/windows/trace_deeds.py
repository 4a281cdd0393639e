"""What keys do to the traces: closer, wider, earlier, later, cursors, back to now."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from app.windows.plot import LivePlot

CLOSER = 0.5
STEP = 0.005  # of what is in view
FAR = 0.05
SCREENFUL = 0.25


def trace_deeds(plot: LivePlot) -> dict[str, Callable[[], None]]:
    """The deeds that concern the traces alone, by name."""
    return {
        "follow": plot.follow,
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
