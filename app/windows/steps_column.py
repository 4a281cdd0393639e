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


_VALUE, _HEADING = "value", "heading"  # lines of the findings that are no verdict
_Line = tuple[Outcome | str, str]


def last_recorded(view: RunView) -> dict[str, str]:
    """What was recorded last of each channel, with its name: `left bias as left: 13.61 mV`."""
    return {
        item.channel: f"{item.channel} {item.name}: {plain(item.value, item.unit, 2)}"
        for item in view.recorded
        if item.channel is not None and item.value is not None
    }


def whole_in_sight(widget: QWidget, top: float, height: float) -> bool:
    """Whether a line is wholly inside what is seen of the widget, or too high to be ever seen whole."""
    seen = widget.visibleRegion().boundingRect()
    return height > seen.height() or (top >= seen.top() - 3 and top + height - 6 <= seen.bottom() + 1)


def verdict_words(verdict: Verdict) -> str:
    """A verdict in a line. One about the whole tells its channels' outcomes itself."""
    reason = signed(verdict.reason)
    if verdict.channel is None and f": {verdict.outcome.value}" in reason:
        return reason
    where = f"{verdict.channel} " if verdict.channel else ""
    return f"{where}{verdict.outcome.value}: {reason}"


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

    def before_present(self) -> int:
        """Where the step before the present one begins, in the widget's pixels."""
        top = before = 0
        for step in self._steps:
            if step.state is StepState.ACTIVE:
                return before
            before, top = top, top + self._height(step, self.width())
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
            if whole_in_sight(self, top, height):
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
        self._lines: list[_Line] = []
        self.scale = 1.0
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def show_findings(self, view: RunView) -> None:
        """Show the newest value of each name and channel, and every verdict under the step that gave it."""
        recorded, titles = view.recorded, {step.id: step.title for step in view.steps}
        newest: dict[tuple[str, str | None], RecordedValue] = {}
        for item in recorded:
            newest[(item.name, item.channel)] = item
        lines: list[_Line] = []
        for item in newest.values():
            value = self.tr("not measured") if item.value is None else plain(item.value, item.unit, 2)
            where = f"{item.channel} " if item.channel else ""
            lines.append((_VALUE, f"{where}{item.name}: {value}"))
        step = ""
        for verdict in view.verdicts:
            title = titles.get(verdict.step, "")
            if title and verdict.step != step:
                lines.append((_HEADING, title))
            step = verdict.step
            lines.append((verdict.outcome, verdict_words(verdict)))
        if lines != self._lines:
            self._lines = lines
            self.setAccessibleName("; ".join(text for _, text in lines) or self.tr("Nothing recorded yet"))
            self.updateGeometry()
            self.update()

    def _height(self, line: _Line, width: int) -> int:
        kind, text = line
        metrics = QFontMetrics(sized_font(self, 15 * self.scale, bold=kind == _HEADING))
        return metrics.boundingRect(0, 0, max(80, width - 40), 400, int(_WRAP), worded(text)).height() + 6

    def hasHeightForWidth(self) -> bool:
        """Lines wrap."""
        return True

    def heightForWidth(self, width: int) -> int:
        """As high as the lines need."""
        return sum(self._height(line, width) for line in self._lines) + 4

    def sizeHint(self) -> QSize:
        """See `heightForWidth`."""
        return QSize(240, self.heightForWidth(240))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the lines."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colours = shades()
        top = 0.0
        for kind, text in self._lines:
            heading = kind == _HEADING
            height = self._height((kind, text), self.width())
            if whole_in_sight(self, top, height):
                if not heading:
                    self._sign(painter, QPointF(14.0, top + 12.0), kind)
                painter.setFont(sized_font(self, 15 * self.scale, bold=heading))
                painter.setPen(QColor(colours.muted if kind == _VALUE else colours.ink))
                left = 4 if heading else 34
                box = QRectF(left, top + 2, self.width() - 6 - left, height)
                painter.drawText(box, int(_WRAP), worded(text))
            top += height
        painter.end()

    def _sign(self, painter: QPainter, centre: QPointF, outcome: Outcome | str) -> None:
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
        self.verticalScrollBar().valueChanged.connect(self._whole_lines)

    @Slot()
    def _whole_lines(self) -> None:
        """A line is shown whole or not at all, and which ones are has changed."""
        self._steps.update()
        self._findings.update()

    def set_scale(self, scale: float) -> None:
        """Follow the window's size; 1 is 1280 by 800."""
        for part in (self._steps, self._findings):
            part.scale = min(max(scale, 0.9), 1.6)
            part.updateGeometry()

    def show_view(self, view: RunView) -> None:
        """Show the run's steps and findings."""
        self._title.setText(view.title)
        self._steps.show_steps(view.steps)
        self._findings.show_findings(view)
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
        before = self._steps.before_present()
        # With the first step its title is seen too, whole, instead of the lower half of it.
        self.verticalScrollBar().setValue(self._steps.y() + before if before > 0 else 0)
