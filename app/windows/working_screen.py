"""The screen beside the bench: what to do now, how each channel stands, and what happened so far.

It shows a `BenchPicture` and passes on what a person does; it decides nothing. The step decides what is
shown: there are no pages and no modes. Space and the foot switch do the next thing while no text field has
the focus; they never answer an alarm and never destroy anything.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from PySide6.QtCore import QSize, Qt, Signal, Slot
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QWidget

from app.windows.alarm_banner import AlarmBanner, worst_first
from app.windows.alarm_over_dialogs import AlarmOverDialogs
from app.windows.answer_bar import AnswerBar
from app.windows.assessment_sheet import AfterPractice
from app.windows.bench_deeds import BenchDeeds
from app.windows.caution_page import CautionPage
from app.windows.channel_row import ChannelRow
from app.windows.checklist_pictures import dropped_pictures
from app.windows.given_names import names_at_bench
from app.windows.instruction_band import InstructionBand
from app.windows.key_row import AFTERWARDS, IN_THE_ROW, REPLAYING, Deeds
from app.windows.lettering import BigKey
from app.windows.one_key import OneKey
from app.windows.own_questions import typed_channels
from app.windows.plot import LivePlot
from app.windows.ports import BenchPicture, BenchPort, Replayed
from app.windows.practice_panel import PracticePanel
from app.windows.replay_strip import REPLAY_DEEDS, ReplayStrip
from app.windows.seen_range import SeenRange
from app.windows.signal_view import SignalView
from app.windows.situation import SituationLine
from app.windows.steps_column import StepsColumn, last_recorded
from app.windows.typing_reminder import TypingReminder
from app.windows.working_layout import Arrangement, Parts
from procedures.events import Supply
from procedures.steps.before_work import BEFORE_WORK_ID
from procedures.view import ActiveAlarm

REPLAY = "replay-"


class WorkingScreen(QWidget):
    """One run on one bench. The signals are what concerns the main window."""

    ask_stop = Signal()
    leave = Signal()
    export = Signal()
    name = Signal()
    full = Signal()
    mute = Signal()
    sound = Signal()
    audio = Signal()
    look = Signal()
    job = Signal()
    settings = Signal()

    def __init__(
        self,
        bench: BenchPort,
        parent: QWidget | None = None,
        seconds: Callable[[], float] = time.perf_counter,
    ) -> None:
        super().__init__(parent)
        self._bench = bench
        self._serial: int | None = None
        self._unheard = ""
        self._seconds = seconds
        self._reminder = TypingReminder()
        self._one_key = OneKey(self, seconds)
        self._picture = bench.picture()
        self._rows: dict[str, ChannelRow] = {}
        self._seen: dict[str, SeenRange] = {}
        self._banner = AlarmBanner(self)
        self._over_dialogs = AlarmOverDialogs(self._banner, self)
        self._situation = SituationLine(self)
        self._band = InstructionBand(self)
        self._answers = AnswerBar(self)
        self._cautions = CautionPage(self)
        self._plot = LivePlot(self)
        self._curves = SignalView(self)
        self._curves.drawn.connect(self._curves_drawn)
        self._steps = StepsColumn(self)
        self._deeds = Deeds(self)
        self._practice = PracticePanel(bench.practice, self) if bench.practice is not None else None
        self._replay = ReplayStrip(bench, self) if isinstance(bench, Replayed) else None
        self.after_practice = AfterPractice(bench, self)
        self._doing = BenchDeeds(
            bench,
            answers=self._answers,
            banner=self._banner,
            plot=self._plot,
            press_next=self.press_next,
            parent=self,
        )
        self._arrangement = Arrangement(
            self,
            Parts(
                banner=self._banner,
                situation=self._situation,
                band=self._band,
                answers=self._answers,
                replay=self._replay,
                cautions=self._cautions,
                plot=self._plot,
                curves=self._curves,
                steps=self._steps,
                practice=self._practice,
                deeds=self._deeds,
            ),
        )
        self._connect()
        self.refresh()

    def _connect(self) -> None:
        self._band.key.clicked.connect(self.press_next)
        self._one_key.pressed.connect(self._next)
        if self._replay is not None:
            self._replay.practised.setVisible(self._picture.practice)
            self._replay.how_it_went.connect(self.after_practice.look_back)
        self._one_key.digit.connect(self._doing.begin_value)
        self._cautions.answered.connect(self._doing.answered)
        self._answers.turned.connect(self._fit)
        pictures = self._answers.pictures
        pictures.attached.connect(self._doing.answered)
        pictures.refused.connect(self._answers.complain)
        self._doing.attaching = pictures.typed
        self.setAcceptDrops(True)
        self._deeds.done.connect(self._doing.do)
        self._doing.said.connect(self.say)
        self._doing.finished.connect(self._take_focus)
        self._doing.outward.connect(self._outward)

    @Slot(str)
    def _outward(self, name: str) -> None:
        """What the main window does, and which curves are shown."""
        if name == "curves":
            self._curves.show_next()
            return
        if name in ("further-down", "further-up"):
            self._arrangement.scroll(0.8 if name == "further-down" else -0.8)
            return
        if name.startswith(REPLAY):
            if self._replay is not None:
                self.say(self._replay.wind(name.removeprefix(REPLAY)))
                self.refresh()
            return
        signals = {
            "stop": self.ask_stop,
            "leave": self.leave,
            "export": self.export,
            "name": self.name,
            "full": self.full,
            "mute": self.mute,
            "sound": self.sound,
            "audio": self.audio,
            "look": self.look,
            "job": self.job,
            "settings": self.settings,
        }
        signals[name].emit()

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
    def curves(self) -> SignalView:
        """The curves of a verification."""
        return self._curves

    @property
    def banner(self) -> AlarmBanner:
        """The alarm across the top."""
        return self._banner

    @property
    def unseen(self) -> list[ActiveAlarm]:
        """The alarms that nobody has acknowledged, the most urgent first."""
        return worst_first([one for one in self._picture.view.alarms if not one.acknowledged])

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
        return self._band.key

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
        return self._band.sentence.text

    @property
    def caution(self) -> str:
        """The line beside it."""
        return self._band.caution.text()

    @Slot(str)
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
        asked = self._reminder.look(picture, self._seconds())
        if asked:
            self.say(asked)
        if (picture.serial, picture.sound) == (self._serial, self._unheard):
            return False
        if picture.sound and not self._unheard:
            self.say(picture.sound)
        self._serial, self._unheard = picture.serial, picture.sound
        self._picture = picture
        names_at_bench(picture)
        self._doing.take_picture(picture)
        view = picture.view
        before = self._shape()
        self._banner.show_alarms(view.alarms, past=picture.review)
        self._over_dialogs.look()
        self._situation.show_picture(picture)
        self._band.show_picture(picture, self._key_label(picture))
        self._show_question(picture)
        self._show_channels(picture)
        self._plot.show_bench(picture)
        self._show_curves(picture)
        self._steps.show_view(view)
        self._show_deeds(picture)
        if before != self._shape():
            self._fit()
        if self._practice is not None:
            self._practice.refresh()
            self._practice.say(picture.hands)
        self.after_practice.look(picture.view.ended is not None and not picture.review)
        if self._replay is not None:
            self._replay.refresh()
        return True

    def redraw(self) -> None:
        """Draw anew what has not changed: it is to be shown otherwise."""
        self._serial = None
        self._plot.redraw_axes()
        self.refresh()

    def learn_foot_key(self, key: str) -> None:
        """Let one more key do what Space does; empty: none."""
        self._one_key.learned = key

    def _shape(self) -> tuple[object, ...]:
        """What sizes depend on, beside the window."""
        scrolled = self._arrangement.scrolls
        asked = self._answers.shown
        focus = [name for name, row in self._rows.items() if row.focused] if scrolled else []
        return self._banner.shown, self._banner.loud, asked, focus

    def _show_question(self, picture: BenchPicture) -> None:
        """What the run asks: the cautions on a page of their own, all else in the answer bar."""
        asked = None if picture.review else picture.view.question
        cautions = asked if asked is not None and asked.step == BEFORE_WORK_ID else None
        self._cautions.show_question(cautions)
        self._arrangement.bench_area.setVisible(cautions is None)
        other = asked if cautions is None else None
        self._answers.ask_run(other, self._band.sentence.text, picture.view.next_label)
        self._answers.show_pictures(picture)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """A picture may be dropped where a checklist asks for one."""
        if dropped_pictures(event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Keep it with the session."""
        event.acceptProposedAction()
        self._answers.pictures.take(dropped_pictures(event.mimeData().urls()))

    def _key_label(self, picture: BenchPicture) -> str:
        """What the big key does now."""
        view = picture.view
        if self._replay is not None:
            return self._replay.key_label()
        if picture.review:
            return ""
        return view.next_label or (self.tr("Back to the start") if view.ended is not None else "")

    def _show_channels(self, picture: BenchPicture) -> None:
        view = picture.view
        names = [s.channel for s in view.channels]
        if names != list(self._rows):
            for row in self._rows.values():
                self._arrangement.channel_area.removeWidget(row)
                row.hide()
                row.deleteLater()
            self._rows = {name: ChannelRow(i, self) for i, name in enumerate(names)}
            for row in self._rows.values():
                self._arrangement.channel_area.addWidget(row)
            self._fit()
        advice = {a.channel: a for a in view.advice}
        untargeted = {s.channel for s in view.channels if picture.setup_of(s.channel).target_volts is None}
        seen = {
            t.channel: self._seen.setdefault(t.channel, SeenRange()).of(t)
            for t in picture.traces
            if t.channel in untargeted
        }
        kept = last_recorded(view) if view.ended is not None else {}
        for state in view.channels:
            setup = picture.setup_of(state.channel)
            self._rows[state.channel].show_state(
                state,
                setup,
                advice.get(state.channel),
                focused=view.focus == state.channel,
                seen=seen.get(state.channel),
                sentence=self._band.sentence.text,
                unpowered=view.supply is Supply.OFF and picture.supply_told,
                driven=view.driven,
                kept=kept.get(state.channel, ""),
            )

    def _show_curves(self, picture: BenchPicture) -> None:
        """The curves of a verification take the place of the traces, where nothing is traced beside it."""
        self._curves.show_bench(picture)

    def _curves_drawn(self) -> None:
        shown = self._curves.picture is not None
        if shown != self._curves.isVisibleTo(self):
            self._curves.setVisible(shown)
            self._fit()

    def _show_deeds(self, picture: BenchPicture) -> None:
        view, live = picture.view, picture.view.ended is None and not picture.review
        self._deeds.show_in_row(IN_THE_ROW if live else AFTERWARDS if self._replay is None else REPLAYING)
        for name in REPLAY_DEEDS:
            self._deeds.action(REPLAY + name).setEnabled(self._replay is not None)
        for name in ("mark", "note", "undo", "supply", "lid", "drive", "pause", "away", "stop"):
            self._deeds.action(name).setEnabled(live)
        self._deeds.action("lead").setEnabled(live and any(True for _ in picture.leads))
        self._one_key.takes_digits = live and bool(typed_channels(picture))
        for name in ("type", "unchanged"):
            self._deeds.action(name).setEnabled(self._one_key.takes_digits)
        self._deeds.action("next").setEnabled(self._band.key.isEnabled())
        self._deeds.action("acknowledge").setEnabled(live and any(not a.acknowledged for a in view.alarms))
        self._deeds.action("pause").setChecked(view.paused)
        self._deeds.action("away").setChecked(view.away)
        self._deeds.action("drive").setChecked(view.driven)

    # --- size -----------------------------------------------------------------------------------------

    def minimumSizeHint(self) -> QSize:
        """What 300 % leaves of 1280 by 800, without a title bar."""
        return QSize(400, 230)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Sizes follow the window: two channels get digits of 35 mm at 1280 by 800."""
        super().resizeEvent(event)
        self._fit()

    @Slot()
    def measure_anew(self) -> None:
        """Take up what a millimetre is now: keys for gloves, and digits."""
        self._cautions.fit_glove()
        self._answers.fit_glove()
        self._fit()

    def _fit(self) -> None:
        """Give each part its share."""
        alarm = self._banner.shown.alarm if self._banner.shown is not None and self._banner.loud else None
        alarmed = self._rows.get(alarm.channel or "") if alarm is not None else None
        self._arrangement.fit(self._rows.values(), alarmed)

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
