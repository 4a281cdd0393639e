"""The alarm across the whole width: one shape, one word and one hatching for each tier."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QCoreApplication, QPointF, QRectF, QSize, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QBrush, QColor, QPainter, QPaintEvent, QTransform
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from app.windows.actions import QT_TRANSLATE_NOOP
from app.windows.alarm_signs import draw_sign
from app.windows.lettering import Sentence
from app.windows.number_sign import signed
from app.windows.theme import shades
from app.windows.worded import Button
from procedures.events import Tier
from procedures.view import ActiveAlarm

ORDER = (Tier.OFF, Tier.ACT, Tier.LEAD, Tier.BLIND, Tier.LOOK)
_HATCH = {
    Tier.OFF: Qt.BrushStyle.FDiagPattern,
    Tier.ACT: Qt.BrushStyle.BDiagPattern,
    Tier.LEAD: Qt.BrushStyle.DiagCrossPattern,
    Tier.BLIND: Qt.BrushStyle.HorPattern,
    Tier.LOOK: Qt.BrushStyle.VerPattern,
}
_BEAT_MS = 600  # slower than three flashes a second


def worst_first(alarms: Sequence[ActiveAlarm]) -> list[ActiveAlarm]:
    """Unacknowledged before acknowledged, then by urgency, then the oldest."""
    return sorted(alarms, key=lambda a: (a.acknowledged, ORDER.index(a.alarm.tier), a.alarm.at_s))


def headline(tier: Tier) -> str:
    """What to do, in the fewest words; the alarm's own sentence stands below."""
    words = {
        Tier.OFF: QT_TRANSLATE_NOOP("alarms", "Switch the mains off now"),
        Tier.ACT: QT_TRANSLATE_NOOP("alarms", "Turn down now, or stop"),
        Tier.LEAD: QT_TRANSLATE_NOOP("alarms", "Look at the lead now"),
        Tier.BLIND: QT_TRANSLATE_NOOP("alarms", "Not watched"),
        Tier.LOOK: QT_TRANSLATE_NOOP("alarms", "Look at the unit"),
    }
    return QCoreApplication.translate("alarms", words[tier])


