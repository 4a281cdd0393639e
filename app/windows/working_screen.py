"""The screen beside the bench: what to do now, how each channel stands, and what happened so far.

It shows a `BenchPicture` and passes on what a person does; it decides nothing. The step decides what is
shown: there are no pages and no modes. Space and the foot switch do the next thing while no text field has
the focus; they never answer an alarm and never destroy anything.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from PySide6.QtCore import QSize, Qt, Signal, Slot
from PySide6.QtGui import QResizeEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from app.windows.alarm_banner import AlarmBanner
from app.windows.answer_bar import AnswerBar
from app.windows.caution_page import CautionPage
from app.windows.channel_row import ChannelRow
from app.windows.key_row import AFTERWARDS, IN_THE_ROW, Deeds
from app.windows.lettering import BigKey, Sentence
from app.windows.one_key import OneKey
from app.windows.own_questions import (
    lead_question,
    lid_now,
    next_lead_move,
    note_question,
    supply_question,
    typed_channels,
    value_question,
)
from app.windows.plot import LivePlot
from app.windows.ports import BenchPicture, BenchPort, Replayed
from app.windows.practice_panel import PracticePanel
from app.windows.replay_strip import ReplayStrip
from app.windows.situation import SituationLine
from app.windows.steps_column import StepsColumn
from app.windows.theme import shades, sized_font
from app.windows.wording import number_from, volts_from
from drivers.reading import Unit
from procedures.events import AnswerKind, Supply
from procedures.steps.before_work import BEFORE_WORK_ID

# Style pixels that the rows of channels must leave to the others.
ANSWERS = 52
KEYS_AND_SITUATION = 102
LEAST_PLOT = 92
LEAST_ROW = 92


class WorkingScreen(QWidget):
    """One run on one bench. `ask_stop`, `leave`, `export`, `name` and `full` concern the main window."""

    ask_stop = Signal()
    leave = Signal()
    export = Signal()
    name = Signal()
    full = Signal()

    def __init__(
        self,
        bench: BenchPort,
        parent: QWidget | None = None,
        seconds: Callable[[], float] = time.perf_counter,
    ) -> None:
        super().__init__(parent)
        self._bench = bench
        self._serial = -1
        self._one_key = OneKey(self, seconds)
        self._picture = bench.picture()
        self._typed_channel: str | None = None
        self._rows: dict[str, ChannelRow] = {}
        self._banner = AlarmBanner(self)
        self._situation = SituationLine(self)
        self._instruction = Sentence(46.0, parent=self)
        self._caution = QLabel(self)
        self._caution.setWordWrap(True)
        self._key = BigKey(self.tr("Space"), self)
        self._answers = AnswerBar(self)
        self._cautions = CautionPage(self)
        self._bench_area = QWidget(self)
        self._plot = LivePlot(self)
        self._steps = StepsColumn(self)
        self._deeds = Deeds(self)
        self._practice = PracticePanel(bench.practice, self) if bench.practice is not None else None
        self._replay = ReplayStrip(bench, self) if isinstance(bench, Replayed) else None
        self._channel_area = QVBoxLayout()
        self._arrange()
        self._connect()
        self.refresh()

    def _arrange(self) -> None:
        words = QVBoxLayout()
        words.setSpacing(0)
        words.addWidget(self._instruction, 1)
        words.addWidget(self._caution)
        head = QHBoxLayout()
        head.setContentsMargins(16, 2, 12, 2)
        head.setSpacing(14)
        head.addLayout(words, 1)
        head.addWidget(self._key)
        self._head = QWidget(self)
        self._head.setLayout(head)
        self._channel_area.setSpacing(4)
        left = QVBoxLayout()
        left.setSpacing(2)
        left.addLayout(self._channel_area, 0)
        left.addWidget(self._plot, 1)
        self._side = QWidget(self)
        side = QVBoxLayout(self._side)
        side.setContentsMargins(4, 0, 10, 0)
        side.addWidget(self._steps, 1)
        if self._practice is not None:
            side.addWidget(self._practice, 0)
            side.addStretch(0)
        middle = QHBoxLayout(self._bench_area)
        middle.setContentsMargins(0, 0, 0, 0)
        middle.setSpacing(6)
        middle.addLayout(left, 1)
        middle.addWidget(self._side, 0)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(2)
        # Rows have fixed heights chosen for the present size; they must not keep the window from shrinking.
        layout.setSizeConstraint(QVBoxLayout.SizeConstraint.SetNoConstraint)
        layout.addWidget(self._banner)
        layout.addWidget(self._situation)
        layout.addWidget(self._head)
        layout.addWidget(self._answers)
        if self._replay is not None:
            layout.addWidget(self._replay)
        layout.addWidget(self._cautions, 1)
        layout.addWidget(self._bench_area, 1)
        layout.addWidget(self._deeds)

    def _connect(self) -> None:
        self._key.clicked.connect(self.press_next)
        self._one_key.pressed.connect(self._next)
        self._one_key.digit.connect(self._begin_value)
        self._banner.acknowledge.connect(self._acknowledge)
        self._answers.answered.connect(self._answered)
        self._cautions.answered.connect(self._answered)
        self._answers.given_up.connect(self._take_focus)
        self._deeds.done.connect(self._do)

    # --- facts for others -----------------------------------------------------------------------------

    @property
    def bench(self) -> BenchPort:
        """The bench that is shown."""
        return self._bench

    @property
    def rows(self) -> dict[str, ChannelRow]:
        """The channel rows by channel."""
        return self._rows

    @property
    def plot(self) -> LivePlot:
        """The traces."""
        return self._plot

    @property
    def banner(self) -> AlarmBanner:
        """The alarm across the top."""
        return self._banner

    @property
    def answers(self) -> AnswerBar:
        """Where a person says something."""
        return self._answers

    @property
    def cautions(self) -> CautionPage:
        """The cautions before hands go to the unit."""
        return self._cautions

    @property
    def key(self) -> BigKey:
        """The big key."""
        return self._key

    @property
    def practice_panel(self) -> PracticePanel | None:
        """The hands on the simulated unit."""
        return self._practice

    @property
    def deeds(self) -> Deeds:
        """The other keys."""
        return self._deeds

    @property
    def instruction(self) -> str:
        """The sentence that is shown."""
        return self._instruction.text

    @property
    def caution(self) -> str:
        """The line beside it."""
        return self._caution.text()

    def say(self, sentence: str) -> None:
        """Answer a key in words, for some seconds."""
        self._situation.say(sentence)

    @property
    def said(self) -> str:
        """The line of facts, with what was said last."""
        return self._situation.text

    # --- drawing --------------------------------------------------------------------------------------

    def refresh(self) -> bool:
        """Draw the newest picture; False when nothing has changed since the last one."""
        picture = self._bench.picture()
        if picture.serial == self._serial:
            return False
        self._serial = picture.serial
        self._picture = picture
        view = picture.view
        loud = self._banner.room
        self._banner.show_alarms(view.alarms)
        self._situation.show_picture(picture)
        self._show_instruction(picture)
        cautions = (
            view.question if view.question is not None and view.question.step == BEFORE_WORK_ID else None
        )
        cautions = None if picture.review else cautions
        self._cautions.show_question(cautions)
        self._answers.ask_run(
            None if cautions or picture.review else view.question, self._instruction.text, view.next_label
        )
        self._bench_area.setVisible(cautions is None)
        self._show_channels(picture)
        self._plot.show_bench(picture.traces, picture.setups, view.channels, picture.marks, view.at_s)
        self._steps.show_view(view)
        self._show_deeds(picture)
        if loud != (self._banner.room):
            self._fit()
        if self._practice is not None:
            self._practice.refresh()
        if self._replay is not None:
            self._replay.refresh()
        return True

    def _show_instruction(self, picture: BenchPicture) -> None:
        view = picture.view
        if view.ended is not None:
            sentence, caution = (
                view.ended.reason,
                self.tr("The readings are kept. The amplifier may still be on."),
            )
        elif view.instruction is not None:
            sentence, caution = view.instruction.text, view.instruction.caution
        else:
            sentence, caution = self.tr("Watching. Every reading is kept."), ""
        if view.away:
            caution = self.tr("Away: nobody is at the bench. Switch the amplifier off before you leave it.")
        elif view.paused:
            caution = self.tr("The steps are paused. Readings and alarms go on.")
        elif view.driven:
            caution = self.tr("A signal is applied: bias alarms are suspended.")
        self._instruction.show_text(sentence)
        self._caution.setText(f"⚠ {caution}" if caution else "")
        self._caution.setVisible(bool(caution))
        self._caution.setStyleSheet(f"color: {shades().outside};")
        label = "" if picture.review else view.next_label
        if self._replay is not None:
            label = self._replay.key_label()
        elif view.ended is not None and not label:
            label = self.tr("Back to the start")
        self._key.show_label(label)

    def _show_channels(self, picture: BenchPicture) -> None:
        view = picture.view
        names = [s.channel for s in view.channels]
        if names != list(self._rows):
            for row in self._rows.values():
                self._channel_area.removeWidget(row)
                row.hide()
                row.deleteLater()
            self._rows = {name: ChannelRow(i, self) for i, name in enumerate(names)}
            for row in self._rows.values():
                self._channel_area.addWidget(row)
            self._fit()
        advice = {a.channel: a for a in view.advice}
        seen = {
            t.channel: (float(t.values.min()), float(t.values.max())) for t in picture.traces if t.values.size
        }
        for state in view.channels:
            setup = picture.setup_of(state.channel)
            focused = view.focus == state.channel
            bounds = seen.get(state.channel) if setup.target_volts is None else None
            self._rows[state.channel].show_state(state, setup, advice.get(state.channel), focused, bounds)

    def _show_deeds(self, picture: BenchPicture) -> None:
        view, live = picture.view, picture.view.ended is None and not picture.review
        self._deeds.show_in_row(IN_THE_ROW if live else AFTERWARDS)
        for name in ("mark", "note", "undo", "supply", "lid", "drive", "pause", "away", "stop"):
            self._deeds.action(name).setEnabled(live)
        self._deeds.action("lead").setEnabled(live and any(True for _ in picture.leads))
        self._one_key.takes_digits = live and bool(typed_channels(picture))
        self._deeds.action("type").setEnabled(self._one_key.takes_digits)
        self._deeds.action("next").setEnabled(bool(self._key.text()))
        self._deeds.action("acknowledge").setEnabled(any(not a.acknowledged for a in view.alarms))
        self._deeds.action("pause").setChecked(view.paused)
        self._deeds.action("away").setChecked(view.away)
        self._deeds.action("drive").setChecked(view.driven)

    # --- size -----------------------------------------------------------------------------------------

    def minimumSizeHint(self) -> QSize:
        """Half a full-HD screen, which is what 200 % leaves of one."""
        return QSize(960, 540)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Sizes follow the window: two channels get digits of 35 mm at 1280 by 800."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """Give each part its share; on a low window the readings go before the traces."""
        scale = min(self.width() / 1280.0, self.height() / 800.0)
        self._banner.set_scale(scale)
        self._side.setFixedWidth(round(min(max(268.0, 286.0 * scale), 460.0)))
        self._head.setFixedHeight(round(max(92.0, 122.0 * scale)))
        self._instruction.set_largest(46.0 * scale)
        self._key.setFixedWidth(round(max(260.0, 330.0 * scale)))
        self._steps.set_scale(scale)
        self._caution.setFont(sized_font(self, max(16.0, 18.0 * scale), bold=True))
        if self._practice is not None:
            self._practice.set_compact(self.height() < 700)
            self._steps.setHidden(self.height() < 620)
        # Room for the answer bar is kept also while it is hidden, so that a question moves only the plot.
        taken = self._banner.room + self._head.height() + ANSWERS + KEYS_AND_SITUATION
        room = self.height() - taken
        count = max(1, len(self._rows))
        with_plot = (room - LEAST_PLOT) / count - 4.0
        crowded = with_plot < LEAST_ROW
        self._plot.setHidden(crowded)
        share = min(190.0 * scale, room / count - 4.0 if crowded else with_plot)
        for row in self._rows.values():
            height = max(74, int(share))
            row.setFixedHeight(height)
            row.fit(self.width() - self._side.width() - 6.0, height)

    # --- what a person does ---------------------------------------------------------------------------

    @Slot()
    def press_next(self) -> None:
        """Press the big key by other means than Space."""
        self._one_key.press()

    @Slot()
    def _next(self) -> None:
        """Do the next thing."""
        view = self._picture.view
        if self._replay is not None:
            self._replay.toggle()
        elif view.ended is not None and not view.next_label:
            self.leave.emit()
        elif view.next_label:
            self._bench.press_next()

    @Slot(str)
    def _acknowledge(self, alarm: str) -> None:
        self._bench.acknowledge(alarm)

    @Slot(str)
    def _do(self, name: str) -> None:
        """Carry out one of the deeds."""
        outward = {"leave": self.leave, "export": self.export, "name": self.name, "full": self.full}
        inward: dict[str, Callable[[], None]] = {
            "next": self.press_next,
            "mark": self._mark,
            "note": self._begin_note,
            "undo": self._undo,
            "lead": self._lead,
            "type": self._begin_value,
            "supply": self._begin_supply,
            "lid": self._lid,
            "drive": self._drive,
            "acknowledge": self._banner.acknowledge_shown,
            "pause": self._pause,
            "away": self._away,
            "follow": self._plot.follow,
        }
        if name in outward:
            outward[name].emit()
        elif name == "stop":
            self.ask_stop.emit()
        else:
            inward[name]()

    def _mark(self) -> None:
        self._bench.note("", self._picture.view.focus)
        self._situation.say(self.tr("Marked."))

    def _undo(self) -> None:
        taken = self._bench.undo_note()
        if taken:
            self._situation.say(self.tr("Taken back: {note}").format(note=taken))
        else:
            self._situation.say(self.tr("There is no note to take back."))

    def _begin_note(self) -> None:
        self._answers.ask_own(note_question(self._picture))

    def _begin_supply(self) -> None:
        self._answers.ask_own(supply_question(self._picture))

    @Slot(str)
    def _begin_value(self, text: str = "") -> None:
        channels = typed_channels(self._picture)
        if channels:
            self._typed_channel = channels[0]
            self._answers.ask_own(value_question(self._picture, channels[0]), text)

    def _lead(self) -> None:
        move = next_lead_move(self._picture)
        if move is not None:
            self._bench.move_lead(*move)
            self._situation.say(self.tr("Lead moved to {channel}.").format(channel=move[2] or "–"))
        else:
            self._answers.ask_own(lead_question(self._picture))

    def _lid(self) -> None:
        self._bench.lid(not lid_now(self._picture))

    def _drive(self) -> None:
        self._bench.driven(not self._picture.view.driven)

    def _pause(self) -> None:
        self._bench.pause(not self._picture.view.paused)

    def _away(self) -> None:
        self._bench.away(not self._picture.view.away)

    @Slot(str, str, str)
    def _answered(self, question: str, choice: str, text: str) -> None:
        """An answer from the bar: to the run, or to what a person began."""
        if question == "own:note":
            self._bench.note(text.strip(), self._picture.view.focus)
            self._own_done()
        elif question == "own:value" and self._typed_channel is not None:
            try:
                volts = volts_from(text)
            except ValueError as refusal:
                self._answers.complain(str(refusal))
                return
            self._bench.typed(self._typed_channel, volts)
            self._own_done()
        elif question == "own:supply":
            self._bench.supply(Supply(choice))
            self._own_done()
        elif question == "own:lead":
            meter, meter_input, channel = choice.split("\n")
            self._bench.move_lead(meter, meter_input, channel or None)
            self._own_done()
        else:
            self._answer_run(question, choice, text)

    def _answer_run(self, question: str, choice: str, text: str) -> None:
        asked = self._picture.view.question
        if not choice and asked is not None and asked.id == question and asked.kind is AnswerKind.VALUE:
            try:
                value = volts_from(text) if asked.unit is Unit.VOLT else number_from(text)
            except ValueError as refusal:
                self._answers.complain(str(refusal))
                return
            text = repr(value)
        self._bench.answer(question, choice, text)
        self._take_focus()

    def _own_done(self) -> None:
        self._answers.done()
        self._take_focus()

    @Slot()
    def _take_focus(self) -> None:
        """Away from the text field, so that Space is the big key again."""
        self.setFocus(Qt.FocusReason.OtherFocusReason)

    # --- keys -----------------------------------------------------------------------------------------

    def showEvent(self, event: QShowEvent) -> None:
        """Take the keys while the screen is shown."""
        super().showEvent(event)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._take_focus()
        self._one_key.begin()

    def close_down(self) -> None:
        """Give the keys back; called before the screen is deleted."""
        self._one_key.end()
