"""The curves of a verification beside the bench: spectrum, residual, response, power, bias.

The step decides which one is shown; one key shows the next. Drawn by the painter of the printed pictures, in
the window's shades.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QSize
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from app.bench.audio.signals import Signals
from app.reports.audio_pictures import (
    power_picture,
    residual_picture,
    response_picture,
    spectrum_picture,
)
from app.reports.curve_picture import CurvePicture, Inks, paint_curves
from app.windows.theme import shades
from procedures.analysis.audio.fitness import CannotMeasure

_OF_MEASURE = {
    "noise": "spectrum",
    "damping": "spectrum",
    "gain": "spectrum",
    "modulation": "spectrum",
    "difference tones": "spectrum",
    "crosstalk": "spectrum",
    "distortion": "residual",
    "response": "response",
    "power": "power",
}


class SignalView(QWidget):
    """One picture at a time of what was played; hidden while nothing was."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._signals: Signals | None = None
        self._chosen = ""
        self._picture: CurvePicture | None = None
        self._measure = ""
        self.setAccessibleName(self.tr("Curves of the verification"))
        self.hide()

    @property
    def picture(self) -> CurvePicture | None:
        """What is drawn now."""
        return self._picture

    def show_signals(self, signals: Signals | None) -> None:
        """Take what there is; a new step of the verification chooses its own picture again."""
        if signals == self._signals:
            return
        if signals is not None and signals.measure != self._measure:
            self._measure, self._chosen = signals.measure, ""
        self._signals = signals
        self._draw_anew()

    def show_next(self) -> None:
        """Show the next of the pictures that can be drawn."""
        if self._signals is None:
            return
        there = [name for name in self._makers(self._signals) if self._made(name) is not None]
        if there:
            at = there.index(self._shown_name()) + 1 if self._shown_name() in there else 0
            self._chosen = there[at % len(there)]
            self._draw_anew()

    def _shown_name(self) -> str:
        return self._chosen or _OF_MEASURE.get(self._measure, "response")

    def _draw_anew(self) -> None:
        self._picture = None
        if self._signals is not None:
            wanted = self._shown_name()
            others = [name for name in self._makers(self._signals) if name != wanted]
            for name in [wanted, *others]:
                self._picture = self._made(name)
                if self._picture is not None:
                    break
        if self._picture is not None:
            self.setAccessibleDescription(f"{self._picture.title}: {self._picture.subtitle}")
        self.update()

    def _makers(self, signals: Signals) -> dict[str, Callable[[], CurvePicture | None]]:
        captures, taken = signals.captures, signals.taken
        return {
            "spectrum": lambda: spectrum_picture(captures) if captures else None,
            "residual": lambda: residual_picture(captures) if captures else None,
            "response": lambda: response_picture(taken, signals.ratings),
            "power": lambda: power_picture(taken, signals.ratings),
        }

    def _made(self, name: str) -> CurvePicture | None:
        assert self._signals is not None
        try:
            return self._makers(self._signals)[name]()
        except CannotMeasure:
            return None  # silence has no residual, and a short stretch no spectrum

    # --- drawing --------------------------------------------------------------------------------------

    def sizeHint(self) -> QSize:
        """As much as the traces take."""
        return QSize(640, 320)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the picture in the window's shades."""
        if self._picture is None:
            return
        colours = shades()
        inks = Inks(colours.ground, colours.ink, colours.rule, colours.outside, colours.traces)
        painter = QPainter(self)
        paint_curves(painter, self._picture, float(self.width()), float(self.height()), inks)
        painter.end()
