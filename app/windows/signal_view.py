"""The curves of a verification beside the bench: spectrum, residual, response, power, bias.

The step decides which one is shown; one key shows the next. Drawn by the painter of the printed pictures, in
the window's shades.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from PySide6.QtCore import QSize, Signal, Slot
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
from app.reports.curve_picture import CurvePicture, Inks, paint_curves, thinned
from app.windows.errand import Errand
from app.windows.number_sign import NUMBER_SIGN, signed
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


@dataclass(frozen=True, slots=True)
class Drawable:
    """What pictures can be made of."""

    signals: Signals
    bias: Bias | None

    def first(self, wanted: str) -> tuple[str, CurvePicture | None]:
        """The wanted picture, or the first that there is, with its name."""
        names = [wanted, *(name for name in self._makers() if name != wanted)]
        return next(((name, made) for name in names if (made := self._made(name))), ("", None))

    def after(self, shown: str) -> tuple[str, CurvePicture | None]:
        """The next after the shown one that can be made, in turn."""
        names = list(self._makers())
        place = names.index(shown) + 1 if shown in names else 0
        return next(
            ((name, made) for name in names[place:] + names[:place] if (made := self._made(name))), ("", None)
        )

    def _makers(self) -> dict[str, Callable[[], CurvePicture | None]]:
        captures, taken, ratings = self.signals.captures, self.signals.taken, self.signals.ratings
        return {
            "spectrum": lambda: spectrum_picture(captures) if captures else None,
            "residual": lambda: residual_picture(captures) if captures else None,
            "response": lambda: response_picture(taken, ratings),
            "power": lambda: power_picture(taken, ratings),
            "bias": self._bias_picture,
        }

    def _bias_picture(self) -> CurvePicture | None:
        bias = self.bias
        if bias is None:
            return None
        return bias_picture(bias.emitter_ohm, bias.idle_amperes, bias.target_amperes, bias.distortion_percent)

    def _made(self, name: str) -> CurvePicture | None:
        try:
            made = self._makers()[name]()
        except CannotMeasure:
            return None  # silence has no residual, and a short stretch no spectrum
        return thinned(made) if made is not None else None


def _in_words(picture: CurvePicture) -> CurvePicture:
    """The picture in the language of the window; printed ones stay English."""
    return replace(
        picture,
        title=_said(picture.title),
        subtitle=_said(picture.subtitle),
        remark=_said(picture.remark),
        marked=_said(picture.marked),
        x=replace(picture.x, label=_said(picture.x.label), mark=NUMBER_SIGN.sign),
        y=replace(picture.y, label=_said(picture.y.label), mark=NUMBER_SIGN.sign),
        curves=tuple(replace(curve, name=_said(curve.name)) for curve in picture.curves),
        limits=tuple(replace(limit, name=_said(limit.name)) for limit in picture.limits),
    )


def _said(words: str) -> str:
    """Words with their figures in the sign in force, in the language of the window."""
    return worded(signed(words))


class SignalView(WordedWidget):
    """One picture at a time of what was played; hidden while nothing was. `drawn`: there is another one."""

    drawn = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._signals: Signals | None = None
        self._chosen = ""
        self._picture: CurvePicture | None = None
        self._shown = ""
        self._measure = ""
        self._bias: Bias | None = None
        self._errand = Errand(self)
        self._errand.done.connect(self._made)
        self._working = self._stepping = self._again = False
        self._next = ""
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
        self._make()

    def show_next(self) -> None:
        """Show the next of the pictures that can be drawn."""
        self._make(after=self._shown)

    def _make(self, after: str = "") -> None:
        """Have a picture worked out beside the window: transforms and models take up to half a second."""
        if self._signals is None:
            self._show(("", None))
        elif self._working:
            self._next = after if after else self._next
            self._again = True
        else:
            self._working = True
            drawable = Drawable(self._signals, self._bias)
            wanted = self._chosen or _OF_MEASURE.get(self._measure, "response")
            self._errand.run(lambda: drawable.after(after) if after else drawable.first(wanted))
            self._stepping = bool(after)

    @Slot(object)
    def _made(self, came: object) -> None:
        self._working = False
        again, after = self._again, self._next
        self._again, self._next = False, ""
        if isinstance(came, tuple) and self._signals is not None:
            if self._stepping:
                self._chosen = str(came[0])
            self._show(came)
        if again:
            self._make(after)

    def _show(self, made: tuple[str, CurvePicture | None]) -> None:
        self._shown, self._picture = made
        if self._picture is not None:
            self.setAccessibleDescription(signed(f"{self._picture.title}: {self._picture.subtitle}"))
        self.update()
        self.drawn.emit()

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
