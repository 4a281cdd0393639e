"""Traces of several sessions in one plot: the plot, the choice of its channel, and which line is which."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, Qt, Slot
from PySide6.QtGui import (
    QColor,
    QKeySequence,
    QPainter,
    QPaintEvent,
    QShortcut,
)
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from app.language import worded
from app.windows.actions import DEEDS
from app.windows.chooser import Chooser
from app.windows.laid_plot import LaidPlot, line_pen
from app.windows.laid_view import moments, readings
from app.windows.paper_ports import Laid
from app.windows.theme import shades, sized_font
from app.windows.trace_deeds import trace_deeds
from app.windows.worded import Button, Dialog, Label, WordedWidget


class Legend(WordedWidget):
    """A session's line and name."""

    def __init__(self, number: int, words: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._number, self.words = number, words
        self.readings = ""
        self.setAccessibleName(words)
        self.setMinimumHeight(24)

    def read(self, words: str) -> None:
        """Show what the trace reads at the cursors, behind the name."""
        if words != self.readings:
            self.readings = words
            self.setAccessibleName(" · ".join(filter(None, (self.words, words))))
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw a piece of the line, the words, and what is read at the cursors."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(line_pen(self._number))
        painter.drawLine(QPointF(4, 12), QPointF(64, 12))
        painter.setPen(QColor(shades().ink))
        painter.setFont(sized_font(self, 15))
        told = worded(self.readings)
        room = painter.fontMetrics().horizontalAdvance(told) + 24 if told else 0
        right = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        painter.drawText(QRectF(0, 0, self.width() - 4, 24), right, told)
        box = QRectF(76, 0, max(0, self.width() - 76 - room), 24)
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
        self.read_out = Label(self)
        self.read_out.setMinimumHeight(24)
        self.read_out.setWordWrap(True)
        layout.addWidget(self.plot, 1)
        layout.addWidget(self.read_out)
        self.legends = [Legend(n, self._words(one), self) for n, one in enumerate(self._laid)]
        for legend in self.legends:
            layout.addWidget(legend)
        layout.addLayout(row)
        self.resize(1040, 680)
        does = trace_deeds(self.plot, self.plot.show_all)
        for deed in DEEDS:
            if deed.name in does:
                QShortcut(QKeySequence(deed.keys), self).activated.connect(does[deed.name])
        self.plot.moved.connect(self._read)
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

    @Slot()
    def _read(self) -> None:
        """Say where the cursors stand and what is read there; without any, how to get about."""
        hint = self.tr("Wheel, Ctrl+Up, Ctrl+Down: closer, wider. Alt+Left, Alt+Right: move. Click: cursor.")
        if not self.plot.view.whole:
            hint = self.tr("A part is in view; Home: all of it.")
        self.read_out.setText(moments(self.plot.cursors) or hint)
        for number, legend in enumerate(self.legends):
            trace = self.plot.trace_of(number)
            legend.read(readings(self.plot.cursors, trace) if trace is not None else "")
