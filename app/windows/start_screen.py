"""Where a sitting begins: four sentences that can be carried out at once.

Measuring comes before forms: a remembered meter or a typed value is on the screen within two actions, and
what it belongs to can be said afterwards.
"""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QShowEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QComboBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from app.windows.chooser import Chooser, GoButton
from app.windows.gauge import Level, LevelPicture
from app.windows.lettering import Sentence
from app.windows.ports import Card, Workshop
from app.windows.practice_panel import SPEEDS
from app.windows.theme import shades, sized_font
from app.windows.wording import volts_from

USUAL_PROCEDURE = "two-channel-bias-trim"
VERBS = 190  # style pixels: the column of the verbs


class Title(QWidget):
    """The program's name beside a level that rests in its window."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._level = Level(self)
        self._level.show_picture(
            LevelPicture(-0.36, 0.36, "", "", bubble=0.04, bubble_half=0.05, inside=True)
        )
        self._level.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Warmtrim")

    def sizeHint(self) -> QSize:
        """A broad line."""
        return QSize(700, 92)

    def resizeEvent(self, event: object) -> None:
        """The level stands at the right."""
        self._level.setGeometry(self.width() - 330, 0, 320, 92)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the name and what the program is for."""
        painter = QPainter(self)
        painter.setPen(QColor(shades().ink))
        painter.setFont(sized_font(self, 40, bold=True))
        painter.drawText(QRectF(0, 8, self.width(), 48), Qt.AlignmentFlag.AlignVCenter, "Warmtrim")
        painter.setFont(sized_font(self, 18))
        painter.setPen(QColor(shades().muted))
        words = self.tr("Bias, set where it comes to rest.")
        painter.drawText(QRectF(2, 56, self.width(), 28), Qt.AlignmentFlag.AlignVCenter, words)
        painter.end()


