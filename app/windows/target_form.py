"""From a current and resistors to the millivolts at the test points, for an amplifier without a file.

The arithmetic and the doubts are those of `procedures.target`; here stand only the entries and the sketch
that shows between which points the probes go.
"""

from __future__ import annotations

from functools import partial

from pydantic import ValidationError
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QButtonGroup,
    QGridLayout,
    QHBoxLayout,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from app.windows.candidates_panel import CandidatesPanel
from app.windows.chooser import Chooser
from app.windows.errand import Errand
from app.windows.gauge import Level, LevelPicture
from app.windows.number_sign import signed
from app.windows.paper_ports import Papers
from app.windows.target_editing import (
    POINTS,
    UNKNOWN,
    TargetEntry,
    begun_with,
    changed_words,
    described,
    shown_amperes,
    shown_of,
)
from app.windows.theme import shades, sized_font
from app.windows.worded import Button, DrawnButton, Form, Label, LineEdit
from app.windows.wording import number_from
from procedures.amplifier import Amplifier, OutputStage, TestPoint
from procedures.target import TargetVolts, spanned_ohm, target_of, target_questions


def _sentence(refusal: ValueError) -> str:
    """What is wrong with an entry, for a person: the first thing is enough while typing."""
    if isinstance(refusal, ValidationError):
        first = refusal.errors(include_url=False)[0]
        where = str(first["loc"][-1]).replace("_", " ") if first["loc"] else ""
        words = str(first["msg"]).removeprefix("Value error, ")
        return f"{where}: {words}" if where else words
    return str(refusal)


NARROW = 860  # style pixels


class TopologyButton(DrawnButton):
    """A small sketch of output pairs with the two probes on it."""

    def __init__(self, point: TestPoint, words: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._point = point
        self.setCheckable(True)
        self.setText(words)
        self.setAccessibleName(words)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        """Room for the sketch and two lines."""
        return QSize(286, 250)

    def minimumSizeHint(self) -> QSize:
        """The sketch."""
        return QSize(160, 250)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the plate, the pairs, the probes and the words."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colours = shades()
        edge = colours.ring if self.hasFocus() else colours.ink if self.isChecked() else colours.rule
        painter.setPen(QPen(QColor(edge), 4.0 if self.isChecked() or self.hasFocus() else 2.0))
        painter.setBrush(QColor(colours.raised if self.isChecked() else colours.ground))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(3, 3, -3, -3), 12, 12)
        several = self._point in (TestPoint.ONE_OF_SEVERAL, TestPoint.PAIR_OF_SEVERAL)
        middle = self.width() / 2.0
        if several:
            self._pair(painter, middle + 30.0, QColor(colours.faint))
            self._pair(painter, middle - 26.0, QColor(colours.ink))
        else:
            self._pair(painter, middle, QColor(colours.ink))
        both = self._point in (TestPoint.PAIR_IN_SERIES, TestPoint.PAIR_OF_SEVERAL)
        self._probes(painter, middle - 26.0 if several else middle, both)
        painter.setPen(QColor(colours.ink))
        painter.setFont(sized_font(self, 15, bold=self.isChecked()))
        box = QRectF(10, self.height() - 56, self.width() - 20, 48)
        painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap), self.text())
        if self.isChecked():
            painter.setBrush(QColor(colours.inside))
            painter.setPen(Qt.PenStyle.NoPen)
            painter.drawEllipse(QPointF(22, 22), 9, 6)
        painter.end()

    def _pair(self, painter: QPainter, x: float, ink: QColor) -> None:
        """Emitter, resistor, output node, resistor, emitter; from top to bottom."""
        painter.setPen(QPen(ink, 2.5))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawLine(QPointF(x, 22), QPointF(x, 44))
        painter.drawRect(QRectF(x - 9, 44, 18, 42))
        painter.drawLine(QPointF(x, 86), QPointF(x, 122))
        painter.drawRect(QRectF(x - 9, 122, 18, 42))
        painter.drawLine(QPointF(x, 164), QPointF(x, 186))
        painter.drawLine(QPointF(x, 104), QPointF(x + 56, 104))
        painter.setBrush(ink)
        painter.drawEllipse(QPointF(x, 104), 3.5, 3.5)

    def _probes(self, painter: QPainter, x: float, both: bool) -> None:
        colours = shades()
        painter.setBrush(QColor(colours.outside))
        for y in (34.0, 174.0 if both else 95.0):
            painter.setPen(QPen(QColor(colours.outside), 3.0))
            painter.drawLine(QPointF(x - 52, y), QPointF(x - 8, y))
            painter.drawEllipse(QPointF(x - 4, y), 6.0, 4.5)
        painter.setPen(QPen(QColor(colours.outside), 2.0))
        painter.setFont(sized_font(self, 14, bold=True))
        painter.drawText(QPointF(x - 74, (34.0 + (174.0 if both else 95.0)) / 2 + 5), "mV")


