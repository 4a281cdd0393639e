"""Past sessions as lines for a person."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from app.records.session_folder import PastSession, is_in_use

if TYPE_CHECKING:
    from rich.table import Table


def session_table(sessions: Sequence[PastSession]) -> Table:
    """The sessions, one a row."""
    from rich.table import Table  # a list in the window does without

    table = Table(box=None, pad_edge=False)
    for heading in ("session", "unit", "procedure", "min", "how it ended"):
        # A key is copied into the next command: one that wraps cannot be.
        whole = heading == "session"
        table.add_column(
            heading, overflow="fold", justify="right" if heading == "min" else "left", no_wrap=whole
        )
    for past in sessions:
        title = past.header.title if past.header is not None else ""
        minutes = "" if past.lasted_s is None else f"{past.lasted_s / 60.0:.0f}"
        table.add_row(past.key, past.unit, title, minutes, ending_words(past))
    return table


def ending_words(past: PastSession) -> str:
    """How a session ended, in a few words."""
    if past.trouble:
        return past.trouble
    if past.ended is not None:
        return past.ended.reason.partition(" (")[0].rstrip(".;") + "."
    if past.closed:
        return "closed"
    return "being recorded now" if is_in_use(past.folder) else "not closed: the program was cut off"
