"""Where the parts of the working screen stand, and how large they are, in windows of every size.

In a window that has room nothing scrolls. Where it has not (a small screen, or one at 200 or 300 %), what
must be seen stays where it is: an alarm with its key, the instruction, the big key, and what is asked. The
readings fill the rest; everything else is below them on a page that scrolls.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from app.windows.alarm_banner import AlarmBanner
from app.windows.answer_bar import AnswerBar
from app.windows.caution_page import CautionPage
from app.windows.channel_row import ChannelRow
from app.windows.instruction_band import InstructionBand
from app.windows.key_row import Deeds
from app.windows.plot import LivePlot
from app.windows.practice_panel import PracticePanel
from app.windows.replay_strip import ReplayStrip
from app.windows.signal_view import SignalView
from app.windows.situation import SituationLine
from app.windows.steps_column import StepsColumn
from app.windows.theme import GLOVE_MM, millimetres

# Style pixels.
KEYS_AND_SITUATION = 102
LEAST_PLOT = 92
LENT_PLOT = 66  # in the room of what is asked, while nothing is asked
LEAST_ROW = 92
LEAST_ROW_ALONE = 74  # where the traces have gone
NARROW = 860  # less has no room for two columns
GAP = 4
FULL_PRACTICE = 420
PRACTICE_AND_STEPS = 250
SCROLLED_PLOT = 180
SCROLLED_CURVES = 260
SCROLLED_STEPS = 220
MOST_PINNED = 0.35  # of the height of the window, for what is asked
WITH_LEVEL = 152  # a row of a narrow window with its level


@dataclass(frozen=True, slots=True)
class Parts:
    """What stands on the screen."""

    banner: AlarmBanner
    situation: SituationLine
    band: InstructionBand
    answers: AnswerBar
    replay: ReplayStrip | None
    cautions: CautionPage
    plot: LivePlot
    curves: SignalView
    steps: StepsColumn
    practice: PracticePanel | None
    deeds: Deeds


def _height(part: QWidget | None, screen: QWidget) -> int:
    """The height that a part would take across the screen; 0 while it is hidden."""
    return _wanted(part, screen) if part is not None and not part.isHidden() else 0


def _wanted(part: QWidget | None, screen: QWidget) -> int:
    """The height that a part would take across the screen, also while it is hidden."""
    if part is None:
        return 0
    wide = screen.width()
    return part.heightForWidth(wide) if part.hasHeightForWidth() else part.sizeHint().height()


class PageLayout(QVBoxLayout):
    """The page's layout. While nothing scrolls it asks for no more than its parts need at the least."""

    def __init__(self, page: QWidget) -> None:
        super().__init__(page)
        self.scrolls = False

    def hasHeightForWidth(self) -> bool:
        """What a scroll area would take as the height that is wanted."""
        return self.scrolls and super().hasHeightForWidth()


