"""Curves over an axis of frequency, degrees or power: for paper, and in other inks for the window.

Each curve has its own kind of line and its name beside it; limits are drawn as barred steps that need no
colour. Not here: what is drawn (`audio_pictures`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QBuffer, QIODevice, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPen, QPolygonF

from app.records.whole_file import write_whole
from app.reports.drawn_words import draw_words, height_of_words, nice_step, width_of_words
from app.reports.trace_picture import COLOURS, MIDDLE, STYLES, require_gui

_LEFT, _RIGHT, _TOP, _BOTTOM = 84.0, 140.0, 70.0, 62.0
_REMARK = 18.0  # one line of it
_MOST_POINTS = 3000
_DENSE = 800  # points: from here on a curve is a band rather than a line


@dataclass(frozen=True, slots=True)
class Inks:
    """The colours of a picture; those of paper unless others are given."""

    ground: str = "#ffffff"
    ink: str = "#1c1c1c"
    faint: str = "#c9c9c4"
    limit: str = "#8c3a00"
    curves: tuple[str, ...] = tuple(colour.name() for colour in COLOURS)


PAPER = Inks()


@dataclass(frozen=True, slots=True)
class Axis:
    """An axis with its ends; `logarithmic` ends lie above zero. `step`: between lines.

    `mark`: the decimal sign of its figures.
    """

    label: str
    low: float
    high: float
    logarithmic: bool = False
    step: float | None = None
    mark: str = "."

    def share(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Where values stand between the ends, 0 to 1; beyond them outside of that."""
        if not self.logarithmic:
            return np.asarray((values - self.low) / (self.high - self.low))
        span = math.log(self.high / self.low)
        return np.asarray(np.log(np.maximum(values, self.low * 1e-6) / self.low) / span)

    def ticks(self) -> list[tuple[float, str]]:
        """Where lines are drawn and what stands there; minor ones without words."""
        if not self.logarithmic:
            step = self.step or nice_step((self.high - self.low) / 8.0)
            first = math.ceil(self.low / step - 1e-9)
            last = math.floor(self.high / step + 1e-9)
            return [(n * step, self._figure(f"{n * step:.6g}")) for n in range(first, last + 1)]
        found: list[tuple[float, str]] = []
        for power in range(math.floor(math.log10(self.low)), math.ceil(math.log10(self.high)) + 1):
            for factor in (1, 2, 5):
                value = factor * 10.0**power
                if self.low * 0.999 <= value <= self.high * 1.001:
                    found.append((value, self._figure(_short(value))))
        return found

    def _figure(self, words: str) -> str:
        return words.replace(".", self.mark)


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Points that belong together, shape (n,) each, in the units of the axes."""

    name: str
    x: NDArray[np.float64]
    y: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit from `low_x` to `high_x` at `y`; the barred side is the wrong one."""

    low_x: float
    high_x: float
    y: float
    wrong_above: bool
    name: str = ""


@dataclass(frozen=True, slots=True)
class CurvePicture:
    """Everything that is drawn; `watermark` in large faint letters over all of it."""

    title: str
    subtitle: str
    x: Axis
    y: Axis
    curves: tuple[Curve, ...]
    limits: tuple[Limit, ...] = ()
    remark: str = ""
    marked_x: float | None = None
    marked: str = ""
    watermark: str = ""


def thinned(picture: CurvePicture) -> CurvePicture:
    """The same picture without the points that cannot be told apart: for whoever paints it often."""
    fewer = []
    for curve in picture.curves:
        x, y = _thinned(curve.x, curve.y)
        fewer.append(replace(curve, x=x, y=y))
    return replace(picture, curves=tuple(fewer))


