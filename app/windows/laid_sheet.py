"""Traces of several sessions in one plot, each over the minutes since its own power-on."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Slot
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from app.bench.snapshot import Trace
from app.language import worded
from app.reports.drawn_words import nice_step
from app.windows.chooser import Chooser
from app.windows.paper_ports import Laid
from app.windows.theme import shades, sized_font
from app.windows.worded import Button, Dialog, Label, WordedWidget
from app.windows.wording import shown_number, shown_unit
from drivers.reading import Unit

# Whole, broken, dotted, both: with four hues each of eight sessions has a line of its own.
_DASHES: tuple[tuple[float, ...], ...] = ((), (7.0, 4.0), (1.5, 3.0), (8.0, 3.0, 1.5, 3.0))
_STRETCHES = 900
LEFT, RIGHT, TOP, BOTTOM = 78.0, 14.0, 14.0, 44.0


class LaidPlot(WordedWidget):
    """Draws one channel of all sessions."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._traces: tuple[tuple[int, Trace], ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def sizeHint(self) -> QSize:
        """Broad."""
        return QSize(900, 420)

    def show_traces(self, traces: Sequence[tuple[int, Trace]]) -> None:
        """Draw these, each with the number of its session."""
        self._traces = tuple((n, t) for n, t in traces if len(t.values) and t.seconds[-1] > 0.0)
        self.setAccessibleName(f"{len(self._traces)} traces over minutes since power-on")
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw axes and lines."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(shades().raised))
        painter.setFont(sized_font(self, 14))
        frame = QRectF(LEFT, TOP, self.width() - LEFT - RIGHT, self.height() - TOP - BOTTOM)
        if self._traces:
            self._draw(painter, frame)
        else:
            painter.setPen(QColor(shades().ink))
            words = worded("No session has readings of this channel after its power-on.")
            painter.drawText(frame, int(Qt.AlignmentFlag.AlignCenter), words)
        painter.end()

    def _draw(self, painter: QPainter, frame: QRectF) -> None:
        unit = self._traces[0][1].unit
        end = max(float(t.seconds[-1]) for _, t in self._traces) / 60.0
        shown = [t.values[t.seconds > 0.0] for _, t in self._traces]
        # Not from the very least: what is switched off reads zero, and would flatten all the rest.
        low = shown_number(min(float(np.quantile(values, 0.03)) for values in shown), unit)
        high = shown_number(max(float(np.quantile(values, 0.997)) for values in shown), unit)
        pad = max(high - low, abs(high) * 0.05, 0.01) * 0.08
        low, high = low - pad, high + pad
        self._axes(painter, frame, (low, high), end, unit)
        painter.setClipRect(frame)
        for number, trace in self._traces:
            painter.setPen(line_pen(number))
            self._line(painter, frame, trace, (low, high), end)
        painter.setClipping(False)

    def _axes(
        self, painter: QPainter, frame: QRectF, span: tuple[float, float], end: float, unit: Unit
    ) -> None:
        colours = shades()
        low, high = span
        step = nice_step((high - low) / max(2.0, frame.height() / 70.0))
        decimals = max(0, -math.floor(math.log10(step)))
        value = math.ceil(low / step) * step
        while value <= high:
            y = frame.bottom() - (value - low) / (high - low) * frame.height()
            painter.setPen(QPen(QColor(colours.rule), 1.0))
            painter.drawLine(QPointF(frame.left(), y), QPointF(frame.right(), y))
            painter.setPen(QColor(colours.ink))
            words = QRectF(0, y - 10, LEFT - 8, 20)
            painter.drawText(
                words,
                int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter),
                f"{value:.{decimals}f}",
            )
            value += step
        minutes = nice_step(max(end, 0.5) / max(2.0, frame.width() / 110.0))
        for n in range(int(end / minutes) + 1):
            x = frame.left() + n * minutes / end * frame.width()
            painter.setPen(QPen(QColor(colours.rule), 1.0))
            painter.drawLine(QPointF(x, frame.top()), QPointF(x, frame.bottom()))
            painter.setPen(QColor(colours.ink))
            box = QRectF(x - 40, frame.bottom() + 3, 80, 18)
            painter.drawText(box, int(Qt.AlignmentFlag.AlignHCenter), f"{n * minutes:g}")
        box = QRectF(frame.left(), frame.bottom() + 21, frame.width(), 20)
        painter.drawText(box, int(Qt.AlignmentFlag.AlignRight), worded("minutes since power-on"))
        above = QRectF(0, 0, LEFT - 8, TOP - 2)
        painter.drawText(above, int(Qt.AlignmentFlag.AlignRight), shown_unit(unit))
        painter.setPen(QPen(QColor(colours.ink), 2.0))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(frame)

    def _line(
        self, painter: QPainter, frame: QRectF, trace: Trace, span: tuple[float, float], end: float
    ) -> None:
        """Broken where readings are not joined; of many, the least and the most of each stretch."""
        low, high = span
        after = np.flatnonzero(trace.seconds > 0.0)
        for piece in np.split(after, np.flatnonzero(~trace.joined[after[:-1]]) + 1):
            points = [
                QPointF(
                    frame.left() + float(trace.seconds[i]) / 60.0 / end * frame.width(),
                    frame.bottom()
                    - (shown_number(float(trace.values[i]), trace.unit) - low)
                    / (high - low)
                    * frame.height(),
                )
                for i in _thinned(piece, trace)
            ]
            if len(points) == 1:
                painter.drawEllipse(points[0], 1.5, 1.5)
            else:
                painter.drawPolyline(QPolygonF(points))


