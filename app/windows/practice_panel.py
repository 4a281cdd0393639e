"""The technician's hands on the simulated bench: switch, lamp, trimmers, lid, probes, speed.

It stands beside the bench, not in it: what is done here is not told to the run, just as turning a real
trimmer is not.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import (
    QColor,
    QKeyEvent,
    QKeySequence,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QShortcut,
    QWheelEvent,
)
from PySide6.QtWidgets import (
    QButtonGroup,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from app.language import worded
from app.windows.chooser import Chooser
from app.windows.key_names import key_name
from app.windows.number_sign import signed
from app.windows.theme import shades, sized_font
from app.windows.worded import Button, Label, WordedWidget
from procedures.events import Supply

if TYPE_CHECKING:
    from app.windows.ports import PracticeControls

FINE = 0.002  # of the travel: a touch
COARSE = 0.02
_FEED_KEYS = ("Ctrl+Shift+O", "Ctrl+Shift+L", "Ctrl+Shift+R", "Ctrl+Shift+P")
SPEEDS = (1.0, 2.0, 5.0, 10.0, 20.0, 60.0)


class TrimmerKnob(WordedWidget):
    """A screw head seen from above. Wheel and arrow keys turn it a touch, with Ctrl or Page keys ten."""

    turned = Signal(str, float)

    def __init__(self, channel: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._channel = channel
        self._position = 0.5
        self._play = 0.0
        self._grip: float | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(self.tr("Trimmer {channel}").format(channel=channel))
        self.setToolTip(
            self.tr("Wheel or ↑ ↓: a touch. Ctrl with the wheel, or Page keys: ten times as much.")
        )

    @property
    def channel(self) -> str:
        """Which channel's trimmer it is."""
        return self._channel

    def sizeHint(self) -> QSize:
        """Large enough to grip."""
        return QSize(120, 96)

    def show_position(self, position: float, play: float = 0.0) -> None:
        """Show where the knob stands, 0..1, and the part of the travel that is play."""
        if (position, play) != (self._position, self._play):
            self._position, self._play = position, play
            self.setAccessibleDescription(signed(f"{position * 100:.1f} %"))
            self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Turn by keys."""
        by = {
            Qt.Key.Key_Up: FINE,
            Qt.Key.Key_Right: FINE,
            Qt.Key.Key_Down: -FINE,
            Qt.Key.Key_Left: -FINE,
            Qt.Key.Key_PageUp: COARSE,
            Qt.Key.Key_PageDown: -COARSE,
        }.get(Qt.Key(event.key()))
        if by is None:
            super().keyPressEvent(event)
            return
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier and abs(by) == FINE:
            by *= COARSE / FINE
        self.turned.emit(self._channel, by)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Turn by the wheel."""
        notches = event.angleDelta().y() / 120.0
        coarse = event.modifiers() & Qt.KeyboardModifier.ControlModifier
        if notches:
            self.turned.emit(self._channel, notches * (COARSE if coarse else FINE))
        event.accept()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Grip."""
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        self._grip = event.position().x()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Drag sideways: to the right is clockwise."""
        if self._grip is not None:
            moved = event.position().x() - self._grip
            self._grip = event.position().x()
            if moved:
                self.turned.emit(self._channel, moved * FINE / 2.0)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let go."""
        self._grip = None

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the screw with its slot, and the channel's name."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colours = shades()
        radius = (self.height() - 30) / 2.0
        centre = QPointF(self.width() / 2.0, radius + 4.0)
        edge = colours.ring if self.hasFocus() else colours.ink
        painter.setPen(QPen(QColor(edge), 4.0 if self.hasFocus() else 2.0))
        painter.setBrush(QColor(colours.raised))
        painter.drawEllipse(centre, radius, radius)
        angle = math.radians(-135.0 + 270.0 * self._position)
        way = QPointF(math.sin(angle), -math.cos(angle)) * (radius * 0.72)
        painter.setPen(QPen(QColor(colours.ink), 6.0, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        painter.drawLine(centre - way, centre + way)
        painter.setPen(QPen(QColor(colours.raised), 3.0))
        painter.drawPoint(centre + way * 0.9)
        if self._play > 0.0:
            edge_box = QRectF(centre - QPointF(radius, radius), centre + QPointF(radius, radius))
            turn = 90.0 - (-135.0 + 270.0 * self._position)
            sweep = 270.0 * self._play
            painter.setPen(QPen(QColor(colours.outside), 5.0))
            painter.drawArc(edge_box, round(16 * (turn - sweep / 2.0)), max(16, round(16 * sweep)))
        painter.setPen(QColor(colours.ink))
        painter.setFont(sized_font(self, 14))
        text = worded(self._channel)
        box = QRectF(0, self.height() - 22, self.width(), 22)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)
        painter.end()


class PracticePanel(QFrame):
    """All that hands can do to the simulated unit."""

    def __init__(self, controls: PracticeControls, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._compact = False
        self.setProperty("role", "practice")
        self._controls = controls
        hands = controls.hands()
        self._title = title = Label(self.tr("Your hands at the unit"), self)
        title.setStyleSheet("font-weight: 600; font-size: 15px;")
        self._unlike = self._sentence()
        self._probes = Label(self)
        self._probes.setWordWrap(True)
        self._probes.setStyleSheet("font-size: 14px;")
        feeds = self._feed_row()
        self._lid = Button(self.tr("Lid"), self)
        self._lid.setCheckable(True)
        self._lid.clicked.connect(self._fit_lid)
        self._key_of(self._lid, "Ctrl+Shift+D")
        self._speed = Chooser(self.tr("Speed of the simulated bench"), self, letter=16.0)
        self._speed.addItems([self.tr("×{n} speed").format(n=f"{s:g}") for s in SPEEDS])
        self._speed.activated.connect(self._set_speed)
        self._speed.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self._knobs = [TrimmerKnob(t.channel, self) for t in hands.trimmers]
        knobs = self._knob_grid()
        to_knob = QShortcut(QKeySequence("Ctrl+Shift+T"), self)
        to_knob.activated.connect(self._next_knob)
        lower = QHBoxLayout()
        lower.addWidget(self._lid)
        lower.addWidget(self._speed, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(10, 8, 10, 10)
        layout.setSpacing(6)
        layout.addWidget(title)
        layout.addWidget(self._probes)
        layout.addWidget(self._unlike)
        layout.addLayout(feeds)
        layout.addLayout(knobs)
        layout.addLayout(lower)
        self.refresh()

    @property
    def knobs(self) -> list[TrimmerKnob]:
        """The trimmers, in the order of the channels."""
        return self._knobs

    @property
    def lid_button(self) -> Button:
        """Puts the cover on or takes it off."""
        return self._lid

    def feed_button(self, supply: Supply) -> Button:
        """The switch position for a feed."""
        button = self._feeds.button(self._feed_kinds.index(supply))
        assert isinstance(button, Button)
        return button

    def _feed_row(self) -> QHBoxLayout:
        """The switch, a button for each position."""
        self._feeds = QButtonGroup(self)
        feeds = QHBoxLayout()
        feeds.setSpacing(4)
        self._feed_kinds = (Supply.OFF, Supply.SERIES_LAMP, Supply.REDUCED, Supply.MAINS)
        words = (self.tr("Off"), self.tr("Lamp"), self.tr("Low"), self.tr("Mains"))  # Low: reduced mains
        for number, text in enumerate(words):
            button = Button(text, self)
            button.setCheckable(True)
            button.setAccessibleName(self.tr("Switch of the simulated unit: {text}").format(text=text))
            self._key_of(button, _FEED_KEYS[number])
            button.setStyleSheet("padding: 4px 1px;")
            self._feeds.addButton(button, number)
            feeds.addWidget(button)
        self._feeds.idClicked.connect(self._switch)
        return feeds

    def _knob_grid(self) -> QGridLayout:
        """The trimmers, and below each what may happen to its probe."""
        self._slips = QButtonGroup(self)
        self._shorts = QButtonGroup(self)
        knobs = QGridLayout()
        knobs.setSpacing(4)
        for number, knob in enumerate(self._knobs):
            knob.turned.connect(self._turn)
            slip = Button(self.tr("Slip probe"), self)
            slip.setAccessibleName(self.tr("Let the probe slip: {channel}").format(channel=knob.channel))
            slip.setStyleSheet("padding: 3px 4px; font-size: 14px;")
            self._slips.addButton(slip, number)
            short = Button(self.tr("Short it"), self)
            short.setAccessibleName(
                self.tr("Slip and short a device: {channel}").format(channel=knob.channel)
            )
            short.setToolTip(self.tr("With the power on this does harm, as it would at a real unit."))
            short.setStyleSheet("padding: 3px 4px; font-size: 14px;")
            self._shorts.addButton(short, number)
            knobs.addWidget(knob, 0, number)
            knobs.addWidget(slip, 1, number)
            knobs.addWidget(short, 2, number)
        self._slips.idClicked.connect(self._slip)
        self._shorts.idClicked.connect(self._short)
        return knobs

    def _key_of(self, button: Button, keys: str) -> None:
        """Give a button a key, and say so in its tip."""
        sequence = QKeySequence(keys)
        # Not the button's own shortcut: that would go with the next text, and press late.
        QShortcut(sequence, self).activated.connect(button.click)
        button.setToolTip(key_name(sequence))

    @Slot()
    def _next_knob(self) -> None:
        """The first trimmer, or the next one while a trimmer is in hand."""
        held = next((i for i, knob in enumerate(self._knobs) if knob.hasFocus()), -1)
        self._knobs[(held + 1) % len(self._knobs)].setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _sentence(self) -> Label:
        label = Label(self)
        label.setProperty("role", "trouble")
        label.setWordWrap(True)
        label.hide()
        return label

    @property
    def said(self) -> str:
        """Where hands and words differ."""
        return self._unlike.text()

    def say(self, sentence: str) -> None:
        """Say where hands and words differ; empty while they agree."""
        words = signed(sentence)
        if words != self._unlike.english():
            self._unlike.setText(words)
            self._unlike.setVisible(bool(sentence))
            self._size_knobs()

    def set_compact(self, compact: bool) -> None:
        """Leave out what a low window has no room for."""
        self._title.setHidden(compact)
        self._probes.setHidden(compact)
        for button in (*self._slips.buttons(), *self._shorts.buttons()):
            button.setHidden(compact)
        self._compact = compact
        self._size_knobs()

    def _size_knobs(self) -> None:
        """In a low window a sentence takes its room from the trimmers."""
        low = 46 if self._unlike.text() else 72
        for knob in self._knobs:
            knob.setFixedHeight(low if self._compact else 96)

    def refresh(self) -> None:
        """Show how things stand at the simulated unit."""
        hands = self._controls.hands()
        if hands.supply in self._feed_kinds:
            self._feeds.button(self._feed_kinds.index(hands.supply)).setChecked(True)
        self._lid.setChecked(hands.lid_fitted)
        self._lid.setText(self.tr("Lid on") if hands.lid_fitted else self.tr("Lid off"))
        for knob, trimmer in zip(self._knobs, hands.trimmers, strict=False):
            knob.show_position(trimmer.position, trimmer.play)
        touched = " · ".join(point or self.tr("nothing") for point in hands.probes)
        self._probes.setText(self.tr("Probes on: {points}").format(points=touched) if touched else "")
        nearest = min(range(len(SPEEDS)), key=lambda i: abs(SPEEDS[i] - hands.speed))
        if not self._speed.view().isVisible():
            self._speed.setCurrentIndex(nearest)

    @Slot(int)
    def _switch(self, number: int) -> None:
        self._controls.switch(self._feed_kinds[number])
        self.refresh()

    @Slot(bool)
    def _fit_lid(self, fitted: bool) -> None:
        self._controls.fit_lid(fitted)
        self.refresh()

    @Slot(int)
    def _set_speed(self, index: int) -> None:
        self._controls.set_speed(SPEEDS[index])
        self._speed.clearFocus()  # Space is the big key again

    @Slot(str, float)
    def _turn(self, channel: str, by: float) -> None:
        self._controls.turn(channel, by)
        self.refresh()

    @Slot(int)
    def _slip(self, number: int) -> None:
        self._controls.slip(self._knobs[number].channel)

    @Slot(int)
    def _short(self, number: int) -> None:
        self._controls.short(self._knobs[number].channel)