class Line(QWidget):
    """One way to begin, as a sentence: the verb in large letters, and what it is done with."""

    def __init__(self, verb: str, explanation: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        title = QLabel(verb, self)
        title.setStyleSheet("font-size: 32px; font-weight: 700;")
        title.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        title.setFixedWidth(VERBS)
        title.setMinimumHeight(52)
        self._explanation = QLabel(explanation, self)
        self._explanation.setProperty("role", "quiet")
        self._explanation.setVisible(bool(explanation))
        self._explanation.setWordWrap(True)
        self._rows = QVBoxLayout()
        self._rows.setSpacing(10)
        self._rows.addWidget(self._explanation)
        self._rows.addStretch(1)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 12, 0, 12)
        layout.setSpacing(38)
        layout.addWidget(title, 0, Qt.AlignmentFlag.AlignTop)
        layout.addLayout(self._rows, 1)

    def say(self, *parts: QWidget | str | QHBoxLayout) -> None:
        """Add a row to the sentence: words and controls in their order."""
        row = QHBoxLayout()
        row.setSpacing(12)
        for part in parts:
            if isinstance(part, str):
                word = QLabel(part, self)
                word.setStyleSheet("font-size: 20px;")
                row.addWidget(word)
            elif isinstance(part, QHBoxLayout):
                row.addLayout(part)
            else:
                row.addWidget(part, {QLineEdit: 3, Sentence: 1000}.get(type(part), 0))
        row.addStretch(1)
        self._rows.insertLayout(self._rows.count() - 2, row)

    def paintEvent(self, event: QPaintEvent) -> None:
        """A hairline above, and a bead where the verb ends."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(shades().rule), 2.0))
        painter.drawLine(QPointF(VERBS + 19, 0), QPointF(VERBS + 19, self.height()))
        painter.setPen(QPen(QColor(shades().ink), 2.5))
        painter.setBrush(QColor(shades().ground))
        painter.drawEllipse(QPointF(VERBS + 19, 38), 7, 11)
        painter.end()


def fill(box: QComboBox, cards: tuple[Card, ...], *, detailed: bool = False, prefer: str = "") -> None:
    """Offer the cards in a box; what was chosen stays chosen, else `prefer` is."""
    chosen = box.currentData()
    box.clear()
    for number, card in enumerate(cards):
        box.addItem(f"{card.title} – {card.detail}" if detailed and card.detail else card.title, card.key)
        box.setItemData(number, card.detail, Qt.ItemDataRole.ToolTipRole)
    for key in (chosen, prefer):
        if key is not None and box.findData(key) >= 0:
            box.setCurrentIndex(box.findData(key))
            return


class StartScreen(QWidget):
    """Says what is to be begun; it begins nothing itself."""

    watch = Signal(str)
    watch_address = Signal(str)
    watch_typed = Signal(float)
    find_meters = Signal(str)
    guided = Signal(str, str)
    simulated = Signal(str, str, float)
    sessions = Signal()
    tour = Signal()
    targets = Signal(str)
    settings = Signal()

    MOST_METERS = 3

    def __init__(self, workshop: Workshop, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._workshop = workshop
        self._trouble = QLabel(self)
        self._trouble.setProperty("role", "trouble")
        self._trouble.setWordWrap(True)
        self._trouble.hide()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(36, 14, 36, 18)
        layout.setSpacing(0)
        layout.addWidget(Title(self))
        layout.addWidget(self._trouble)
        for line in (
            self._watch_line(),
            self._job_line(),
            self._practice_line(),
            self._past_line(),
            self._settings_line(),
        ):
            layout.addWidget(line, 1)
        self.refresh()

    # --- sentences ------------------------------------------------------------------------------------

    def _watch_line(self) -> Line:
        line = Line(
            self.tr("Watch"),
            self.tr("Readings, trace and alarms, no questions. Say afterwards what it was."),
            self,
        )
        self._meters = QButtonGroup(self)
        self._meters.idClicked.connect(self._watch_meter)
        self._meter_row = QHBoxLayout()
        self._meter_row.setSpacing(14)
        self._address = self._field(
            self.tr("Address of a meter"), "TCPIP0::192.168.1.20::hislip0::INSTR", 400
        )
        self._address.returnPressed.connect(self._watch_address)
        self._find = QPushButton(self.tr("&find"), self)
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
        self._procedure = Chooser(self.tr("Procedure"), line)
        self._target = QPushButton(self.tr("another: from &current and resistors"), line)
        self._target.clicked.connect(self._ask_targets)
        self._begin = GoButton(self.tr("Begin the &job"), line)
        self._begin.clicked.connect(self._begin_job)
        line.say(self.tr("through a"), self._procedure, self.tr("on the"), self._amplifier)
        line.say(self._begin, self._target)
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
        self._practised = Chooser(self.tr("Procedure to be practised"), line)
        line.say(self.tr("a"), self._practised, self.tr("on the simulated"), self._unit)
        self._tour = QPushButton(self.tr("or take the &tour: two minutes"), line)
        self._tour.setMinimumHeight(48)
        self._tour.clicked.connect(self.tour)
        line.say(self._practise, self.tr("at"), self._speed, self._tour)
        return line

    def _past_line(self) -> Line:
        line = Line(self.tr("Look back"), "", self)
        self._newest = Sentence(16.0, bold=False, parent=line)
        self._newest.setMinimumHeight(48)
        self._open = QPushButton(self.tr("at past &sessions"), line)
        self._open.setMinimumHeight(48)
        self._open.clicked.connect(self.sessions)
        line.say(self._open, self._newest)
        return line

    def _settings_line(self) -> Line:
        line = Line(self.tr("Set up"), "", self)
        self._set_up = QPushButton(self.tr("shades, language, foot s&witch, head of the report"), line)
        self._set_up.setMinimumHeight(48)
        self._set_up.clicked.connect(self.settings)
        line.say(self._set_up)
        return line

    def _field(self, name: str, example: str, width: int) -> QLineEdit:
        field = QLineEdit(self)
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
    def meter_buttons(self) -> list[QPushButton]:
        """One button for each remembered meter."""
        return [b for b in self._meters.buttons() if isinstance(b, QPushButton)]

    @property
    def value_field(self) -> QLineEdit:
        """Where a value is typed."""
        return self._value

    @property
    def address_field(self) -> QLineEdit:
        """Where a meter's address is typed."""
        return self._address

    @property
    def find_button(self) -> QPushButton:
        """Opens the dialogue that finds and checks meters."""
        return self._find

    @property
    def practise_button(self) -> QPushButton:
        """Begins the simulated bench."""
        return self._practise

    @property
    def tour_button(self) -> QPushButton:
        """Begins the tour."""
        return self._tour

    @property
    def job_button(self) -> QPushButton:
        """Begins a guided job."""
        return self._begin

    @property
    def sessions_button(self) -> QPushButton:
        """Opens the past sessions."""
        return self._open

    @property
    def settings_button(self) -> QPushButton:
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
        self._cards = self._workshop.meters()[: self.MOST_METERS]
        for number, card in enumerate(self._cards):
            button = GoButton(card.title, self)
            button.setToolTip(card.detail)
            button.setAccessibleName(self.tr("Watch {meter}").format(meter=card.title))
            button.setShortcut(f"Ctrl+{number + 1}")
            self._meters.addButton(button, number)
            self._meter_row.addWidget(button)
        last_amplifier, last_procedure = self._workshop.last_job()
        fill(self._amplifier, self._workshop.amplifiers(), prefer=last_amplifier)
        procedures = self._workshop.procedures()
        fill(self._procedure, procedures, prefer=last_procedure or USUAL_PROCEDURE)
        fill(self._practised, procedures, prefer=USUAL_PROCEDURE)
        fill(self._unit, self._workshop.simulated_units(), detailed=True)
        self._begin.setEnabled(self._amplifier.count() > 0 and self._procedure.count() > 0)
        self._practise.setEnabled(self._unit.count() > 0)
        lines = self._workshop.shelf.sessions()
        words = " · ".join(f"{s.started} {s.title}" for s in lines[:2])
        self._take_focus()
        self._newest.show_text(words or self.tr("None yet on this computer."), shades().muted)

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
        self.watch.emit(self._cards[number].key)

    @Slot()
    def _watch_address(self) -> None:
        address = self._address.text().strip()
        if address:
            self.watch_address.emit(address)
        else:
            self.complain(
                self.tr("Type the meter's address first, such as TCPIP0::192.168.1.20::hislip0::INSTR")
            )

    @Slot()
    def _find_meters(self) -> None:
        self.find_meters.emit(self._address.text().strip())

    @Slot()
    def _watch_value(self) -> None:
        try:
            volts = volts_from(self._value.text())
        except ValueError as refusal:
            self.complain(str(refusal))
            self._value.selectAll()
            return
        self.watch_typed.emit(volts)

    @Slot()
    def _begin_job(self) -> None:
        self.guided.emit(str(self._amplifier.currentData()), str(self._procedure.currentData()))

    @Slot()
    def _ask_targets(self) -> None:
        self.targets.emit(str(self._amplifier.currentData() or ""))

    @Slot()
    def _begin_practice(self) -> None:
        speed = SPEEDS[max(0, self._speed.currentIndex())]
        self.simulated.emit(str(self._unit.currentData()), str(self._practised.currentData() or ""), speed)