class TargetForm(QWidget):
    """Describes an amplifier. `described` carries an `Amplifier`."""

    described = Signal(object)
    back = Signal()

    def __init__(
        self,
        known: Amplifier | None = None,
        parent: QWidget | None = None,
        papers: Papers | None = None,
    ) -> None:
        super().__init__(parent)
        self._known = begun_with(known)
        self._papers = papers
        self._looking: Errand | None = None
        self._amplifier: Amplifier | None = None
        self._narrow = False
        title = Label(self.tr("Current and resistors to millivolts"), self)
        title.setStyleSheet("font-size: 30px; font-weight: 600;")
        self.maker, self.model = LineEdit(self), LineEdit(self)
        self.current, self.resistor, self.tolerance = LineEdit(self), LineEdit(self), LineEdit(self)
        self.pairs, self.rail = LineEdit(self), LineEdit(self)
        self.stage = Chooser(self.tr("Output stage"), self, letter=16.0)
        self.stage.addItems([stage.value for stage in OutputStage])
        self._answer = Label(self)
        self._answer.setStyleSheet("font-size: 40px; font-weight: 700;")
        self._how = Label(self)
        self._how.setProperty("role", "quiet")
        self._how.setWordWrap(True)
        self._doubts = Label(self)
        self._doubts.setProperty("role", "trouble")
        self._doubts.setWordWrap(True)
        self.candidates = CandidatesPanel(self)
        self._level = Level(self)
        self._level.setFixedHeight(96)
        self._use = Button(self.tr("&Use this amplifier"), self)
        self._use.setMinimumHeight(52)
        self._use.clicked.connect(self._say)
        back = Button(self.tr("&Back"), self)
        back.setMinimumHeight(52)
        back.clicked.connect(self.back)
        self._points = QButtonGroup(self)
        self._points.idToggled.connect(self._changed)
        self._arrange(title, back)
        self._prefill()
        self.model.editingFinished.connect(self._look_for_history)
        self._look_for_history()

    def _arrange(self, title: Label, back: Button) -> None:
        layout = self._outer = QVBoxLayout(self)
        layout.setContentsMargins(36, 20, 36, 20)
        layout.setSpacing(12)
        title.setWordWrap(True)
        # The keys stand at the top: what is below may be longer than the window is high.
        self._head = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._head.setSpacing(10)
        self._head.addWidget(title, 1)
        keys = QHBoxLayout()
        keys.setSpacing(10)
        keys.addStretch(1)
        keys.addWidget(back)
        keys.addWidget(self._use)
        self._head.addLayout(keys)
        layout.addLayout(self._head)
        layout.addLayout(self._topologies())
        lower = self._lower = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        lower.setSpacing(36)
        lower.addLayout(self._entries(), 4)
        right = QVBoxLayout()
        for widget in (self._answer, self._level, self._how, self._doubts, self.candidates):
            right.addWidget(widget)
        right.addStretch(1)
        lower.addLayout(right, 5)
        layout.addLayout(lower, 1)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """In a narrow window everything is one column, and the sketches stand two and two."""
        super().resizeEvent(event)
        narrow = self.width() < NARROW
        if narrow == self._narrow:
            return
        self._narrow = narrow
        down, across = QBoxLayout.Direction.TopToBottom, QBoxLayout.Direction.LeftToRight
        for row in (self._head, self._lower):
            row.setDirection(down if narrow else across)
        self._lower.setSpacing(16 if narrow else 36)
        side = 12 if narrow else 36
        self._outer.setContentsMargins(side, 20, side, 20)
        for number, button in enumerate(self._points.buttons()):
            columns = 2 if narrow else len(POINTS)
            self._sketches.addWidget(button, number // columns, number % columns)

    def _topologies(self) -> QGridLayout:
        words = (
            self.tr("A  across one emitter resistor"),
            self.tr("B  emitter to emitter, both resistors"),
            self.tr("C  one resistor of several pairs"),
            self.tr("D  emitter to emitter of one of several pairs"),
        )
        row = self._sketches = QGridLayout()
        row.setSpacing(14)
        for number, (point, text) in enumerate(zip(POINTS, words, strict=True)):
            button = TopologyButton(point, text, self)
            self._points.addButton(button, number)
            row.addWidget(button, 0, number)
        return row

    def _entries(self) -> Form:
        form = Form()
        form.setRowWrapPolicy(Form.RowWrapPolicy.WrapLongRows)
        form.setVerticalSpacing(8)
        entries = (
            (self.tr("&Maker"), self.maker),
            (self.tr("Mo&del"), self.model),
            (self.tr("&Output stage"), self.stage),
            (self.tr("Output &pairs"), self.pairs),
            (self.tr("Emitter &resistor"), self.resistor),
            (self.tr("&Current in each pair, mA"), self.current),
            (self.tr("&Tolerance, ± %"), self.tolerance),
            (self.tr("One rai&l, V, if known"), self.rail),
        )
        for text, widget in entries:
            form.addRow(text, widget)
            widget.setAccessibleName(text.replace("&", ""))
            if isinstance(widget, LineEdit):
                widget.textChanged.connect(self._changed)
        self.stage.currentIndexChanged.connect(self._changed)
        return form

    def _prefill(self) -> None:
        shown = (shown_of(self._known) if self._known else None) or UNKNOWN
        self.maker.setText(shown.maker)
        self.model.setText(shown.model)
        self.pairs.setText(f"{shown.pairs}")
        self.stage.setCurrentText(shown.stage.value)
        self.resistor.setText(shown.resistor)
        self.current.setText(signed(f"{shown.milliamperes:g}"))
        self.rail.setText("" if shown.rail_volts is None else signed(f"{shown.rail_volts:g}"))
        self.tolerance.setText(signed(f"{shown.tolerance_percent:g}"))
        self.choose(shown.point)

    @Slot()
    def _look_for_history(self) -> None:
        """Ask beside the window what units of this model were left at: an archive may be far away."""
        if self._papers is not None:
            self._looking = Errand(self)
            self._looking.done.connect(self._history_found)
            self._looking.run(partial(self._papers.left_before, self.model.text().strip()))

    @Slot(object)
    def _history_found(self, found: object) -> None:
        if isinstance(found, tuple) and self.sender() is self._looking:
            self.candidates.show_history(found)

    # --- facts for others -----------------------------------------------------------------------------

    @property
    def answer(self) -> str:
        """The window in millivolts, as shown."""
        return self._answer.text()

    @property
    def doubts(self) -> str:
        """What is wrong or unlikely about the entries."""
        return self._doubts.text()

    @property
    def use_button(self) -> Button:
        """Takes the amplifier as described."""
        return self._use

    def choose(self, point: TestPoint) -> None:
        """Choose between which points the probes go."""
        self._points.button(POINTS.index(point)).setChecked(True)

    # --- arithmetic -----------------------------------------------------------------------------------

    @Slot()
    def _changed(self) -> None:
        if self._points.checkedId() < 0:
            return
        try:
            entry = self._entered()
            amplifier = described(entry, self._known)
            target = target_of(amplifier, amplifier.channel[0])
        except ValueError as refusal:
            self._amplifier = None
            self.candidates.show_amplifier(None)
            self._answer.setText("––")
            self._how.clear()
            self._level.show_picture(None)
            self._tell_doubts(_sentence(refusal))
            self._use.setEnabled(False)
            return
        self._amplifier = amplifier
        self.candidates.show_amplifier(amplifier)
        self._use.setEnabled(target is not None)
        if target is not None:
            self._show(amplifier, target, changed_words(entry, self._known))

    def _entered(self) -> TargetEntry:
        """What is entered. Raises ValueError."""
        rail = self.rail.text().strip()
        return TargetEntry(
            milliamperes=self._number(self.current.text(), self.tr("The current"), "25"),
            tolerance_percent=self._number(self.tolerance.text(), self.tr("The tolerance"), "10"),
            pairs=self._whole(self.pairs.text(), self.tr("The number of output pairs"), "2"),
            rail_volts=self._number(rail, self.tr("The rail"), "42") if rail else None,
            point=POINTS[self._points.checkedId()],
            maker=self.maker.text(),
            model=self.model.text(),
            stage=OutputStage(self.stage.currentData()),
            resistor=self.resistor.text(),
        )

    def _number(self, text: str, what: str, example: str) -> float:
        """The number typed. Raises ValueError with a sentence that names the field."""
        try:
            return number_from(text, example)
        except ValueError as refusal:
            raise ValueError(f"{what} {refusal}") from None

    def _whole(self, text: str, what: str, example: str) -> int:
        """The whole number typed. Raises ValueError with a sentence that names the field."""
        number = self._number(text, what, example)
        if not number.is_integer():
            words = self.tr("{what} must be whole: type one such as {example}")
            raise ValueError(words.format(what=what, example=example))
        return int(number)

    def _show(self, amplifier: Amplifier, target: TargetVolts, changed: str) -> None:
        channel = amplifier.channel[0]
        low, middle, high = (1000.0 * v for v in (target.low_volts, target.volts, target.high_volts))
        self._answer.setText(signed(f"{middle:.4g} mV"))
        ohm = amplifier.emitter_resistor_ohm(channel)
        point = channel.test_point
        amperes = shown_amperes(amplifier)
        if ohm is not None and point is not None and amperes is not None:
            words = self.tr(
                "{current:g} mA × {ohm:g} Ω between the probes; window {low:.4g} to {high:.4g} mV"
            ).format(current=amperes * 1e3, ohm=spanned_ohm(point, ohm), low=low, high=high)
            self._how.setText(signed(words))
        self._level.show_picture(
            LevelPicture(-0.36, 0.36, signed(f"{low:.4g}"), signed(f"{high:.4g} mV"), bubble=0.0, inside=True)
        )
        self._tell_doubts("\n".join(filter(None, (*target_questions(amplifier), changed))))

    def refuse(self, sentence: str) -> None:
        """Say why the amplifier could not be kept; what is entered stays."""
        self._tell_doubts(sentence)

    def _tell_doubts(self, words: str) -> None:
        self._doubts.setText(signed(words))
        self._doubts.setVisible(bool(words))

    @Slot()
    def _say(self) -> None:
        if self._amplifier is None:
            return
        percent = self._number(self.tolerance.text(), self.tr("The tolerance"), "10")
        chosen = self.candidates.apply(self._amplifier, percent)
        if chosen is not None:
            self.described.emit(chosen)
