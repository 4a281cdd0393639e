"""The curves of a verification beside the bench: spectrum, residual, response, power, bias.

The step decides which one is shown; one key shows the next. Drawn by the painter of the printed pictures, in
the window's shades.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from PySide6.QtCore import QSize
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from app.bench.audio.signals import Signals
from app.language import worded
from app.reports.audio_pictures import (
    bias_picture,
    power_picture,
    residual_picture,
    response_picture,
    spectrum_picture,
)
from app.reports.curve_picture import CurvePicture, Inks, paint_curves
from app.windows.ports import BenchPicture
from app.windows.theme import shades
from app.windows.worded import WordedWidget
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
    "quick response": "spectrum",
    "preconditioning": "residual",
}


@dataclass(frozen=True, slots=True)
class Bias:
    """Where this unit stands: idle current and distortion at 1 W by output, target, resistors."""

    emitter_ohm: float
    idle_amperes: dict[str, float]
    target_amperes: float | None
    distortion_percent: dict[str, float]


def bias_of(picture: BenchPicture) -> Bias | None:
    """The unit's own figures for the view over bias; None where its resistors are not known."""
    emitter_ohm, target, idle = None, None, {}
    for state in picture.view.channels:
        setup = picture.setup_of(state.channel)
        if setup.resistance_ohm and setup.emitter_resistor_ohm and state.channel.endswith(" bias"):
            emitter_ohm = setup.emitter_resistor_ohm
            if setup.target_volts is not None:
                target = setup.target_volts / setup.resistance_ohm
            if state.value is not None:
                idle[state.channel.removesuffix(" bias")] = state.value / setup.resistance_ohm
    if emitter_ohm is None:
        return None
    name = "distortion at 1 W, "
    measured = {
        one.name.removeprefix(name): one.value
        for one in picture.view.recorded
        if one.name.startswith(name) and one.value is not None
    }
    return Bias(emitter_ohm, idle, target, measured)


def _in_words(picture: CurvePicture) -> CurvePicture:
    """The picture in the language of the window; printed ones stay English."""
    return replace(
        picture,
        title=worded(picture.title),
        subtitle=worded(picture.subtitle),
        remark=worded(picture.remark),
        marked=worded(picture.marked),
        x=replace(picture.x, label=worded(picture.x.label)),
        y=replace(picture.y, label=worded(picture.y.label)),
        curves=tuple(replace(curve, name=worded(curve.name)) for curve in picture.curves),
        limits=tuple(replace(limit, name=worded(limit.name)) for limit in picture.limits),
    )


class SignalView(WordedWidget):
    """One picture at a time of what was played; hidden while nothing was."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._signals: Signals | None = None
        self._chosen = ""
        self._picture: CurvePicture | None = None
        self._measure = ""
        self._bias: Bias | None = None
        self.setAccessibleName(self.tr("Curves of the verification"))
        self.hide()

    @property
    def picture(self) -> CurvePicture | None:
        """What is drawn now."""
        return self._picture

    def show_bench(self, picture: BenchPicture) -> None:
        """Take what a bench shows: what was played, and the idle currents beside it."""
        self._bias = bias_of(picture)
        self.show_signals(picture.signals)

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
            "bias": self._bias_picture,
        }

    def _bias_picture(self) -> CurvePicture | None:
        bias = self._bias
        if bias is None:
            return None
        return bias_picture(bias.emitter_ohm, bias.idle_amperes, bias.target_amperes, bias.distortion_percent)

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
        paint_curves(painter, _in_words(self._picture), float(self.width()), float(self.height()), inks)
        painter.end()
