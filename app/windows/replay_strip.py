"""Winding a past session: play, hold, another moment, another speed."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QWidget

from app.windows.chooser import Chooser
from app.windows.flow import Flow
from app.windows.ports import Replayed
from app.windows.theme import sized_font
from app.windows.worded import Button, Label, Slider
from app.windows.wording import clock

STEP_S = 10.0
REPLAY_DEEDS = ("slower", "faster", "back", "on", "begin", "end")
SPEEDS = (1.0, 5.0, 10.0, 30.0, 60.0, 120.0)


class ReplayStrip(QWidget):
    """The moment that is shown, on a line as long as the session. `how_it_went` is asked of practice."""

    how_it_went = Signal()

    def __init__(self, replayed: Replayed, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replayed = replayed
        self._slider = Slider(Qt.Orientation.Horizontal, self)
        self._slider.setRange(0, max(1, round(replayed.length_s)))
        self._slider.setPageStep(60)
        self._slider.setMinimumHeight(36)
        self._slider.setAccessibleName(self.tr("Moment of the session"))
        self._slider.valueChanged.connect(self._sought)
        self._words = Label(self)
        self._words.setFont(sized_font(self, 20, bold=True))
        self._speed = Chooser(self.tr("Speed of the replay"), self)
        self._speed.addItems([self.tr("×{n} speed").format(n=f"{s:g}") for s in SPEEDS])
        self._speed.setCurrentIndex(SPEEDS.index(min(SPEEDS, key=lambda s: abs(s - replayed.speed))))
        self._speed.activated.connect(self._set_speed)
        self._speed.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.practised = Button(self.tr("&How it went"), self)
        self.practised.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.practised.setMinimumHeight(42)
        self.practised.clicked.connect(self.how_it_went)
        self.practised.hide()
        self._row = layout = QHBoxLayout(self)
        layout.setContentsMargins(16, 0, 12, 0)
        layout.setSpacing(14)
        layout.addWidget(self._slider, 1)
        beside = Flow(gap=14)
        beside.addWidget(self._words)
        beside.addWidget(self._speed)
        beside.addWidget(self.practised)
        layout.addLayout(beside)
        self.refresh()

    def set_narrow(self, narrow: bool) -> None:
        """The line above, the rest below."""
        way = QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        self._row.setDirection(way)
        self._row.setSpacing(0 if narrow else 14)

    @property
    def slider(self) -> Slider:
        """The moment."""
        return self._slider

    def key_label(self) -> str:
        """What the big key does."""
        if self._replayed.playing:
            return self.tr("Hold")
        at_end = self._replayed.position_s >= self._replayed.length_s
        return self.tr("Replay it") if at_end else self.tr("Go on")

    def toggle(self) -> None:
        """Go on, or hold."""
        self._replayed.play(not self._replayed.playing)

    def wind(self, name: str) -> str:
        """Do what one of `REPLAY_DEEDS` says; what it led to, in words."""
        replayed, at_s = self._replayed, self._replayed.position_s
        if name in ("slower", "faster"):
            nearest = min(range(len(SPEEDS)), key=lambda i: abs(SPEEDS[i] - replayed.speed))
            place = min(max(nearest + (1 if name == "faster" else -1), 0), len(SPEEDS) - 1)
            replayed.set_speed(SPEEDS[place])
            self._speed.setCurrentIndex(place)
            return self._speed.currentText()
        to_s = {"back": at_s - STEP_S, "on": at_s + STEP_S, "begin": 0.0, "end": replayed.length_s}[name]
        replayed.seek(min(max(to_s, 0.0), replayed.length_s))
        self.refresh()
        return ""

    def refresh(self) -> None:
        """Show where the replay is."""
        if not self._slider.isSliderDown():
            self._slider.blockSignals(True)
            self._slider.setValue(round(self._replayed.position_s))
            self._slider.blockSignals(False)
        self._words.setText(f"{clock(self._replayed.position_s)} / {clock(self._replayed.length_s)}")

    @Slot(int)
    def _sought(self, session_s: int) -> None:
        self._replayed.seek(float(session_s))

    @Slot(int)
    def _set_speed(self, index: int) -> None:
        self._replayed.set_speed(SPEEDS[index])
        self._speed.clearFocus()  # Space is the big key again
