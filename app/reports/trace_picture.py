"""A picture of a session's traces for paper and files: dark ink on white, readable without colour.

One panel for each unit of measurement and one for what is to be near zero, one line style for each channel
with its name at the line's end, the target window as a band, steps as numbered marks that are named
underneath, gaps as breaks in the line with ticks along the lower edge. Works without a display; what the
window shows while measuring is elsewhere.
"""

from __future__ import annotations

import math
import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QBuffer, QIODevice, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QGuiApplication, QImage, QPainter, QPen, QPolygonF
from PySide6.QtSvg import QSvgGenerator

from app.bench.snapshot import Trace
from app.records.whole_file import write_whole
from app.reports.drawn_words import INK, draw_words, nice_step
from drivers.reading import Unit

FAINT = QColor("#c9c9c4")
PRACTISED = "practice, no real amplifier"
FAINT_WORDS = QColor(0, 0, 0, 34)
MIDDLE = Qt.AlignmentFlag.AlignHCenter
# Okabe and Ito, 2008: a palette that survives colour-vision deficiency (recalled - check before quoting).
COLOURS = tuple(QColor(code) for code in ("#0072b2", "#d55e00", "#009e73", "#cc79a7", "#56b4e9", "#e69f00"))
STYLES = (Qt.PenStyle.SolidLine, Qt.PenStyle.DashLine, Qt.PenStyle.DotLine, Qt.PenStyle.DashDotLine)
MINUTE_STEPS = (0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 240.0)
RIGHTWARDS = Qt.AlignmentFlag.AlignRight
LEFT, RIGHT, TOP, LINE = 78.0, 128.0, 74.0, 19.0


@dataclass(frozen=True, slots=True)
class Window:
    """The target window of a channel, in the channel's unit."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class DrawnChannel:
    """One channel to draw. At its line's end stands its newest value before `value_until_s`."""

    trace: Trace
    window: Window | None = None
    value_until_s: float = math.inf


_Members = list[tuple[int, DrawnChannel]]  # channels of one panel, each with its place among all


@dataclass(frozen=True, slots=True)
class DrawnMark:
    """A moment to mark: a step that began, the mains switch, a note."""

    at_s: float
    text: str


@dataclass(frozen=True, slots=True)
class TracePicture:
    """Everything that is drawn; `watermark` in large faint letters over all of it."""

    title: str
    subtitle: str
    channels: tuple[DrawnChannel, ...]
    marks: tuple[DrawnMark, ...] = ()
    watermark: str = ""


def write_png(path: Path, picture: TracePicture, width: int = 1280, height: int = 800) -> None:
    """Draw into a PNG file. Raises OSError when it cannot be written."""
    write_whole(path, png_bytes(picture, width, height, 1.0))


def write_svg(path: Path, picture: TracePicture, width: int = 1280, height: int = 800) -> None:
    """Draw into an SVG file. Raises OSError when it cannot be written."""
    kept = require_gui()
    drawn = QBuffer()
    drawn.open(QIODevice.OpenModeFlag.WriteOnly)
    generator = QSvgGenerator()
    generator.setOutputDevice(drawn)
    generator.setSize(QSize(width, height))
    generator.setViewBox(QRectF(0.0, 0.0, width, height))
    generator.setTitle(picture.title)
    painter = QPainter(generator)
    try:
        painter.fillRect(QRectF(0.0, 0.0, width, height), QColor("white"))
        paint(painter, picture, float(width), float(height))
    finally:
        painter.end()
    del kept
    write_whole(path, bytes(drawn.data().data()))


def png_bytes(picture: TracePicture, width: int = 1100, height: int = 560, fineness: float = 2.0) -> bytes:
    """Draw for paper, `fineness` dots for each unit of the drawing; the content of a PNG file."""
    kept = require_gui()
    content = QBuffer()
    content.open(QIODevice.OpenModeFlag.WriteOnly)
    _drawn(picture, width, height, fineness).save(content, "PNG")  # type: ignore[call-overload]
    del kept
    return bytes(content.data().data())


