"""One channel across the screen: the reading in large digits, its level in the window, and words."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QGridLayout, QSizePolicy, QVBoxLayout, QWidget

from app.windows.figures import Figures
from app.windows.gauge import Level, picture_of
from app.windows.lettering import Lines, Sentence
from app.windows.number_sign import signed
from app.windows.theme import millimetres, shades, sized_font, wear
from app.windows.worded import Label, WordedWidget
from app.windows.wording import (
    deviation,
    digits,
    forecast_words,
    heading_words,
    limits,
    milliamperes,
    shown_number,
    shown_unit,
)
from procedures.analysis.channel import AdviceKind, ChannelSetup, ChannelState, Position, TrimAdvice

_TURNING = (AdviceKind.NUDGE, AdviceKind.TURN, AdviceKind.TURN_BACK, AdviceKind.APPROACH_FROM_BELOW)
_LEFT_BEHIND = 0.2  # of the target; more than noise and crackle do; common practice, no source
_BRIEF = 40  # letters of a reason that stand large in half a row
LEAST_DIGITS = 46.0  # 12 mm at 96 dots an inch
LEAST_MM = 12.0  # what is legible at two metres
GLANCE_DIGITS = 134.0  # 35 mm
LEAST_NARROW = 92.0  # the height of the reading in a narrow row
WITH_LEVEL = 150.0  # a narrow row that also has its level
WITH_TOLD = 184.0  # and what is foreseen
SMALLEST_DIGITS = 30.0  # style pixels: where a style pixel is large, less would still be 12 mm


def followed(state: ChannelState, setup: ChannelSetup) -> ChannelState:
    """The state as the newest reading alone tells it, for the hand that is turning a trimmer.

    The level of the last seconds would lag behind the hand, and their scatter is the hand's own;
    what was foreseen, was foreseen for a trimmer at rest.
    """
    if state.value is None:
        return state
    window = limits(setup, state)
    position = Position.UNKNOWN
    if window is not None:
        low, high = window
        inside = low <= state.value <= high
        position = Position.INSIDE if inside else Position.BELOW if state.value < low else Position.ABOVE
    amperes = state.value / setup.resistance_ohm if setup.resistance_ohm else None
    return replace(
        state, level=state.value, noise=None, position=position, amperes=amperes, reason="", forecast=None
    )


def outrun(state: ChannelState, setup: ChannelSetup) -> bool:
    """Whether the reading has left its level of the last seconds behind, such as under a hand."""
    if state.value is None or state.gap or state.level is None or not setup.target_volts:
        return False
    return abs(state.value - state.level) > _LEFT_BEHIND * abs(setup.target_volts)


class ChannelRow(WordedWidget):
    """Shows one `ChannelState`. The row never changes its layout while readings come in."""

    def __init__(self, index: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._index = index
        self._focused = self._narrow = False
        self._name = Label(self)
        self._figures = Figures(self)
        self._unit = Label(self)
        self._current = Label(self)
        self._level = Level(self)
        self._where = Sentence(42.0, parent=self)
        self._told = Lines(20.0, self)
        self._arrange()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def _arrange(self) -> None:
        beside = QVBoxLayout()
        beside.setSpacing(0)
        beside.addStretch(1)
        beside.addWidget(self._unit)
        beside.addWidget(self._current)
        reading = QGridLayout()
        reading.setHorizontalSpacing(8)
        reading.setVerticalSpacing(4)
        reading.addWidget(self._name, 0, 0, 1, 2)
        reading.addWidget(self._figures, 1, 0)
        reading.addLayout(beside, 1, 1)
        reading.setColumnMinimumWidth(1, 104)
        reading.setRowStretch(2, 1)
        words = QVBoxLayout()
        words.setSpacing(0)
        words.addWidget(self._where, 13)
        words.addWidget(self._level, 30)
        words.addWidget(self._told, 12)
        self._reading, self._words_area, self._grid = reading, words, QGridLayout(self)
        grid = self._grid
        grid.setContentsMargins(16, 4, 8, 4)
        grid.setHorizontalSpacing(14)
        grid.addLayout(reading, 0, 0)
        grid.addLayout(words, 0, 1)
        grid.setColumnStretch(1, 1)

    # --- facts for others -----------------------------------------------------------------------------

    @property
    def focused(self) -> bool:
        """Whether this channel is being worked on."""
        return self._focused

    @property
    def figures(self) -> Figures:
        """The digits."""
        return self._figures

    @property
    def level(self) -> Level:
        """The tube."""
        return self._level

    @property
    def words(self) -> tuple[str, str]:
        """Deviation; then heading and advice, as shown."""
        return self._where.text, self._told.text

    # --- feeding --------------------------------------------------------------------------------------

    def fit(self, width: float, height: float, *, narrow: bool = False) -> None:
        """Choose sizes for a row of this size, in style pixels; `narrow`: the level is under the reading."""
        self._set_narrow(narrow)
        self._told.setHidden(height < (WITH_TOLD if narrow else 100))
        self._level.setHidden(narrow and height < WITH_LEVEL)
        least = LEAST_DIGITS if not narrow else max(SMALLEST_DIGITS, millimetres(LEAST_MM))
        if narrow:
            height = min(height, LEAST_NARROW)
            digit = min(max(least, (height - 34.0) * 0.96), width * 0.42 / 3.4)
        else:
            name = max(15.0, height * 0.125)
            digit = max(least, (height - 12.0 - 1.2 * name) * 0.96)
            digit = min(digit, GLANCE_DIGITS * max(1.0, height / 190.0), width * 0.48 / 3.4)
        self._figures.set_digit_height(digit)
        self._name.setFont(sized_font(self, max(15.0, height * 0.125), bold=True))
        self._unit.setFont(sized_font(self, max(15.0, digit * 0.26), bold=True))
        self._current.setFont(sized_font(self, max(14.0, digit * 0.19)))
        self._where.setMinimumHeight(16)
        self._where.set_largest(max(18.0, height * 0.215))
        self._told.set_largest(max(15.0, height * 0.115))

    def _set_narrow(self, narrow: bool) -> None:
        """Take the level from beside the reading to below it, or back."""
        if narrow == self._narrow:
            return
        self._narrow = narrow
        self._reading.setColumnMinimumWidth(1, 60 if narrow else 104)
        if narrow:
            self._grid.addWidget(self._level, 1, 0, 1, 2)
            self._grid.addWidget(self._told, 2, 0, 1, 2)
            self._grid.setRowStretch(1, 1)
        else:
            self._words_area.insertWidget(1, self._level, 30)
            self._words_area.insertWidget(2, self._told, 12)
            self._grid.setRowStretch(1, 0)

    def show_state(
        self,
        state: ChannelState,
        setup: ChannelSetup,
        advice: TrimAdvice | None = None,
        *,
        focused: bool = False,
        seen: tuple[float, float] | None = None,
        sentence: str = "",
        unpowered: bool = False,
        driven: bool = False,
        kept: str = "",
    ) -> None:
        """Show how the channel stands now.

        `sentence` is the instruction that stands above: advice in the same words is not repeated. `seen` is
        the range so far of a channel without a target. `unpowered`: the mains is off, as a person said.
        `driven`: a signal is applied, so that the reading is no bias, and its level is from before.
        `kept`: what was recorded of the channel last, shown where nothing is read any more.
        """
        turning = advice is not None and advice.kind in _TURNING
        if not driven and (turning or outrun(state, setup)):
            state = followed(state, setup)
        if driven and setup.target_volts is not None:
            state = replace(state, level=None, noise=None, amperes=None, position=Position.UNKNOWN)
        if unpowered and not state.gap:
            # What is left in the capacitors runs down; where it passes is no bias, and outside no window.
            off = self.tr("mains off, as you said")
            state = replace(
                state, level=None, noise=None, amperes=None, position=Position.UNKNOWN, reason=off
            )
        shown = state.value if state.value is not None else state.level
        noise = None if state.noise is None else shown_number(state.noise, setup.unit)
        self._figures.show_text(digits(shown, setup.unit), noise, bool(state.gap) or state.level is None)
        colours = shades()
        typed = self.tr(" · typed") if setup.typed else ""
        self._name.setText(f"{state.channel}{typed}")
        wear(self._name, f"color: {colours.trace(self._index)};")
        self._unit.setText(shown_unit(setup.unit))
        self._current.setText(milliamperes(state.amperes))
        where = self._show_words(state, setup, advice, sentence, kept if unpowered else "")
        picture = picture_of(state, setup, seen, advice.show_volts if advice is not None else None)
        self._level.show_picture(picture)
        spoken = f"{state.channel}: {digits(shown, setup.unit).strip()} {shown_unit(setup.unit)}, {where}"
        self.setAccessibleName(spoken)
        self._level.setAccessibleDescription(spoken)
        if focused != self._focused:
            self._focused = focused
            self.update()

    def _show_words(
        self,
        state: ChannelState,
        setup: ChannelSetup,
        advice: TrimAdvice | None,
        sentence: str,
        kept: str,
    ) -> str:
        """Deviation, where it is heading or what was kept, and advice; returns the deviation."""
        colours = shades()
        gap = signed(state.gap)
        where = gap or deviation(state, setup)
        at_length = gap if len(gap) > _BRIEF else ""  # in large letters it would be cut
        calm = state.position is Position.INSIDE or setup.target_volts is None or state.level is None
        self._where.show_text(
            self.tr("no reading") if at_length else where,
            colours.outside if not calm or (state.gap and not kept) else "",
        )
        advised = signed(advice.text) if advice is not None else ""
        foreseen = forecast_words(state, setup)
        if state.disturbed and state.forecast is None and not state.settled:
            foreseen = ""  # how far it is beside the window stands above; what disturbs it needs the room
        told = [at_length, kept, foreseen, signed(state.disturbed), advised]
        said = (sentence,) if at_length else (where, sentence)
        told = [line for line in told if line and line not in said]
        heading = state.forecast if told[:1] == [foreseen] and not state.settled else None
        shorter = heading_words(heading, setup) if heading is not None and heading.spoken else ""
        if at_length:  # what happened, without what to check
            shorter = at_length.partition(";")[0]
        self._told.show_lines(told, colours.muted, shorter)
        return where

    def paintEvent(self, event: QPaintEvent) -> None:
        """A bar in the channel's colour at the left; wide and solid for the channel that is worked on."""
        painter = QPainter(self)
        colour = QColor(shades().trace(self._index))
        if self._focused:
            painter.fillRect(self.rect(), QColor(shades().raised))
            painter.fillRect(QRectF(0, 0, 9, self.height()), colour)
        else:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.fillRect(QRectF(0, 6, 3, self.height() - 12), colour)
        painter.end()
