"""The alarm across the whole width: one shape, one word and one hatching for each tier."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QCoreApplication, QPointF, QRectF, QSize, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QBrush, QColor, QPainter, QPaintEvent, QTransform
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from app.windows.actions import QT_TRANSLATE_NOOP
from app.windows.alarm_signs import draw_sign
from app.windows.lettering import LEAST_LETTER, Sentence
from app.windows.number_sign import signed
from app.windows.theme import GLOVE_MM, LETTER, glove_sheet, legible_letter, millimetres, shades
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
SMALL = 700.0  # style pixels: a narrow window
LOW = 400.0
MOST_HEAD = 0.4  # of the banner, for what is to be done
MOST_SHARE, MOST_SHARE_LOW = 0.34, 0.42  # of the height of the window, and of a low one
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


def told(active: ActiveAlarm) -> tuple[str, str]:
    """What an alarm says beside its headline: what happens now, and what can be read later and close by."""
    story = active.alarm.text.removeprefix(f"{headline(active.alarm.tier)}.").strip()
    now, stop, later = story.partition(". ")
    return now + stop.strip(), later


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
        self._room = (1280.0, 800.0)
        self._ends = 26  # style pixels of hatching at either end
        self._sign = AlarmSign(self)
        self._text = Sentence(46.0, parent=self)
        self._what = Sentence(40.0, bold=False, parent=self)
        self._others = Sentence(19.0, bold=False, parent=self)
        self._seen = Button(self)
        self._seen.clicked.connect(self.acknowledge_shown)
        words = QVBoxLayout()
        words.setSpacing(0)
        words.addWidget(self._text)
        words.addWidget(self._what)
        words.addWidget(self._others)
        self._row = layout = QHBoxLayout(self)
        layout.addWidget(self._sign)
        layout.addLayout(words, 1)
        layout.addWidget(self._seen, 0, Qt.AlignmentFlag.AlignVCenter)
        self._timer = QTimer(self)
        self._timer.setInterval(_BEAT_MS)
        self._timer.timeout.connect(self._tick)
        self.hide()

    @property
    def shown(self) -> ActiveAlarm | None:
        """The alarm in view."""
        return self._shown

    @property
    def loud(self) -> bool:
        """Whether it stands for an alarm that nobody has seen yet."""
        return self._loud and not self.isHidden()

    @property
    def explanation(self) -> Sentence:
        """What the alarm says beside its headline, to be read at two metres."""
        return self._what

    @property
    def letters(self) -> tuple[float, float]:
        """The height of the letters of what is to be done, and of the explanation, in style pixels."""
        return self._text.letter, self._what.letter

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
        """Its headline, with the channel."""
        alarm = self._shown.alarm if self._shown is not None and self._loud else None
        return f"{self._text.text}: {alarm.channel}" if alarm and alarm.channel else self._text.text

    def show_alarms(self, alarms: Sequence[ActiveAlarm], past: bool = False) -> None:
        """Show the most urgent of these alarms; nothing when there is none. `past`: in a review, in quiet."""
        order = worst_first(alarms)
        first = order[0] if order else None
        self._shown = first
        self.setVisible(first is not None)
        if first is None:
            self._timer.stop()
            return
        _, ink = shades().banner[first.alarm.tier]
        self._sign.show_tier(first.alarm.tier, ink)
        loud = not first.acknowledged and not past
        where = f": {first.alarm.channel}" if first.alarm.channel else ""
        words = headline(first.alarm.tier) + (where if past or not loud else "")
        if past:
            words = self.tr("At that moment: {alarm}").format(alarm=words)
        elif not loud:
            again = (
                self.tr("{alarm} – seen; it is said again until the mains is off")
                if first.alarm.tier is Tier.OFF
                else self.tr("{alarm} – seen; it speaks up again if it gets worse")
            )
            words = again.format(alarm=words)
        self._text.show_text(words, ink)
        others = [f"{a.alarm.channel or ''} – {headline(a.alarm.tier)}" for a in order[1:]]
        what, later = told(first)
        more = self.tr("also {others}").format(others="; ".join(others)) if others else ""
        self._what.show_text(signed(what), ink)
        self._others.show_text(signed("  ·  ".join(part for part in (later, more) if part)), ink)
        self._seen.setVisible(loud)
        self._seen.setText(self.tr("F8   Seen"))
        name = self.tr("Acknowledge the alarm: {text}").format(text=first.alarm.text)
        self._seen.setAccessibleName(signed(name))
        self._loud = loud
        self.fit(*self._room)
        if loud and not self._timer.isActive():
            self._timer.start()
        elif not loud:
            self._timer.stop()
        self.update()

    def fit(self, width: float, height: float) -> None:
        """Take the room that the words need to be read at two metres, within a share of the window.

        What is to be done before the next power-up is read close by, and is small.
        """
        self._room = (width, height)
        small = width < SMALL
        letter = max(legible_letter(), LETTER + 2.0)
        grown = max(letter, 46.0 * min(width / 1280.0, height / 800.0))
        sign = round(min(84.0, max(34.0, width * 0.066)))
        ends = self._ends = 12 if small else 26
        self._row.setContentsMargins(ends + 8, 8, ends + 8, 8)
        self._row.setSpacing(10 if small else 18)
        self._sign.setFixedWidth(sign if self._loud else sign // 2)
        self._text.set_largest(grown if self._loud else grown * 0.7)
        self._what.set_largest(letter)
        self._what.setVisible(self._loud)
        self._others.setVisible(self._loud)
        if not self._loud:
            self._text.setFixedHeight(round(max(30.0, grown)))
            self.setFixedHeight(self._text.height() + 16)
            return
        ground, ink = shades().banner[self._shown.alarm.tier] if self._shown is not None else ("#000", "#fff")
        self._seen.setStyleSheet(
            f"font-size: {16 if small else 22}px; font-weight: 600; padding: 6px 2px; {glove_sheet(3)}"
            f" background: {ink}; color: {ground}; border: 3px solid {ink};"
        )
        self._seen.ensurePolished()  # so that it knows the letters in which its words need room
        least = 112 if small else round(min(max(136.0, 160.0 * width / 1280.0), 190.0))
        self._seen.setFixedWidth(max(least, self._seen.sizeHint().width()))
        inner = round(width - 2 * (ends + 8) - sign - self._seen.width() - 2 * self._row.spacing())
        self._share(inner, (grown, letter, 19.0), height)

    def _share(self, width: int, letters: tuple[float, float, float], height: float) -> None:
        """Give each of the three texts its height."""
        texts = (self._text, self._what, self._others)
        pairs = zip(texts, letters, strict=True)
        needs = [one.height_for(width, size) + 2 if one.text else 0 for one, size in pairs]
        most = round(height * (MOST_SHARE if height > LOW else MOST_SHARE_LOW)) - 16
        if sum(needs) > most:
            needs[2] = 0
        key = round(millimetres(GLOVE_MM)) + 6
        # What is to be done stays whole and is the largest; the story shrinks before it.
        story, least = (one.height_for(width, LEAST_LETTER) + 2 for one in (self._what, self._text))
        head = min(needs[0], round(most * MOST_HEAD), max(least, most - story))
        squeeze = min(1.0, (most - head) / max(1, sum(needs[1:])))
        heights = [head, *(int(need * squeeze) for need in needs[1:])]
        if sum(heights) < key:
            heights[0] += key - sum(heights)
        for one, high in zip(texts, heights, strict=True):
            one.setVisible(high > 0)
            one.setFixedHeight(max(1, high))
        self.setFixedHeight(sum(heights) + 16)

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
            painter.fillRect(QRectF(0, 0, self._ends, self.height()), brush)
            painter.fillRect(QRectF(self.width() - self._ends, 0, self._ends, self.height()), brush)
            if self._beat:
                painter.fillRect(QRectF(0, 0, self.width(), 6), QColor(ink))
                painter.fillRect(QRectF(0, self.height() - 6, self.width(), 6), QColor(ink))
        painter.end()