def write_curves_png(path: Path, picture: CurvePicture, width: int = 1280, height: int = 720) -> None:
    """Draw into a PNG file. Raises OSError when it cannot be written."""
    kept = require_gui()
    image = QImage(width, height, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    try:
        paint_curves(painter, picture, float(width), float(height))
    finally:
        painter.end()
    content = QBuffer()
    content.open(QIODevice.OpenModeFlag.WriteOnly)
    image.save(content, "PNG")  # type: ignore[call-overload]
    del kept
    write_whole(path, bytes(content.data().data()))


def paint_curves(
    painter: QPainter, picture: CurvePicture, width: float, height: float, inks: Inks = PAPER
) -> None:
    """Draw on anything that a painter paints on, `width` x `height` in its units."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.fillRect(QRectF(0, 0, width, height), QColor(inks.ground))
    said = height_of_words(painter, picture.remark, 9, width - _LEFT - 10) if picture.remark else 0.0
    bottom = _BOTTOM + max(0.0, said - _REMARK)
    frame = QRectF(_LEFT, _TOP, max(40.0, width - _LEFT - _RIGHT), max(40.0, height - _TOP - bottom))
    draw_words(
        painter, QRectF(_LEFT, 10, width - _LEFT - 10, 26), picture.title, 15, colour=inks.ink, bold=True
    )
    draw_words(painter, QRectF(_LEFT, 36, width - _LEFT - 10, 20), picture.subtitle, 10, colour=inks.ink)
    _axes(painter, picture, frame, inks)
    named: list[QRectF] = []
    for limit in picture.limits:
        _limit(painter, picture, frame, limit, inks=inks, named=named)
    ends: list[float] = []
    if picture.marked_x is not None:
        _mark(painter, picture, frame, inks)
    for index in range(len(picture.curves)):
        _curve(painter, picture, frame, index, inks=inks, ends=ends)
    if picture.watermark:
        size = min(56, round(1.15 * frame.width() / len(picture.watermark)))
        faint = QColor(inks.ink)
        faint.setAlpha(34)
        draw_words(painter, frame, picture.watermark, size, bold=True, colour=faint, align=MIDDLE)
    if picture.remark:
        said = max(said, _REMARK)
        box = QRectF(_LEFT, height - 4 - said, width - _LEFT - 10, said)
        draw_words(painter, box, picture.remark, 9, colour=inks.ink, wrapped=True)


def _place(
    picture: CurvePicture, frame: QRectF, x: NDArray[np.float64], y: NDArray[np.float64]
) -> list[QPointF]:
    across = frame.left() + picture.x.share(x) * frame.width()
    down = frame.bottom() - np.clip(picture.y.share(y), -0.05, 1.05) * frame.height()
    return [QPointF(a, b) for a, b in zip(across.tolist(), down.tolist(), strict=True)]


def _axes(painter: QPainter, picture: CurvePicture, frame: QRectF, inks: Inks) -> None:
    for value, words in picture.x.ticks():
        x = frame.left() + float(picture.x.share(np.array(value))) * frame.width()
        painter.setPen(QPen(QColor(inks.faint), 0.8))
        painter.drawLine(QPointF(x, frame.top()), QPointF(x, frame.bottom()))
        box = QRectF(x - 34, frame.bottom() + 4, 68, 16)
        draw_words(painter, box, words, 9, colour=inks.ink, align=Qt.AlignmentFlag.AlignHCenter)
    for value, words in picture.y.ticks():
        y = frame.bottom() - float(picture.y.share(np.array(value))) * frame.height()
        painter.setPen(QPen(QColor(inks.faint), 0.8))
        painter.drawLine(QPointF(frame.left(), y), QPointF(frame.right(), y))
        box = QRectF(4, y - 9, _LEFT - 12, 18)
        draw_words(painter, box, words, 9, colour=inks.ink, align=Qt.AlignmentFlag.AlignRight)
    painter.setPen(QPen(QColor(inks.ink), 1.0))
    painter.drawRect(frame)
    under = QRectF(frame.left(), frame.bottom() + 20, frame.width(), 18)
    draw_words(
        painter, under, picture.x.label, 9, colour=inks.ink, bold=True, align=Qt.AlignmentFlag.AlignHCenter
    )
    above = QRectF(4, frame.top() - 24, _LEFT - 12, 16)
    right = Qt.AlignmentFlag.AlignRight
    draw_words(painter, above, picture.y.label, 9, colour=inks.ink, bold=True, align=right)


def _curve(
    painter: QPainter, picture: CurvePicture, frame: QRectF, index: int, *, inks: Inks, ends: list[float]
) -> None:
    """Draw one curve, its name at its end where no other name stands (`ends`)."""
    curve = picture.curves[index]
    good = np.isfinite(curve.x) & np.isfinite(curve.y)
    x, y = _thinned(curve.x[good], curve.y[good])
    if len(x) == 0:
        return
    colour = QColor(inks.curves[index % len(inks.curves)])
    pen = QPen(colour, 1.6, STYLES[index % len(STYLES)])
    if len(x) > _DENSE:
        pen = QPen(colour, 1.0)  # the stroker takes half a second for a wider one with so many corners
        pen.setCosmetic(True)
    painter.setPen(pen)
    points = _place(picture, frame, x, y)
    painter.setClipRect(frame)
    if len(points) == 1:
        painter.setBrush(colour)
        painter.drawEllipse(points[0], 4.0, 4.0)
        painter.setBrush(Qt.BrushStyle.NoBrush)
    else:
        painter.drawPolyline(QPolygonF(points))
    painter.setClipping(False)
    if len(points) == 1:
        beside = QRectF(points[0].x() + 9, points[0].y() - 18, _RIGHT, 16)
        draw_words(painter, beside, curve.name, 9, colour=inks.ink, bold=True)
        return
    wanted = min(max(points[-1].y(), frame.top() + 8), frame.bottom() - 8)
    away = 17 if wanted < frame.center().y() else -17
    while any(abs(wanted - other) < 17 for other in ends):
        wanted += away
    ends.append(wanted)
    draw_words(
        painter,
        QRectF(frame.right() + 6, wanted - 9, _RIGHT - 8, 18),
        curve.name,
        9,
        colour=colour.name(),
        bold=True,
    )


def _mark(painter: QPainter, picture: CurvePicture, frame: QRectF, inks: Inks) -> None:
    """A line across the picture at one place of the lower axis."""
    x = frame.left() + float(picture.x.share(np.array(picture.marked_x))) * frame.width()
    painter.setPen(QPen(QColor(inks.ink), 1.4, Qt.PenStyle.DashDotLine))
    painter.drawLine(QPointF(x, frame.top()), QPointF(x, frame.bottom()))
    draw_words(
        painter, QRectF(x + 6, frame.bottom() - 22, 300, 18), picture.marked, 9, colour=inks.ink, bold=True
    )


def clear_of(box: QRectF, others: Sequence[QRectF], step: float) -> QRectF:
    """The box, moved down by as many steps (up where below zero) as it takes to lie on none of the others."""
    moved = QRectF(box)
    while any(moved.intersects(other) for other in others):
        moved.translate(0.0, step)
    return moved


def _limit(
    painter: QPainter, picture: CurvePicture, frame: QRectF, limit: Limit, *, inks: Inks, named: list[QRectF]
) -> None:
    """A line with bars on the side that is wrong; its name there, where no other name stands (`named`)."""
    low, high = max(limit.low_x, picture.x.low), min(limit.high_x, picture.x.high)
    if low >= high:
        return
    start, end = _place(picture, frame, np.array([low, high]), np.array([limit.y, limit.y]))
    painter.setPen(QPen(QColor(inks.limit), 1.4))
    painter.drawLine(start, end)
    reach = -8.0 if limit.wrong_above else 8.0
    at = start.x()
    while at < end.x():
        painter.drawLine(QPointF(at, start.y()), QPointF(at + 6.0, start.y() + reach))
        at += 12.0
    if limit.name:
        top = start.y() - 24 if limit.wrong_above else start.y() + 8
        wide = width_of_words(painter, limit.name, 9) + 2
        box = QRectF(max(end.x() - 4 - wide, frame.left() + 2), top, wide, 16)
        box = clear_of(box, named, -16.0 if limit.wrong_above else 16.0)
        named.append(box)
        draw_words(painter, box, limit.name, 9, colour=inks.limit, align=Qt.AlignmentFlag.AlignRight)


def _thinned(
    x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Least and greatest of each stretch where there are more points than can be seen."""
    if len(x) <= _MOST_POINTS + 2:
        return x, y
    kept = [np.array([0, len(x) - 1])]
    for stretch in np.array_split(np.arange(len(x)), _MOST_POINTS // 2):
        kept.append(stretch[[int(y[stretch].argmin()), int(y[stretch].argmax())]])
    chosen = np.unique(np.concatenate(kept))
    return x[chosen], y[chosen]


def _short(value: float) -> str:
    return f"{value / 1000:g}k" if value >= 1000.0 else f"{value:g}"