def _thinned(piece: np.ndarray, trace: Trace) -> np.ndarray:
    if len(piece) <= 2 * _STRETCHES:
        return piece
    kept = [piece[:1], piece[-1:]]
    for stretch in np.array_split(piece, _STRETCHES):
        values = trace.values[stretch]
        kept.append(stretch[[int(values.argmin()), int(values.argmax())]])
    return np.unique(np.concatenate(kept))


def line_pen(number: int) -> QPen:
    """How the line of a session is drawn."""
    pen = QPen(QColor(shades().trace(number)), 2.4)
    dashes = _DASHES[(number + number // 4) % len(_DASHES)]
    if dashes:
        pen.setDashPattern(list(dashes))
    return pen


class Legend(WordedWidget):
    """A session's line and name."""

    def __init__(self, number: int, words: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._number, self.words = number, words
        self.setAccessibleName(words)
        self.setMinimumHeight(24)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw a piece of the line and the words."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(line_pen(self._number))
        painter.drawLine(QPointF(4, 12), QPointF(64, 12))
        painter.setPen(QColor(shades().ink))
        painter.setFont(sized_font(self, 15))
        box = QRectF(76, 0, self.width() - 76, 24)
        words = painter.fontMetrics().elidedText(
            worded(self.words), Qt.TextElideMode.ElideRight, int(box.width())
        )
        painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter), words)
        painter.end()


class LaidSheet(Dialog):
    """The plot, the choice of the channel, and which line is which session."""

    def __init__(self, laid: Sequence[Laid], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("Traces in one plot"))
        self._laid = tuple(laid)
        self.plot = LaidPlot(self)
        self.channel = Chooser(self.tr("Channel"), self)
        many: dict[str, int] = {}
        for one in self._laid:
            for trace in one.traces:
                many[trace.channel] = many.get(trace.channel, 0) + bool(len(trace.values))
        for name in sorted(many, key=lambda name: (-many[name], "bias" not in name, name)):
            self.channel.addItem(name, name)
        self.channel.currentIndexChanged.connect(self._show)
        close = Button(self.tr("Close"), self)
        close.setMinimumHeight(44)
        close.clicked.connect(self.accept)
        row = QHBoxLayout()
        row.addWidget(Label(self.tr("Channel"), self))
        row.addWidget(self.channel)
        row.addStretch(1)
        row.addWidget(close)
        layout = QVBoxLayout(self)
        layout.addWidget(self.plot, 1)
        self.legends = [Legend(n, self._words(one), self) for n, one in enumerate(self._laid)]
        for legend in self.legends:
            layout.addWidget(legend)
        layout.addLayout(row)
        self.resize(1040, 640)
        self._show()

    def _words(self, one: Laid) -> str:
        words = [one.began, one.title or self.tr("not named")]
        words += [self.tr("practice")] if one.practice else []
        words += [] if one.from_power_on else [self.tr("power-on not told: from the start of the session")]
        return " · ".join(words)

    @Slot()
    def _show(self) -> None:
        name = self.channel.currentData()
        found = [(n, t) for n, one in enumerate(self._laid) for t in one.traces if t.channel == name]
        self.plot.show_traces(found)