class AlarmSign(QWidget):
    """The sign of a tier, as large as there is room."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._tier = Tier.LOOK
        self._colour = "#000000"
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)

    def sizeHint(self) -> QSize:
        """A square of the banner's height."""
        return QSize(96, 96)

    def show_tier(self, tier: Tier, colour: str) -> None:
        """Take another shape."""
        self._tier, self._colour = tier, colour
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the shape."""
        painter = QPainter(self)
        side = min(self.width(), self.height()) - 12.0
        draw_sign(painter, self._tier, QPointF(self.rect().center()), side, self._colour)
        painter.end()


class AlarmBanner(QWidget):
    """Shows the most urgent alarm. Only its own key acknowledges; the big key never does."""

    acknowledge = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: ActiveAlarm | None = None
        self._beat = False
        self._loud = False
        self._scale = 1.0
        self._sign = AlarmSign(self)
        self._text = Sentence(46.0, parent=self)
        self._others = Sentence(19.0, bold=False, parent=self)
        self._seen = Button(self)
        self._seen.setMinimumSize(190, 80)
        self._seen.clicked.connect(self.acknowledge_shown)
        words = QVBoxLayout()
        words.setSpacing(0)
        words.addWidget(self._text, 5)
        words.addWidget(self._others, 5)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(40, 8, 40, 8)
        layout.setSpacing(18)
        layout.addWidget(self._sign)
        layout.addLayout(words, 1)
        layout.addWidget(self._seen)
        self._timer = QTimer(self)
        self._timer.setInterval(_BEAT_MS)
        self._timer.timeout.connect(self._tick)
        self.hide()

    @property
    def shown(self) -> ActiveAlarm | None:
        """The alarm in view."""
        return self._shown

    @property
    def room(self) -> int:
        """The height that it takes, also before the window is shown."""
        return 0 if self.isHidden() else self.height()

    @property
    def seen_button(self) -> Button:
        """Acknowledges the alarm in view."""
        return self._seen

    @property
    def text(self) -> str:
        """Its words."""
        return self._text.text

    def show_alarms(self, alarms: Sequence[ActiveAlarm], past: bool = False) -> None:
        """Show the most urgent of these alarms; nothing when there is none. `past`: in a review, in quiet."""
        order = worst_first(alarms)
        first = order[0] if order else None
        self._shown = first
        self.setVisible(first is not None)
        if first is None:
            self._timer.stop()
            return
        ground, ink = shades().banner[first.alarm.tier]
        self._sign.show_tier(first.alarm.tier, ink)
        loud = not first.acknowledged and not past
        where = f": {first.alarm.channel}" if first.alarm.channel else ""
        words = headline(first.alarm.tier) + where
        if past:
            words = self.tr("At that moment: {alarm}").format(alarm=words)
        elif not loud:
            words = self.tr("{alarm} – seen; it speaks up again if it gets worse").format(alarm=words)
        self._text.show_text(words, ink)
        others = [f"{a.alarm.channel or ''} – {headline(a.alarm.tier)}" for a in order[1:]]
        story = first.alarm.text.removeprefix(f"{headline(first.alarm.tier)}.").strip()
        more = self.tr("also {others}").format(others="; ".join(others)) if others else ""
        self._others.show_text(signed("  ·  ".join(part for part in (story, more) if part)), ink)
        self._others.setVisible(loud)
        self._seen.setVisible(loud)
        self._seen.setText(self.tr("F8   Seen"))
        self._seen.setAccessibleName(self.tr("Acknowledge the alarm: {text}").format(text=first.alarm.text))
        self._seen.setStyleSheet(
            f"font-size: 22px; font-weight: 600; min-height: 64px; background: {ink};"
            f" color: {ground}; border: 3px solid {ink};"
        )
        self._loud = loud
        self.set_scale(self._scale)
        if loud and not self._timer.isActive():
            self._timer.start()
        elif not loud:
            self._timer.stop()
        self.update()

    def set_scale(self, scale: float) -> None:
        """Follow the window's size; 1 is 1280 by 800. The key never becomes too small for a glove."""
        self._scale = scale
        calm = self._shown is not None and self._shown.alarm.tier in (Tier.LOOK, Tier.BLIND)
        full = max(92.0, (96.0 if calm else 118.0) * min(scale, 1.6))
        self.setFixedHeight(round(full if self._loud else full * 0.5))
        self._sign.setFixedWidth(round((full - 22.0) * (1.0 if self._loud else 0.5)))

    @Slot()
    def acknowledge_shown(self) -> None:
        """Say that the alarm in view has been seen."""
        if self._shown is not None and self._loud:
            self.acknowledge.emit(self._shown.alarm.id)

    @Slot()
    def _tick(self) -> None:
        self._beat = not self._beat
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """The tier's ground, with hatched ends that change places with every beat."""
        if self._shown is None:
            return
        painter = QPainter(self)
        ground, ink = shades().banner[self._shown.alarm.tier]
        painter.fillRect(self.rect(), QColor(ground))
        if self._loud:
            brush = QBrush(QColor(ink), _HATCH[self._shown.alarm.tier])
            brush.setTransform(QTransform().scale(2.2, 2.2).translate(4.0 if self._beat else 0.0, 0.0))
            painter.fillRect(QRectF(0, 0, 26, self.height()), brush)
            painter.fillRect(QRectF(self.width() - 26, 0, 26, self.height()), brush)
            if self._beat:
                painter.fillRect(QRectF(0, 0, self.width(), 6), QColor(ink))
                painter.fillRect(QRectF(0, self.height() - 6, self.width(), 6), QColor(ink))
        painter.end()
