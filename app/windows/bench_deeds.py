"""What a person does on the working screen, passed on to the bench; words for what it led to.

Questions that a person begins by a key (a note, a value, the mains, a lead) go through the answer bar like
the run's own.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, Signal, Slot

from app.windows.alarm_banner import AlarmBanner
from app.windows.answer_bar import AnswerBar
from app.windows.comparison import Comparison
from app.windows.own_questions import (
    last_typed_s,
    lead_question,
    lid_now,
    next_lead_move,
    note_question,
    supply_question,
    typed_channels,
    value_question,
)
from app.windows.plot import LivePlot
from app.windows.ports import BenchPicture, BenchPort
from app.windows.trace_deeds import trace_deeds
from app.windows.wording import number_from, volts_from
from drivers.errors import ReplyRefused
from drivers.reading import Unit
from procedures.events import AnswerKind, Supply


def _no_file(_text: str) -> bool:
    """Nothing that is typed is a file."""
    return False


class BenchDeeds(QObject):
    """Carries out deeds by name. What concerns the window itself leaves by `outward`."""

    outward = Signal(str)
    said = Signal(str)
    finished = Signal()

    def __init__(
        self,
        bench: BenchPort,
        *,
        answers: AnswerBar,
        banner: AlarmBanner,
        plot: LivePlot,
        press_next: Callable[[], None],
        parent: QObject,
    ) -> None:
        super().__init__(parent)
        self._bench = bench
        self._answers = answers
        self._banner = banner
        self._plot = plot
        self._press_next = press_next
        self.attaching: Callable[[str], bool] = _no_file
        self._picture = bench.picture()
        self._comparison = Comparison(plot, self._picture, self)
        self._comparison.said.connect(self.said)
        self._typed_channel: str | None = None
        answers.answered.connect(self.answered)
        answers.given_up.connect(self.finished)
        banner.acknowledge.connect(self._acknowledge)

    def take_picture(self, picture: BenchPicture) -> None:
        """How things stand now."""
        self._picture = picture
        self._comparison.take_picture(picture)

    @Slot(str)
    def _acknowledge(self, alarm: str) -> None:
        self._bench.acknowledge(alarm)

    @Slot(str)
    def do(self, name: str) -> None:
        """Carry out one of the deeds."""
        inward: dict[str, Callable[[], None]] = {
            "next": self._press_next,
            "mark": self._mark,
            "note": self._begin_note,
            "undo": self._undo,
            "lead": self._lead,
            "type": self.begin_value,
            "unchanged": self._unchanged,
            "supply": self._begin_supply,
            "lid": self._lid,
            "drive": self._drive,
            "acknowledge": self._banner.acknowledge_shown,
            "pause": self._pause,
            "away": self._away,
            **trace_deeds(self._plot, self._plot.follow),
            "others": self._comparison.toggle_others,
            "found": self._comparison.toggle_found,
            "past": self._comparison.toggle_past,
        }
        if name in inward:
            inward[name]()
        else:
            self.outward.emit(name)

    def _mark(self) -> None:
        self._bench.note("", self._picture.view.focus)
        self.said.emit(self.tr("Marked."))

    def _undo(self) -> None:
        taken = self._bench.undo_note()
        if taken:
            self.said.emit(self.tr("Taken back: {note}").format(note=taken))
        else:
            self.said.emit(self.tr("There is no note to take back."))

    def _begin_note(self) -> None:
        self._answers.ask_own(note_question(self._picture))

    def _begin_supply(self) -> None:
        self._answers.ask_own(supply_question(self._picture))

    @Slot(str)
    def begin_value(self, text: str = "") -> None:
        """Ask for a value that a person reads off; `text` is what was typed already."""
        channels = typed_channels(self._picture)
        if channels:
            self._typed_channel = channels[0]
            self._answers.ask_own(value_question(self._picture, channels[0]), text)

    def _unchanged(self) -> None:
        """The display still shows what was typed last."""
        typed = [name for name in typed_channels(self._picture) if last_typed_s(self._picture, name) >= 0.0]
        if typed:
            self._bench.unchanged(typed[0])
            self.said.emit(self.tr("{channel}: unchanged.").format(channel=typed[0]))
        else:
            self.said.emit(self.tr("Nothing was typed yet that could be unchanged."))

    def _lead(self) -> None:
        move = next_lead_move(self._picture)
        if move is not None:
            self._bench.move_lead(*move)
            self.said.emit(self.tr("Lead moved to {channel}.").format(channel=move[2] or "–"))
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
    def answered(self, question: str, choice: str, text: str) -> None:
        """An answer from the bar: to the run, or to what a person began."""
        if question == "own:note":
            self._bench.note(text.strip(), self._picture.view.focus)
            self._own_done()
        elif question == "own:value" and self._typed_channel is not None:
            try:
                self._bench.read_off(self._typed_channel, text)
            except ReplyRefused as refusal:
                self._answers.complain(str(refusal))
                return
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
        value_asked = asked is not None and asked.id == question and asked.kind is AnswerKind.VALUE
        # A value without a unit of its own is read by the step, which knows what it is typed in.
        if not choice and asked is not None and value_asked and asked.unit is not None:
            try:
                value = volts_from(text) if asked.unit is Unit.VOLT else number_from(text)
            except ValueError as refusal:
                self._answers.complain(str(refusal))
                return
            text = repr(value)
        if not choice and asked is not None and asked.id == question and self.attaching(text):
            return
        self._bench.answer(question, choice, text)
        self.finished.emit()

    def _own_done(self) -> None:
        self._answers.done()
        self.finished.emit()
