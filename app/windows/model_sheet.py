"""What units of a model did so far: where they were left, how they warm up, what was the matter with them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from PySide6.QtCore import QCoreApplication, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QScrollArea, QVBoxLayout, QWidget

from app.language import worded
from app.records.history_facts import ModelHistory, Spread
from app.windows.alarm_banner import headline
from app.windows.number_sign import signed
from app.windows.theme import shades, sized_font
from app.windows.worded import Button, Dialog, Label, WordedWidget
from procedures.analysis.disturbance import Kind
from procedures.events import Tier
from procedures.library import shipped_procedures

ENDS = 84.0  # style pixels at either end of a line for what it stands for
MOST_BEADS = 40


def _tr(text: str) -> str:
    return QCoreApplication.translate("ModelSheet", text)


@dataclass(frozen=True, slots=True)
class Quantity:
    """One quantity of one channel over many visits; `factor` makes the values those that are shown."""

    title: str
    spread: Spread
    factor: float
    unit: str
    decimals: int

    def _value(self, value: float) -> str:
        return f"{round(value * self.factor, self.decimals) + 0.0:.{self.decimals}f}"  # never minus nothing

    @property
    def words(self) -> str:
        """How many there are, and how they spread."""
        one = self.spread
        if one.count == 1:
            return _tr("once: {v} {unit}").format(v=self._value(one.median), unit=self.unit)
        words = _tr(
            "{n} times: the middle one {m} {unit}, half of them {a} to {b} {unit}, all {c} to {d} {unit}"
        )
        return words.format(
            n=one.count,
            m=self._value(one.median),
            a=self._value(one.lower),
            b=self._value(one.upper),
            c=self._value(one.least),
            d=self._value(one.most),
            unit=self.unit,
        )


def quantities(history: ModelHistory) -> tuple[tuple[str, tuple[Quantity, ...]], ...]:
    """What there is to show, by heading; headings without values are left out."""
    kinds = (
        (_tr("As left"), history.as_left, 1000.0, "mV", 2),
        (_tr("Drift from one minute after power-on to rest"), history.drift, 100.0, "%", 1),
        (_tr("At rest after"), history.settled_s, 1.0 / 60.0, "min", 1),
    )
    told = []
    for heading, spreads, factor, unit, decimals in kinds:
        each = tuple(Quantity(channel, spread, factor, unit, decimals) for channel, spread in spreads.items())
        if each:
            told.append((heading, each))
    return tuple(told)


def summary_words(history: ModelHistory, practice: bool) -> str:
    """How much there is behind it."""
    if history.sessions == 1:
        words = _tr("one session of one unit")
    elif history.units == 1:
        words = _tr("{n} sessions of one unit").format(n=history.sessions)
    else:
        words = _tr("{n} sessions of {m} units").format(n=history.sessions, m=history.units)
    if history.unnumbered:
        words += _tr("; {n} without a serial number").format(n=history.unnumbered)
    return words + (_tr("; practice counted too") if practice else "") + "."


def broadened(low: float, high: float) -> tuple[float, float]:
    """The ends of a line on which values of this span lie: a little beyond them, and never one point."""
    pad = max(0.15 * (high - low), 0.02 * max(abs(low), abs(high)), 1e-9)
    return low - pad, high + pad


class SpreadTube(WordedWidget):
    """Values as beads in a tube from the least to the most; the wider part holds half of them."""

    def __init__(self, quantity: Quantity, span: tuple[float, float], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._quantity = quantity
        self._low, self._high = span
        self.setAccessibleName(f"{quantity.title}: {quantity.words}")
        self.setMinimumHeight(66)

    def sizeHint(self) -> QSize:
        """A line of words and the tube below it."""
        return QSize(680, 66)

    def _x(self, value: float) -> float:
        share = (value - self._low) / (self._high - self._low) if self._high > self._low else 0.5
        return ENDS + share * (self.width() - 2.0 * ENDS)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw words, tube and beads."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colours, one = shades(), self._quantity.spread
        painter.setPen(QColor(colours.ink))
        painter.setFont(sized_font(self, 16, bold=True))
        title = f"{worded(self._quantity.title)}  "
        wide = painter.fontMetrics().horizontalAdvance(title)
        painter.drawText(QRectF(0, 0, wide, 24), int(Qt.AlignmentFlag.AlignVCenter), title)
        painter.setFont(sized_font(self, 15))
        painter.setPen(QColor(colours.muted))
        room = QRectF(wide, 0, self.width() - wide, 24)
        words = painter.fontMetrics().elidedText(
            worded(self._quantity.words), Qt.TextElideMode.ElideRight, int(room.width())
        )
        painter.drawText(room, int(Qt.AlignmentFlag.AlignVCenter), words)
        y = 46.0
        self._ends(painter, y)
        painter.setPen(QPen(QColor(colours.ink), 2.0))
        painter.setBrush(QColor(colours.raised))
        outer = QRectF(self._x(one.least) - 9, y - 7, self._x(one.most) - self._x(one.least) + 18, 14)
        painter.drawRoundedRect(outer, 7, 7)
        if one.count > 1:
            painter.setBrush(QColor(colours.band))
            inner = QRectF(self._x(one.lower) - 5, y - 13, self._x(one.upper) - self._x(one.lower) + 10, 26)
            painter.drawRoundedRect(inner, 9, 9)
        painter.setBrush(QColor(colours.ground))
        for value in one.values[:: max(1, len(one.values) // MOST_BEADS)]:
            painter.drawEllipse(QPointF(self._x(value), y), 3.5, 5.0)
        painter.setBrush(QColor(colours.inside))
        painter.drawEllipse(QPointF(self._x(one.median), y), 5.5, 9.0)
        painter.end()

    def _ends(self, painter: QPainter, y: float) -> None:
        """The line on which the values lie, the same for all channels, and what its ends stand for."""
        colours, quantity = shades(), self._quantity
        painter.setPen(QPen(QColor(colours.rule), 2.0))
        painter.drawLine(QPointF(ENDS, y), QPointF(self.width() - ENDS, y))
        painter.setPen(QColor(colours.muted))
        painter.setFont(sized_font(self, 13))
        right = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        ends = [f"{v * quantity.factor:.{quantity.decimals}f}" for v in (self._low, self._high)]
        painter.drawText(QRectF(0, y - 12, ENDS - 16, 24), right, signed(ends[0]))
        beyond = QRectF(self.width() - ENDS + 16, y - 12, ENDS - 16, 24)
        painter.drawText(beyond, int(Qt.AlignmentFlag.AlignVCenter), signed(ends[1]))


@cache
def _step_titles() -> dict[str, str]:
    """What the steps of the shipped procedures are called, by id; the first title where one has several."""
    titles: dict[str, str] = {}
    for procedure in shipped_procedures().values():
        for step in procedure.step:
            titles.setdefault(step.id, step.title)
    return titles


def fault_words(kind: str) -> str:
    """What the archive calls a kind of fault, in words: the title of a step in place of its id."""
    if kind == Kind.STEP:
        return _tr("sudden step")
    what, joint, step = kind.partition(": ")
    if what == "alarm" and step in set(Tier):
        return f"{what}{joint}{headline(Tier(step))}"
    return f"{what}{joint}{_step_titles().get(step, step)}" if what == "failed" else kind


class FaultRow(WordedWidget):
    """A kind of fault, and a bead for each session: filled where it was met."""

    def __init__(self, kind: str, many: int, sessions: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._kind, self._many, self._sessions = fault_words(kind), many, max(1, sessions)
        self.words = _tr("in {n} of {all}").format(n=many, all=sessions)
        self.setAccessibleName(f"{self._kind}: {self.words}")
        self.setMinimumHeight(28)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the words and the beads."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colours = shades()
        painter.setFont(sized_font(self, 15))
        painter.setPen(QColor(colours.ink))
        box = QRectF(0, 0, self.width() * 0.52, 28)
        kind = painter.fontMetrics().elidedText(
            worded(self._kind), Qt.TextElideMode.ElideRight, int(box.width())
        )
        painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter), kind)
        beads = min(self._sessions, 20)
        filled = max(1, round(self._many * beads / self._sessions))
        left = self.width() * 0.54
        step = min(14.0, (self.width() * 0.26) / beads)
        painter.setPen(QPen(QColor(colours.ink), 1.5))
        for number in range(beads):
            painter.setBrush(QColor(colours.outside if number < filled else colours.ground))
            painter.drawEllipse(QPointF(left + step * (number + 0.5), 14.0), 4.0, 6.0)
        painter.setPen(QColor(colours.muted))
        words = QRectF(self.width() * 0.82, 0, self.width() * 0.18, 28)
        painter.drawText(words, int(Qt.AlignmentFlag.AlignVCenter), worded(self.words))
        painter.end()


class ModelSheet(Dialog):
    """One model's history; scrolls where it has to."""

    def __init__(
        self, history: ModelHistory, parent: QWidget | None = None, *, practice: bool = False
    ) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("This model so far"))
        inside = QWidget(self)
        rows = QVBoxLayout(inside)
        rows.setSpacing(6)
        self.words = f"{history.model}: {summary_words(history, practice)}"
        head = Label(self.words, inside)
        head.setStyleSheet("font-size: 22px; font-weight: 700;")
        head.setWordWrap(True)
        rows.addWidget(head)
        self.tubes: list[SpreadTube] = []
        for heading, each in quantities(history):
            rows.addWidget(self._heading(heading, inside))
            span = broadened(min(q.spread.least for q in each), max(q.spread.most for q in each))
            for quantity in each:
                self.tubes.append(SpreadTube(quantity, span, inside))
                rows.addWidget(self.tubes[-1])
        rows.addWidget(self._heading(self.tr("What was met"), inside))
        self.faults = [FaultRow(kind, many, history.sessions, inside) for kind, many in history.faults]
        for row in self.faults:
            rows.addWidget(row)
        if not self.faults:
            none = Label(self.tr("No alarm, disturbance or failed step is in the archive."), inside)
            none.setWordWrap(True)
            rows.addWidget(none)
        rows.addStretch(1)
        area = QScrollArea(self)
        area.setWidgetResizable(True)
        area.setFrameShape(QScrollArea.Shape.NoFrame)
        area.setWidget(inside)
        close = Button(self.tr("Close"), self)
        close.setMinimumHeight(44)
        close.clicked.connect(self.accept)
        layout = QVBoxLayout(self)
        layout.addWidget(area, 1)
        layout.addWidget(close, 0, Qt.AlignmentFlag.AlignRight)
        self.resize(860, 620)

    def _heading(self, words: str, parent: QWidget) -> Label:
        heading = Label(words, parent)
        heading.setStyleSheet("font-size: 18px; font-weight: 600; padding-top: 8px;")
        heading.setWordWrap(True)
        return heading
