"""The steps of the procedure, and what has been recorded and judged so far."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, QTimer, Slot
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPaintEvent, QPen, QPolygonF, QResizeEvent
from PySide6.QtWidgets import QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from app.language import worded
from app.windows.number_sign import signed
from app.windows.theme import shades, sized_font
from app.windows.worded import Label, WordedWidget
from app.windows.wording import plain
from procedures.events import Outcome, RecordedValue, StepState, Verdict
from procedures.view import RunView, StepLine

_WRAP = Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop


class StepList(WordedWidget):
    """A thread with beads: done is filled, the present one is large, skipped is crossed."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._steps: tuple[StepLine, ...] = ()
        self.scale = 1.0
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def show_steps(self, steps: tuple[StepLine, ...]) -> None:
        """Show other steps or states."""
        if steps != self._steps:
            self._steps = steps
            words = [f"{s.title}: {s.state.value}" for s in steps]
            self.setAccessibleName(self.tr("Steps: ") + "; ".join(words))
            self.updateGeometry()
            self.update()

    def present_top(self) -> int:
        """Where the present step is, in the widget's pixels."""
        top = 0
        for step in self._steps:
            if step.state is StepState.ACTIVE:
                return top
            top += self._height(step, self.width())
        return 0

    def _height(self, step: StepLine, width: int) -> int:
        font = sized_font(self, 17 * self.scale, bold=step.state is StepState.ACTIVE)
        box = QFontMetrics(font).boundingRect(0, 0, max(80, width - 40), 400, int(_WRAP), worded(step.title))
        return box.height() + 9

    def hasHeightForWidth(self) -> bool:
        """Titles wrap."""
        return True

    def heightForWidth(self, width: int) -> int:
        """As high as the steps need."""
        return sum(self._height(s, width) for s in self._steps) + 4

    def sizeHint(self) -> QSize:
        """See `heightForWidth`."""
        return QSize(240, self.heightForWidth(240))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw thread, beads and titles."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colours = shades()
        heights = [self._height(s, self.width()) for s in self._steps]
        painter.setPen(QPen(QColor(colours.faint), 2.0))
        if heights:
            painter.drawLine(QPointF(14, 14), QPointF(14, sum(heights[:-1]) + 14))
        top = 0.0
        for step, height in zip(self._steps, heights, strict=True):
            active = step.state is StepState.ACTIVE
            self._bead(painter, QPointF(14.0, top + 14.0), step.state)
            painter.setFont(sized_font(self, 17 * self.scale, bold=active))
            painter.setPen(QColor(colours.ink if active else colours.muted))
            box = QRectF(34, top + 3, self.width() - 40, height)
            painter.drawText(box, int(_WRAP), worded(step.title))
            top += height
        painter.end()

    def _bead(self, painter: QPainter, centre: QPointF, state: StepState) -> None:
        colours = shades()
        ink = QColor(colours.ink)
        painter.setPen(QPen(ink, 2.0))
        painter.setBrush(QColor(colours.ground))
        if state is StepState.ACTIVE:
            painter.setBrush(QColor(colours.accent))
            painter.drawEllipse(centre, 11.0, 7.0)
        elif state is StepState.DONE:
            painter.setBrush(QColor(colours.inside))
            painter.setPen(QPen(QColor(colours.inside), 2.0))
            painter.drawEllipse(centre, 7.0, 5.0)
        elif state in (StepState.SKIPPED, StepState.STOPPED):
            painter.drawEllipse(centre, 7.0, 5.0)
            painter.drawLine(centre + QPointF(-7, 5), centre + QPointF(7, -5))
        else:
            painter.setPen(QPen(QColor(colours.faint), 2.0))
            painter.drawEllipse(centre, 7.0, 5.0)


