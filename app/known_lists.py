"""What this computer knows and the start screen offers, read without the rest of the program.

Names and titles are taken out of the files as they stand; whatever is chosen is loaded and checked when it is
opened. Importing this takes a tenth of what a bench needs, so the window can show it at once.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from app.amplifier_shelf import AmplifierShelf
from app.procedure_shelf import ProcedureShelf
from app.records.session_folder import PastSession, newest_sessions
from app.session_lines import ending_words
from app.settings import Settings
from app.windows.start_lists import Card, SessionLine
from drivers.simulated.unit_titles import SURPRISE, shipped_titles
from procedures.library import by_occasion


class KnownLists:
    """See `app.windows.start_lists.StartLists`."""

    def __init__(self, settings: Callable[[], Settings], root: Path) -> None:
        self.amplifier_shelf = AmplifierShelf(root.parent / "amplifiers")
        self._procedures = ProcedureShelf(root.parent / "procedures")
        self._settings = settings
        self._root = root

    def meters(self) -> tuple[Card, ...]:
        """The meters that were used before, most recent first."""
        return tuple(
            Card(known.address, f"{known.name} · {known.channel}", known.identity or known.address)
            for known in self._settings().meters
        )

    def amplifiers(self) -> tuple[Card, ...]:
        """The amplifiers that are known: described here first, then those that ship."""
        known = self.amplifier_shelf.all()
        return tuple(Card(key, one.name, one.output_stage.value) for key, one in known.items())

    def procedures(self) -> tuple[Card, ...]:
        """The procedures that can be carried out, by when they are wanted; the workshop's own come last."""
        shipped = (Card(one.id, one.title, one.purpose, when) for when, one in by_occasion())
        own = (Card(str(path), one.title, one.purpose, "own") for path, one in self._procedures.headings())
        return (*shipped, *own)

    def last_job(self) -> tuple[str, str]:
        """Amplifier and procedure of the guided job that was begun last; empty words before the first."""
        settings = self._settings()
        return settings.last_amplifier, settings.last_procedure

    def simulated_units(self) -> tuple[Card, ...]:
        """The units that the simulated bench can play; the healthy one first, then one drawn by lot.

        A card says why the unit was brought in; what is the matter with it shows at the bench.
        """
        units = sorted(shipped_titles(), key=lambda one: (one.name != "healthy", one.name))
        cards = [Card(one.name, f"{one.maker} {one.model}", one.brought_in or one.title) for one in units]
        drawn = Card(SURPRISE, "Drawn by lot", "any unit that needs its bias looked at")
        return (cards[0], drawn, *cards[1:])

    def newest(self, many: int) -> tuple[SessionLine, ...]:
        """The newest sessions, so many at the most."""
        return tuple(session_line(past) for past in newest_sessions(self._root, many))


def session_line(past: PastSession) -> SessionLine:
    """A past session as a line of a list."""
    header = past.header
    return SessionLine(
        key=past.key,
        title=past.unit or "not named",
        started=local(header.started_utc) if header is not None else past.key[:15],
        procedure=header.title if header is not None else "",
        lasted_s=past.lasted_s,
        outcome=ending_words(past),
        finished=past.ended is not None and past.ended.finished,
        practice=header.practice if header is not None else False,
    )


def local(moment: datetime) -> str:
    """A moment in this computer's time, to the minute."""
    return moment.astimezone().strftime("%Y-%m-%d %H:%M")