def _drawn(picture: TracePicture, width: int, height: int, fineness: float) -> QImage:
    image = QImage(round(width * fineness), round(height * fineness), QImage.Format.Format_RGB32)
    image.fill(QColor("white"))
    painter = QPainter(image)
    try:
        painter.scale(fineness, fineness)
        paint(painter, picture, float(width), float(height))
    finally:
        painter.end()
    return image


def require_gui() -> QGuiApplication:
    """The Qt application, made for drawing alone where there is none (fonts need one)."""
    running = QGuiApplication.instance()
    if isinstance(running, QGuiApplication):
        return running
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    global _drawing_only  # noqa: PLW0603 - Qt allows one application a process, and it must outlive its fonts
    _drawing_only = QGuiApplication([sys.argv[0] if sys.argv else "warmtrim"])
    return _drawing_only


_drawing_only: QGuiApplication | None = None


def paint(painter: QPainter, picture: TracePicture, width: float, height: float) -> None:
    """Draw on anything that a painter paints on, `width` x `height` in its units."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    draw_words(painter, QRectF(LEFT, 16, width - LEFT - 20, 28), picture.title, 15, bold=True)
    draw_words(painter, QRectF(LEFT, 42, width - LEFT - 20, 22), picture.subtitle, 10)
    groups: dict[tuple[Unit, bool], _Members] = {}
    for place, channel in enumerate(picture.channels):
        if len(channel.trace.values):
            groups.setdefault((channel.trace.unit, _near_zero(channel)), []).append((place, channel))
    named = _mark_rows(picture.marks, width)
    bottom = height - 52.0 - LINE * len(named)
    if not groups:
        draw_words(painter, QRectF(LEFT, TOP, width - LEFT, 30), "No readings were recorded.", 12)
        return
    span = _span(picture)
    shares = [3.0 if unit is Unit.VOLT and not near_zero else 1.0 for unit, near_zero in groups]
    top = TOP
    for share, ((unit, _), members) in zip(shares, groups.items(), strict=True):
        panel_height = (bottom - TOP) * share / sum(shares)
        frame = QRectF(LEFT, top, width - LEFT - RIGHT, panel_height - 26.0)
        _draw(painter, _panel(frame, unit, members, span), members, picture.marks)
        top += panel_height
    _time_axis(painter, QRectF(LEFT, bottom - 26.0, width - LEFT - RIGHT, 44.0), span)
    for row, words in enumerate(named):
        draw_words(painter, QRectF(LEFT, bottom + 26.0 + LINE * row, width - LEFT - 20, LINE), words, 9)
    if picture.watermark:
        box = QRectF(LEFT, TOP, width - LEFT - RIGHT, bottom - TOP - 26.0)
        size = min(56, round(1.15 * box.width() / len(picture.watermark)))
        draw_words(painter, box, picture.watermark, size, bold=True, colour=FAINT_WORDS, align=MIDDLE)


def _near_zero(channel: DrawnChannel) -> bool:
    """Whether a channel, such as an offset, is to be near zero: its window would flatten all the others."""
    return channel.window is not None and channel.window.low < 0.0 < channel.window.high


def _span(picture: TracePicture) -> tuple[float, float]:
    """First and last session second, at least a minute apart."""
    traces = [channel.trace for channel in picture.channels if len(channel.trace.seconds)]
    start = min(0.0, *(float(trace.seconds[0]) for trace in traces))
    return start, max(start + 60.0, *(float(trace.seconds[-1]) for trace in traces))


def _mark_rows(marks: Sequence[DrawnMark], width: float) -> list[str]:
    """The marks by number and name, as many on a row as fit."""
    rows: list[str] = []
    for number, mark in enumerate(marks, start=1):
        words = f"{number}  {mark.text}"
        longest = (width - LEFT - 20) / 6.6
        if rows and len(rows[-1]) + len(words) + 5 < longest:
            rows[-1] += "     " + words
        else:
            rows.append(words)
    return rows


@dataclass(frozen=True, slots=True)
class _Panel:
    """Where a value at a moment stands on the paper."""

    frame: QRectF
    span: tuple[float, float]
    low: float
    high: float
    factor: float
    label: str

    def x(self, seconds: float) -> float:
        share = (seconds - self.span[0]) / (self.span[1] - self.span[0])
        return self.frame.left() + share * self.frame.width()

    def y(self, value: float) -> float:
        share = (value * self.factor - self.low) / (self.high - self.low)
        return self.frame.bottom() - share * self.frame.height()

    def place(self, seconds: float, value: float) -> QPointF:
        return QPointF(self.x(seconds), self.y(value))


def _panel(frame: QRectF, unit: Unit, members: _Members, span: tuple[float, float]) -> _Panel:
    factor, label = (1000.0, "mV") if unit is Unit.VOLT else (1.0, {"degC": "°C"}.get(unit.value, unit.value))
    low, high = _limits(members, factor)
    return _Panel(frame, span, low, high, factor, label)


def _draw(painter: QPainter, panel: _Panel, members: _Members, marks: Sequence[DrawnMark]) -> None:
    for window in dict.fromkeys(channel.window for _, channel in members):
        if window is not None:
            _band(painter, panel, window)
    _value_axis(painter, panel)
    frame = panel.frame
    taken_x, row = -100.0, 0
    for number, mark in enumerate(marks, start=1):
        x = panel.x(mark.at_s)
        row = row + 1 if x - taken_x < 18.0 else 0
        taken_x = x
        painter.setPen(QPen(QColor("#8a8a86"), 1.0, Qt.PenStyle.DotLine))
        painter.drawLine(QPointF(x, frame.top()), QPointF(x, frame.bottom()))
        left = x + 2 if x < frame.right() - 20 else x - 14
        draw_words(painter, QRectF(left, frame.top() + 1 + 12.0 * row, 30, 14), str(number), 8)
    ends: list[float] = []
    for index, channel in members:
        trace = channel.trace
        pen = QPen(COLOURS[index % len(COLOURS)], 1.7, STYLES[index % len(STYLES)])
        painter.setPen(pen)
        painter.setClipRect(frame)
        _line(painter, panel, trace)
        painter.setClipping(False)
        for missed in trace.missed:
            x = panel.x(float(missed))
            painter.drawLine(QPointF(x, frame.bottom()), QPointF(x, frame.bottom() - 6.0 - 3.0 * (index % 3)))
        last = max(0, int(np.searchsorted(trace.seconds, channel.value_until_s)) - 1)
        height = min(max(panel.y(float(trace.values[last])), frame.top() + 8.0), frame.bottom() - 8.0)
        ends.append(_clear_of(height, ends))
        words = f"{trace.channel} {trace.values[last] * panel.factor:.4g}"
        box = QRectF(frame.right() + 6, ends[-1] - 9, RIGHT, 18)
        draw_words(painter, box, words, 9, colour=pen.color(), bold=True)


def _band(painter: QPainter, panel: _Panel, window: Window) -> None:
    a, b = panel.place(panel.span[0], window.high), panel.place(panel.span[1], window.low)
    painter.fillRect(QRectF(a, b), QBrush(QColor(0, 158, 115, 28)))
    painter.setPen(QPen(QColor("#009e73"), 1.0, Qt.PenStyle.DashLine))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)  # level lines stay crisp
    painter.drawLine(a, QPointF(b.x(), a.y()))
    painter.drawLine(QPointF(a.x(), b.y()), b)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)


def _limits(members: _Members, factor: float) -> tuple[float, float]:
    """The range of values to show: what was read, the windows, and never a magnified nothing."""
    # Not from the very least: a unit that is switched off reads zero, and would flatten all the rest.
    lows = [float(np.quantile(channel.trace.values, 0.03)) * factor for _, channel in members]
    highs = [float(channel.trace.values.max()) * factor for _, channel in members]
    windows = [channel.window for _, channel in members if channel.window is not None]
    lows += [window.low * factor for window in windows]
    highs += [window.high * factor for window in windows]
    low, high = min(lows), max(highs)
    least = max(abs(high), abs(low)) * 0.05 or 1.0
    pad = max(high - low, least) * 0.08
    return low - pad, high + pad


def _line(painter: QPainter, panel: _Panel, trace: Trace) -> None:
    """The readings, broken where they are not joined, thinned to what a pixel can show."""
    breaks = np.flatnonzero(~trace.joined[:-1]) + 1
    for piece in np.split(np.arange(len(trace.seconds)), breaks):
        chosen = _thinned(piece, trace.values)
        points = [panel.place(float(trace.seconds[i]), float(trace.values[i])) for i in chosen]
        if len(points) == 1:
            painter.drawEllipse(points[0], 1.2, 1.2)
        else:
            painter.drawPolyline(QPolygonF(points))


def _thinned(piece: NDArray[np.intp], values: NDArray[np.float64], most: int = 1200) -> NDArray[np.intp]:
    """Indices with the least and the greatest value of each of `most` stretches, so that no spike is lost."""
    if len(piece) <= 2 * most:
        return piece
    kept = [piece[:1], piece[-1:]]
    for stretch in np.array_split(piece, most):
        kept.append(stretch[[int(values[stretch].argmin()), int(values[stretch].argmax())]])
    return np.unique(np.concatenate(kept))


def _clear_of(wanted: float, taken: Sequence[float]) -> float:
    """The height nearest to the wanted one at which no label stands yet."""
    for offset in range(0, 400, 4):
        for height in (wanted + offset, wanted - offset):
            if all(abs(height - other) >= 16.0 for other in taken):
                return height
    return wanted


def _value_axis(painter: QPainter, panel: _Panel) -> None:
    frame, low, high = panel.frame, panel.low, panel.high
    step = nice_step((high - low) / 6.0)
    value = math.ceil(low / step) * step
    digits = max(0, -math.floor(math.log10(step)))
    while value <= high:
        y = frame.bottom() - (value - low) * frame.height() / (high - low)
        painter.setPen(QPen(FAINT, 0.8))
        painter.drawLine(QPointF(frame.left(), y), QPointF(frame.right(), y))
        words = f"{value:.{digits}f}"
        draw_words(painter, QRectF(10, y - 9, LEFT - 18, 18), words, 9, align=RIGHTWARDS)
        value += step
    painter.setPen(QPen(INK, 1.0))
    painter.drawRect(frame)
    draw_words(
        painter,
        QRectF(14, frame.top() - 20, LEFT - 22, 18),
        panel.label,
        9,
        bold=True,
        align=Qt.AlignmentFlag.AlignRight,
    )


def _time_axis(painter: QPainter, strip: QRectF, span: tuple[float, float]) -> None:
    minutes = (span[1] - span[0]) / 60.0
    step = next((s for s in MINUTE_STEPS if minutes / s <= 12.0), MINUTE_STEPS[-1])
    at = math.ceil(span[0] / 60.0 / step) * step
    while at * 60.0 <= span[1]:
        x = strip.left() + (at * 60.0 - span[0]) * strip.width() / (span[1] - span[0])
        painter.setPen(QPen(INK, 1.0))
        painter.drawLine(QPointF(x, strip.top()), QPointF(x, strip.top() + 5.0))
        words = f"{at:g}" if step >= 1.0 else f"{int(at)}:{round(at % 1 * 60):02d}"
        draw_words(
            painter, QRectF(x - 30, strip.top() + 6, 60, 16), words, 9, align=Qt.AlignmentFlag.AlignHCenter
        )
        at += step
    box = QRectF(strip.right() + 6, strip.top() + 6, RIGHT, 16)
    draw_words(painter, box, "minutes", 9, bold=True)