class Findings(WordedWidget):
    """What the record holds so far: values by name, then verdicts with a shape for each outcome."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lines: list[tuple[Outcome | None, str]] = []
        self.scale = 1.0
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def show_findings(self, recorded: tuple[RecordedValue, ...], verdicts: tuple[Verdict, ...]) -> None:
        """Show the newest value of each name and channel, and every verdict."""
        newest: dict[tuple[str, str | None], RecordedValue] = {}
        for item in recorded:
            newest[(item.name, item.channel)] = item
        lines: list[tuple[Outcome | None, str]] = []
        for item in newest.values():
            value = self.tr("not measured") if item.value is None else plain(item.value, item.unit, 2)
            where = f"{item.channel} " if item.channel else ""
            lines.append((None, f"{where}{item.name}: {value}"))
        for verdict in verdicts:
            where = f"{verdict.channel} " if verdict.channel else ""
            lines.append((verdict.outcome, f"{where}{verdict.outcome.value}: {signed(verdict.reason)}"))
        if lines != self._lines:
            self._lines = lines
            self.setAccessibleName("; ".join(text for _, text in lines) or self.tr("Nothing recorded yet"))
            self.updateGeometry()
            self.update()

    def _height(self, text: str, width: int) -> int:
        metrics = QFontMetrics(sized_font(self, 15 * self.scale))
        return metrics.boundingRect(0, 0, max(80, width - 40), 400, int(_WRAP), worded(text)).height() + 6

    def hasHeightForWidth(self) -> bool:
        """Lines wrap."""
        return True

    def heightForWidth(self, width: int) -> int:
        """As high as the lines need."""
        return sum(self._height(t, width) for _, t in self._lines) + 4

    def sizeHint(self) -> QSize:
        """See `heightForWidth`."""
        return QSize(240, self.heightForWidth(240))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the lines."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colours = shades()
        painter.setFont(sized_font(self, 15 * self.scale))
        top = 0.0
        for outcome, text in self._lines:
            self._sign(painter, QPointF(14.0, top + 12.0), outcome)
            height = self._height(text, self.width())
            painter.setPen(QColor(colours.ink if outcome else colours.muted))
            painter.drawText(QRectF(34, top + 2, self.width() - 40, height), int(_WRAP), worded(text))
            top += height
        painter.end()

    def _sign(self, painter: QPainter, centre: QPointF, outcome: Outcome | None) -> None:
        """A tick, a cross, a resting bubble, or nothing measured."""
        colours = shades()
        if outcome is Outcome.PASSED:
            painter.setPen(QPen(QColor(colours.inside), 3.0))
            painter.drawPolyline(
                QPolygonF([centre + QPointF(-7, 0), centre + QPointF(-2, 5), centre + QPointF(7, -6)])
            )
        elif outcome is Outcome.FAILED:
            painter.setPen(QPen(QColor(colours.outside), 3.0))
            painter.drawLine(centre + QPointF(-6, -6), centre + QPointF(6, 6))
            painter.drawLine(centre + QPointF(-6, 6), centre + QPointF(6, -6))
        elif outcome is Outcome.LEFT_ALONE:
            painter.setPen(QPen(QColor(colours.inside), 2.0))
            painter.setBrush(QColor(colours.inside))
            painter.drawEllipse(centre, 7.0, 4.0)
        else:
            painter.setPen(QPen(QColor(colours.faint), 2.0))
            painter.drawLine(centre + QPointF(-5, 0), centre + QPointF(5, 0))


class StepsColumn(QScrollArea):
    """The steps, and under them the findings; scrolls by itself to the present step."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._step: str | None = None
        self._ended = False
        inner = QWidget(self)
        self._title = Label(inner)
        self._title.setProperty("role", "quiet")
        self._title.setWordWrap(True)
        self._steps = StepList(inner)
        self._findings = Findings(inner)
        layout = QVBoxLayout(inner)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        layout.addWidget(self._title)
        layout.addWidget(self._steps)
        layout.addWidget(self._findings)
        layout.addStretch(1)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.viewport().setAutoFillBackground(False)
        inner.setAutoFillBackground(False)
        self.setWidget(inner)

    def set_scale(self, scale: float) -> None:
        """Follow the window's size; 1 is 1280 by 800."""
        for part in (self._steps, self._findings):
            part.scale = min(max(scale, 0.9), 1.6)
            part.updateGeometry()

    def show_view(self, view: RunView) -> None:
        """Show the run's steps and findings."""
        self._title.setText(view.title)
        self._steps.show_steps(view.steps)
        self._findings.show_findings(view.recorded, view.verdicts)
        if view.step != self._step or self._ended != (view.ended is not None):
            self._step = view.step
            self._ended = view.ended is not None
            # Only once the layout has given the steps their new height.
            QTimer.singleShot(0, self, self._to_present_step)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the present step in view."""
        super().resizeEvent(event)
        QTimer.singleShot(0, self, self._to_present_step)

    @Slot()
    def _to_present_step(self) -> None:
        """The step before the present one is the first that is seen; at the end, the last words."""
        if self._ended:
            self.verticalScrollBar().setValue(self.verticalScrollBar().maximum())
            return
        self.verticalScrollBar().setValue(max(0, self._steps.y() + self._steps.present_top() - 34))
