"""Where a sitting begins: sentences that can be carried out at once.

Measuring comes before forms: a remembered meter or a typed value is on the screen within two actions, and
what it belongs to can be said afterwards.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt, Signal, SignalInstance, Slot
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QButtonGroup, QVBoxLayout, QWidget

from app.windows.chooser import Chooser, GoButton
from app.windows.dropping import dropped_files
from app.windows.flow import Flow
from app.windows.for_job import ForJob
from app.windows.given_names import names_of_sessions, names_offered
from app.windows.lettering import Sentence
from app.windows.practice_panel import SPEEDS
from app.windows.prepare_line import PrepareLine
from app.windows.procedure_chooser import ProcedureChooser
from app.windows.start_lines import Line, Title, fill
from app.windows.theme import shades
from app.windows.worded import Button, Label, LineEdit
from app.windows.wording import volts_from

if TYPE_CHECKING:
    from app.windows.start_lists import Card, StartLists

USUAL_PROCEDURE = "two-channel-bias-trim"


class StartScreen(QWidget):
    """Says what is to be begun; it begins nothing itself.

    Until somebody is `ready` to begin things, what was asked for last is kept and said then.
    """

    watch = Signal(str)
    watch_address = Signal(str)
    watch_typed = Signal(float)
    find_meters = Signal(str)
    guided = Signal(str, str, str)
    simulated = Signal(str, str, float)
    sessions = Signal()
    jobs = Signal()
    take_in = Signal()
    tour = Signal()
    targets = Signal(str)
    settings = Signal()
    edit_amplifier = Signal(str)
    check_files = Signal()
    dropped = Signal(object)

    MOST_METERS = 3

    def __init__(self, lists: StartLists, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAcceptDrops(True)
        self._lists = lists
        self._cards: tuple[Card, ...] = ()
        self._ready, self._unready = False, ""
        self._asked: tuple[SignalInstance, tuple[object, ...]] | None = None
        self._trouble = Label(self)
        self._trouble.setProperty("role", "trouble")
        self._trouble.setWordWrap(True)
        self._trouble.hide()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(36, 14, 36, 18)
        layout.setSpacing(0)
        self._margins = layout
        layout.addWidget(Title(self))
        layout.addWidget(self._trouble)
        for line in (
            self._watch_line(),
            self._job_line(),
            self._practice_line(),
            self._past_line(),
            self._prepare_line(),
        ):
            layout.addWidget(line, 1)
        self.refresh()

    def be_ready(self, lists: StartLists) -> None:
        """From now on things can be begun; what was asked for meanwhile is begun now."""
        self._lists = lists
        self._ready = True
        asked, self._asked = self._asked, None
        if asked is not None:
            self._say_newest()
            signal, choice = asked
            signal.emit(*choice)

    def be_unready(self, sentence: str) -> None:
        """Nothing can be begun, and why; whoever asks for something is told again."""
        self._unready, self._asked = sentence, None
        self._say_newest()
        self.complain(sentence)

    def _ask(self, signal: SignalInstance, *choice: object) -> None:
        """Say what a person asks for, now or as soon as it can be begun."""
        if self._ready:
            signal.emit(*choice)
        elif self._unready:
            self.complain(self._unready)
        else:
            self._asked = (signal, choice)
            words = self.tr("One moment: the rest of the program is being got ready …")
            self._newest.show_text(words, shades().ink)

    # --- sentences ------------------------------------------------------------------------------------

    def _watch_line(self) -> Line:
        line = Line(
            self.tr("Watch"),
            self.tr("Readings, trace and alarms, no questions. Say afterwards what it was."),
            self,
        )
        self._meters = QButtonGroup(self)
        self._meters.idClicked.connect(self._watch_meter)
        self._meter_row = Flow(gap=14)
        name = self.tr("Address of a meter")
        self._address = self._field(name, "TCPIP0::192.168.1.20::hislip0::INSTR", 400)
        self._address.returnPressed.connect(self._watch_address)
        self._find = Button(self.tr("&find"), self)
        self._find.setAccessibleName(self.tr("Find or check a meter"))
        self._find.setToolTip(self.tr("Find or check a meter"))
        self._find.setMinimumHeight(44)
        self._find.clicked.connect(self._find_meters)
        self._value = self._field(self.tr("A value read off a display, in millivolts"), "13.2", 110)
        self._value.returnPressed.connect(self._watch_value)
        line.say(self._meter_row)
        line.say(
            self.tr("the meter at"),
            self._address,
            self._find,
            self.tr("or a display that shows"),
            self._value,
            self.tr("mV"),
        )
        return line

    def _job_line(self) -> Line:
        line = Line(
            self.tr("Guide me"),
            self.tr("As found, warm-up, trim, check: the steps in order, the advice beside the reading."),
            self,
        )
        self._amplifier = Chooser(self.tr("Amplifier"), line)
        self._procedure = ProcedureChooser(self.tr("Procedure"), line)
        self._serial = self._field(self.tr("Serial number of the unit, where it is known"), "K40-0417", 150)
        self._target = Button(self.tr("another: from &current and resistors"), line)
        self._target.clicked.connect(self._ask_targets)
        self._begin = GoButton(self.tr("Begin the &job"), line)
        self._begin.clicked.connect(self._begin_job)
        line.say(self.tr("through a"), self._procedure, self.tr("on the"), self._amplifier)
        self._serial.returnPressed.connect(self._begin.click)
        self.for_job = ForJob(self._amplifier, self._serial, line)
        self.for_job.said.connect(self.complain)
        line.say(self.tr("serial number"), self._serial, self.for_job, self._begin, self._target)
        return line

    def _practice_line(self) -> Line:
        line = Line(
            self.tr("Practise"),
            self.tr("A whole trim without an amplifier: switch, trimmers, lid and probes are on the screen."),
            self,
        )
        self._unit = Chooser(self.tr("Simulated unit"), line)
        self._speed = Chooser(self.tr("Speed of the simulated bench"), line)
        self._speed.addItems([self.tr("×{n} speed").format(n=f"{s:g}") for s in SPEEDS])
        self._speed.setCurrentIndex(3)
        self._practise = GoButton(self.tr("&Practise"), line)
        self._practise.clicked.connect(self._begin_practice)
        self._practised = ProcedureChooser(self.tr("Procedure to be practised"), line)
        line.say(self.tr("a"), self._practised, self.tr("on the simulated"), self._unit)
        self._tour = Button(self.tr("or take the &tour: two minutes"), line)
        self._tour.setMinimumHeight(48)
        self._tour.clicked.connect(self._begin_tour)
        line.say(self._practise, self.tr("at"), self._speed, self._tour)
        return line

    def _past_line(self) -> Line:
        line = Line(self.tr("Look back"), "", self)
        self._newest = Sentence(16.0, bold=False, parent=line)
        self._newest.setMinimumHeight(26)
        self._open = Button(self.tr("at past &sessions"), line)
        self._open.setMinimumHeight(48)
        self._open.clicked.connect(self._look_back)
        self._jobs = Button(self.tr("at the jo&bs"), self)
        self._take_in = Button(self.tr("or ta&ke a unit in: a new job sheet"), self)
        for button, does in ((self._jobs, self._look_at_jobs), (self._take_in, self._new_job)):
            button.setMinimumHeight(48)
            button.clicked.connect(does)
        line.say(self._open, self._jobs, self._take_in)
        line.say(self._newest)
        return line

    def _prepare_line(self) -> Line:
        self._set_up = Button(self.tr("shades, language, s&witch, letterhead"), self)
        self._set_up.setMinimumHeight(48)
        self._set_up.clicked.connect(self._choose)
        self.prepare = PrepareLine(self._amplifier, self._set_up, self)
        self.prepare.edit.connect(self._edit)
        self.prepare.check.connect(self._check)
        return self.prepare

    def _field(self, name: str, example: str, width: int) -> LineEdit:
        field = LineEdit(self)
        field.setPlaceholderText(example)
        field.setAccessibleName(name)
        field.setMinimumWidth(min(width, 170))
        field.setMaximumWidth(width)
        field.setMinimumHeight(44)
        return field

    # --- contents -------------------------------------------------------------------------------------

    @property
    def trouble(self) -> str:
        """What could not be begun, and why."""
        return self._trouble.text()

    @property
    def newest(self) -> str:
        """What stands beside the past sessions."""
        return self._newest.text

    @property
    def meter_buttons(self) -> list[Button]:
        """One button for each remembered meter."""
        return [b for b in self._meters.buttons() if isinstance(b, Button)]

    @property
    def value_field(self) -> LineEdit:
        """Where a value is typed."""
        return self._value

    @property
    def address_field(self) -> LineEdit:
        """Where a meter's address is typed."""
        return self._address

    @property
    def find_button(self) -> Button:
        """Opens the dialogue that finds and checks meters."""
        return self._find

    @property
    def practise_button(self) -> Button:
        """Begins the simulated bench."""
        return self._practise

    @property
    def unit_chooser(self) -> Chooser:
        """Which simulated unit is practised on."""
        return self._unit

    @property
    def tour_button(self) -> Button:
        """Begins the tour."""
        return self._tour

    @property
    def job_button(self) -> Button:
        """Begins a guided job."""
        return self._begin

    @property
    def procedure_chooser(self) -> ProcedureChooser:
        """Which procedure the guided job is to be."""
        return self._procedure

    @property
    def serial_field(self) -> LineEdit:
        """Where the unit's serial number is typed."""
        return self._serial

    @property
    def sessions_button(self) -> Button:
        """Opens the past sessions."""
        return self._open

    @property
    def jobs_button(self) -> Button:
        """Opens the job sheets."""
        return self._jobs

    @property
    def take_in_button(self) -> Button:
        """Opens an empty job sheet."""
        return self._take_in

    @property
    def settings_button(self) -> Button:
        """Opens the settings."""
        return self._set_up

    def complain(self, sentence: str) -> None:
        """Say why something could not be begun."""
        self._trouble.setText(sentence)
        self._trouble.setVisible(bool(sentence))

    def choose_amplifier(self, key: str) -> None:
        """Preselect an amplifier for the guided job."""
        index = self._amplifier.findData(key)
        if index >= 0:
            self._amplifier.setCurrentIndex(index)
            self._begin.setFocus(Qt.FocusReason.OtherFocusReason)

    def refresh(self) -> None:
        """Read the workshop's lists again."""
        for button in self._meters.buttons():
            self._meters.removeButton(button)
            self._meter_row.removeWidget(button)
            button.hide()
            button.deleteLater()
        self._cards = self._lists.meters()[: self.MOST_METERS]
        amplifiers, units = self._lists.amplifiers(), self._lists.simulated_units()
        names_offered(self._cards, amplifiers, units)
        for number, card in enumerate(self._cards):
            button = GoButton(card.title.replace("&", "&&"), self)
            button.setToolTip(card.detail)
            button.setAccessibleName(self.tr("Watch {meter}").format(meter=card.title))
            button.setShortcut(f"Ctrl+{number + 1}")
            self._meters.addButton(button, number)
            self._meter_row.addWidget(button)
        last_amplifier, last_procedure = self._lists.last_job()
        fill(self._amplifier, amplifiers, prefer=last_amplifier)
        self.for_job.choose()
        procedures = self._lists.procedures()
        fill(self._procedure, procedures, prefer=last_procedure or USUAL_PROCEDURE)
        fill(self._practised, procedures, prefer=USUAL_PROCEDURE)
        fill(self._unit, units, detailed=True)
        self._begin.setEnabled(self._amplifier.count() > 0 and self._procedure.count() > 0)
        self._practise.setEnabled(self._unit.count() > 0)
        self._take_focus()
        self._say_newest()

    def _say_newest(self) -> None:
        newest = self._lists.newest(2)
        names_of_sessions(newest)
        words = " · ".join(f"{one.started}  {one.title}" for one in newest)  # apart, so each is worded
        self._newest.show_text(words or self.tr("None yet on this computer."), shades().muted)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Files may be dropped, to be checked."""
        if dropped_files(event):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Check what was dropped."""
        event.acceptProposedAction()
        self._ask(self.dropped, dropped_files(event))

    def minimumSizeHint(self) -> QSize:
        """As narrow as its widest word or key; the page scrolls downwards only."""
        return QSize(300, super().minimumSizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Narrow windows have narrow margins."""
        super().resizeEvent(event)
        side = 36 if self.width() >= 700 else 14
        self._margins.setContentsMargins(side, 14, side, 18)

    def showEvent(self, event: QShowEvent) -> None:
        """The likeliest beginning has the focus."""
        super().showEvent(event)
        self._take_focus()

    def _take_focus(self) -> None:
        first = self._meters.buttons()[0] if self._cards else self._practise
        first.setFocus(Qt.FocusReason.OtherFocusReason)

    # --- what a person does ---------------------------------------------------------------------------

    @Slot(int)
    def _watch_meter(self, number: int) -> None:
        self._ask(self.watch, self._cards[number].key)

    @Slot()
    def _watch_address(self) -> None:
        address = self._address.text().strip()
        if address:
            self._ask(self.watch_address, address)
        else:
            words = self.tr("Type the meter's address first, such as TCPIP0::192.168.1.20::hislip0::INSTR")
            self.complain(words)

    @Slot()
    def _find_meters(self) -> None:
        self._ask(self.find_meters, self._address.text().strip())

    @Slot()
    def _watch_value(self) -> None:
        try:
            volts = volts_from(self._value.text())
        except ValueError as refusal:
            self.complain(str(refusal))
            self._value.selectAll()
            return
        self._ask(self.watch_typed, volts)

    @Slot()
    def _begin_job(self) -> None:
        if objection := self.for_job.objection():
            self.complain(objection)
            return
        choice = str(self._amplifier.currentData()), str(self._procedure.currentData())
        self._ask(self.guided, *choice, self._serial.text().strip())

    @Slot()
    def _ask_targets(self) -> None:
        self._ask(self.targets, str(self._amplifier.currentData() or ""))

    @Slot()
    def _begin_practice(self) -> None:
        speed = SPEEDS[max(0, self._speed.currentIndex())]
        choice = str(self._unit.currentData()), str(self._practised.currentData() or "")
        self._ask(self.simulated, *choice, speed)

    @Slot()
    def _begin_tour(self) -> None:
        self._ask(self.tour)

    @Slot()
    def _choose(self) -> None:
        self._ask(self.settings)

    @Slot(str)
    def _edit(self, amplifier: str) -> None:
        self._ask(self.edit_amplifier, amplifier)

    @Slot()
    def _check(self) -> None:
        self._ask(self.check_files)

    @Slot()
    def _look_back(self) -> None:
        self._ask(self.sessions)

    @Slot()
    def _look_at_jobs(self) -> None:
        self._ask(self.jobs)

    @Slot()
    def _new_job(self) -> None:
        self._ask(self.take_in)