class Arrangement:
    """The layout of one working screen; `fit` chooses sizes whenever something changed."""

    def __init__(self, screen: QWidget, parts: Parts) -> None:
        self._screen = screen
        self._parts = parts
        self._low = self._narrow = self._answers_scroll = False
        self.channel_area = QVBoxLayout()
        self.channel_area.setSpacing(GAP)
        self.bench_area = QWidget(screen)
        self._page = QWidget(screen)
        self._scroll = QScrollArea(screen)
        self._middle = QHBoxLayout(self.bench_area)
        self._make_columns()
        self._make_page()
        self._outer = QVBoxLayout(screen)
        self._outer.setContentsMargins(0, 0, 0, 0)
        self._outer.setSpacing(2)
        # Rows have fixed heights chosen for the present size; they must not keep the window from shrinking.
        self._outer.setSizeConstraint(QVBoxLayout.SizeConstraint.SetNoConstraint)
        self._outer.addWidget(parts.banner)
        self._outer.addWidget(parts.situation)
        self._outer.addWidget(parts.band)
        self._outer.addWidget(parts.answers)
        if parts.replay is not None:
            self._outer.addWidget(parts.replay)
        self._outer.addWidget(self._scroll, 1)
        self._outer.addWidget(parts.deeds)

    def _make_columns(self) -> None:
        parts = self._parts
        left = QVBoxLayout()
        left.setSpacing(2)
        left.addLayout(self.channel_area, 0)
        left.addWidget(parts.plot, 1)
        left.addWidget(parts.curves, 2)
        left.addStretch(0)  # where neither is shown
        self._side = QWidget(self._screen)
        side = QVBoxLayout(self._side)
        side.setContentsMargins(4, 0, 10, 0)
        side.addWidget(parts.steps, 1)
        if parts.practice is not None:
            side.addWidget(parts.practice, 0)
            side.addStretch(0)
        self._middle.setContentsMargins(0, 0, 0, 0)
        self._middle.setSpacing(6)
        self._middle.addLayout(left, 1)
        self._middle.addWidget(self._side, 0)

    def _make_page(self) -> None:
        self._page_layout = page = PageLayout(self._page)
        page.setContentsMargins(0, 0, 0, 0)
        page.setSpacing(2)
        page.addWidget(self._parts.cautions, 1)
        page.addWidget(self.bench_area, 1)
        self._scroll.setWidgetResizable(True)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setWidget(self._page)
        self._scroll.viewport().setAutoFillBackground(False)
        self._page.setAutoFillBackground(False)

    @property
    def scrolls(self) -> bool:
        """Whether part of the screen is on the page that scrolls."""
        return self._low

    @property
    def page(self) -> QScrollArea:
        """What scrolls in a window without room."""
        return self._scroll

    def scroll(self, screenfuls: float) -> None:
        """Go on by a part of what is seen of the page; back where negative."""
        bar = self._scroll.verticalScrollBar()
        bar.setValue(bar.value() + round(screenfuls * self._scroll.viewport().height()))

    # --- sizes ------------------------------------------------------------------------------------------

    def fit(self, rows: Collection[ChannelRow], alarmed: ChannelRow | None = None) -> None:
        """Give each part its share; on a low window the readings go before the traces.

        `alarmed`: the row of which a loud alarm speaks; where not all rows can be seen, it is the first, and
        without one the row that is worked on.
        """
        parts, width, height = self._parts, self._screen.width(), self._screen.height()
        scale = min(width / 1280.0, height / 800.0)
        narrow = width < NARROW
        parts.banner.fit(width, height)
        parts.band.fit(width, height, narrow=narrow, loud=parts.banner.loud)
        parts.steps.set_scale(scale)
        # Room for the answer bar is kept also while it is hidden, so that a question moves only the plot.
        answers = millimetres(GLOVE_MM) + 8.0
        room = height - parts.banner.room - parts.band.height() - answers - KEYS_AND_SITUATION
        # More answers than one line holds take theirs from readings that have it to give.
        asked = _wanted(parts.answers, self._screen) if parts.answers.shown is not None else 0
        more = max(0.0, asked - answers)
        if not (narrow or parts.banner.loud) and (room - more - LEAST_PLOT) / max(1, len(rows)) >= LEAST_ROW:
            room -= more
        low = narrow or room / max(1, len(rows)) - GAP < LEAST_ROW_ALONE
        self._arrange(low, narrow)
        worked_on = alarmed or next((row for row in rows if row.focused), None)
        self._put_first(rows, worked_on if low else None)
        self._side.setMinimumWidth(0 if narrow else round(min(max(268.0, 286.0 * scale), 460.0)))
        self._side.setMaximumWidth(16_777_215 if narrow else self._side.minimumWidth())
        if parts.practice is not None:
            parts.practice.set_compact(room < FULL_PRACTICE and not narrow)
            parts.steps.setHidden(room < PRACTICE_AND_STEPS and not narrow)
        side = 0.0 if narrow else self._side.minimumWidth() + 6.0
        if low:
            self._fit_low(rows, width - side, narrow, alarmed)
        else:
            self._fit_roomy(rows, width - side, room, scale)

    def _fit_roomy(self, rows: Collection[ChannelRow], width: float, room: float, scale: float) -> None:
        """Rows and traces share what there is."""
        plot, curves = self._parts.plot, self._parts.curves
        count = max(1, len(rows))
        with_plot = (room - LEAST_PLOT) / count - GAP
        crowded = with_plot < LEAST_ROW
        # The room kept for what is asked is the traces' until something is asked.
        lent = crowded and self._parts.answers.isHidden()
        plot.setMinimumHeight(LENT_PLOT if lent else 84)
        curves.setMinimumHeight(0)
        plot.setHidden((crowded and not lent) or curves.isVisibleTo(self._screen))
        share = min((190.0 if count > 1 else 240.0) * scale, room / count - GAP if crowded else with_plot)
        if curves.isVisibleTo(self._screen):
            share = min(share, float(LEAST_ROW))
        for row in rows:
            high = max(LEAST_ROW_ALONE, int(share))
            row.setFixedHeight(high)
            row.fit(width, high)

    def _fit_low(
        self, rows: Collection[ChannelRow], width: float, narrow: bool, alarmed: ChannelRow | None
    ) -> None:
        """The readings fill what is seen of the page; the traces and all else are below."""
        parts = self._parts
        loud = parts.banner.loud
        free = self._screen.height() - parts.banner.room - parts.band.height() - 8
        # While it moves to the page and back, the bar is hidden for a moment although something is asked.
        answers = parts.answers if parts.answers.shown is not None else None
        asked, replay = _wanted(answers, self._screen), _height(parts.replay, self._screen)
        # An alarm's words and the digits it speaks of are seen together, whatever else is asked.
        crowded = loud and free - replay - asked < LEAST_ROW_ALONE
        self._let_answers_scroll(crowded or asked > MOST_PINNED * self._screen.height())
        self._put_readings_first(loud)
        seen = free - replay - (0 if self._answers_scroll else asked)
        share = seen / max(1, len(rows)) - GAP
        parts.plot.setMinimumHeight(SCROLLED_PLOT)
        parts.curves.setMinimumHeight(SCROLLED_CURVES)
        parts.plot.setHidden(parts.curves.isVisibleTo(self._screen))
        parts.steps.setMinimumHeight(SCROLLED_STEPS if narrow else 0)
        for row in rows:
            least = WITH_LEVEL if narrow and row.focused and not loud else LEAST_ROW_ALONE
            high = round(min(max(least, share), 190.0))
            if loud and row is (alarmed or next(iter(rows))):
                high = round(max(high, min(seen, WITH_LEVEL)))
            row.setFixedHeight(high)
            row.fit(width, high, narrow=narrow)

    def _let_answers_scroll(self, scroll: bool) -> None:
        """More answers than there is room for stand first on the page."""
        if scroll == self._answers_scroll:
            return
        self._answers_scroll = scroll
        if scroll:
            self._page_layout.insertWidget(0, self._parts.answers)
        else:
            self._outer.insertWidget(self._outer.indexOf(self._parts.band) + 1, self._parts.answers)

    def _put_first(self, rows: Collection[ChannelRow], first: ChannelRow | None) -> None:
        """The rows in their order, but for one that is to be seen before the others."""
        for place, row in enumerate(sorted(rows, key=lambda row: row is not first)):
            if self.channel_area.indexOf(row) != place:
                self.channel_area.removeWidget(row)
                self.channel_area.insertWidget(place, row)

    def _put_readings_first(self, loud: bool) -> None:
        """On the page that scrolls, answers and the caution stand above the readings, unless it is loud."""
        page, parts = self._page_layout, self._parts
        above: list[QWidget] = [parts.answers] if self._answers_scroll else []
        for part in (*above, parts.band.caution):
            page.removeWidget(part)
        place = page.indexOf(self.bench_area) + 1 if loud else 0
        for part in (parts.band.caution, *above):
            page.insertWidget(place, part)

    def _arrange(self, low: bool, narrow: bool) -> None:
        """Put the parts that may scroll onto the page, or back to their places."""
        if (low, narrow) == (self._low, self._narrow):
            return
        self._low, self._narrow = low, narrow
        parts, page = self._parts, self._page_layout
        page.scrolls = low
        direction = QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        self._middle.setDirection(direction)
        parts.situation.set_narrow(narrow)
        parts.answers.set_narrow(narrow)
        parts.cautions.set_scrolling(low)
        if parts.replay is not None:
            parts.replay.set_narrow(narrow)
        if low:
            page.addWidget(parts.situation)
            page.addWidget(parts.deeds)
            parts.band.give_caution(page)
        else:
            self._let_answers_scroll(False)
            self._outer.insertWidget(1, parts.situation)
            self._outer.addWidget(parts.deeds)
            parts.band.take_caution()
            parts.steps.setMinimumHeight(0)
