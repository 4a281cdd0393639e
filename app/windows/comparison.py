"""What can be laid beside the traces: the other channels, the values as found, the unit's last session.

Each is switched by a key, told at the curve in words, and has a kind of line of its own.
"""

from __future__ import annotations

from functools import partial

import numpy as np
from PySide6.QtCore import QObject, Signal, Slot

from app.bench.earlier import Earlier, earlier_session
from app.bench.snapshot import Trace
from app.windows.errand import Errand
from app.windows.plot import LivePlot
from app.windows.ports import BenchPicture
from app.windows.trace_canvas import LineKind
from app.windows.trace_scene import Overlay
from app.windows.wording import plain
from drivers.reading import Unit

HELD_POINTS = 1000


class Comparison(QObject):
    """Works one plot. `said` carries a sentence for the person."""

    said = Signal(str)

    def __init__(self, plot: LivePlot, picture: BenchPicture, parent: QObject) -> None:
        super().__init__(parent)
        self._plot = plot
        self._picture = picture
        self._others = True
        self._found = False
        self._past = False
        self._earlier: Earlier | None = None
        self._errand: Errand | None = None
        self._drawn: set[str] = set()
        self._told: tuple[object, ...] = ()

    def take_picture(self, picture: BenchPicture) -> None:
        """How things stand now."""
        self._picture = picture
        if self._found or self._past or not self._others:
            self._lay()

    @Slot()
    def toggle_others(self) -> None:
        """Show only the channel that is worked on, or all again."""
        self._others = not self._others
        self._lay()
        self.said.emit(self.tr("All channels.") if self._others else self.tr("Only the channel worked on."))

    @Slot()
    def toggle_found(self) -> None:
        """Show the values as found, or no longer."""
        if not self._found and not self._values_found():
            self.said.emit(self.tr("Nothing was kept as found yet."))
            return
        self._found = not self._found
        self._lay()

    @Slot()
    def toggle_past(self) -> None:
        """Show the unit's last session, or no longer."""
        if self._past or self._earlier is not None:
            self._past = not self._past
            self._lay()
        elif self._errand is None:
            self.said.emit(self.tr("Looking for this unit's last session …"))
            self._errand = Errand(self)
            self._errand.done.connect(self._read)
            self._errand.run(partial(earlier_session, self._picture.folder, self._picture.unit_name))

    @Slot(object)
    def _read(self, found: object) -> None:
        self._errand = None
        if isinstance(found, Earlier):
            self._earlier, self._past = found, True
            self.said.emit(self.tr("Beside it: the session of {day}.").format(day=found.began))
            self._lay()
        elif isinstance(found, Exception):
            self.said.emit(str(found))
        else:
            self.said.emit(self.tr("There is no other session of this amplifier and serial number here."))

    # --- what is drawn --------------------------------------------------------------------------------

    def _values_found(self) -> dict[str, tuple[float, float]]:
        return {
            one.channel: (one.at_s, one.value)
            for one in self._picture.view.recorded
            if one.name == "as found" and one.channel is not None and one.value is not None
        }

    def _focus(self) -> str | None:
        channels = self._picture.view.channels
        return self._picture.view.focus or (channels[0].channel if channels else None)

    def _lay(self) -> None:
        """Lay the curves anew; those that did not change are left as they are."""
        order = {s.channel: place for place, s in enumerate(self._picture.view.channels)}
        focus = self._focus()
        wanted: dict[str, Overlay] = {}
        if self._found:
            end_s = max(self._picture.view.at_s, 1.0)
            for channel, (at_s, value) in self._values_found().items():
                held = _held(channel, at_s, max(end_s, at_s + 1.0), value)
                label = self.tr("{channel} as found {value}").format(channel=channel, value=plain(value))
                wanted[f"found {channel}"] = Overlay(held, order.get(channel, 0), label, LineKind.BROKEN)
        on_s = self._picture.view.power_on_s
        told = (self._past, on_s, self._earlier)
        if self._past and self._earlier is not None and told != self._told:
            for trace in self._earlier.aligned(on_s or 0.0):
                if trace.unit is Unit.VOLT and trace.channel in order:
                    label = self.tr("{channel} on {day}").format(
                        channel=trace.channel, day=self._earlier.began
                    )
                    overlay = Overlay(trace, order[trace.channel], label, LineKind.DOTTED)
                    wanted[f"past {trace.channel}"] = overlay
        kept = {n for n in self._drawn if n.startswith("past ") and self._past and told == self._told}
        self._told = told
        hidden = frozenset() if self._others else frozenset(order) - {focus or ""}
        self._plot.lay_beside(wanted, self._drawn - kept - set(wanted), hidden)
        self._drawn = kept | set(wanted)


def _held(channel: str, begin_s: float, end_s: float, value: float) -> Trace:
    """A level, from one moment to another, in points enough to be in view at most zooms."""
    seconds = np.linspace(begin_s, end_s, HELD_POINTS)
    joined = np.ones(HELD_POINTS, dtype=np.bool_)
    return Trace(channel, Unit.VOLT, seconds, np.full(HELD_POINTS, value), joined, np.empty(0))
