"""What a meter cannot say of itself: its channels, its lines, the display's figures, the outputs' ground."""

from __future__ import annotations

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from app.bench.told_words import ToldMeter
from app.windows.flow import Flow
from app.windows.ports import Workshop
from app.windows.worded import Button, CheckBox, Dialog, Label, LineEdit

_WIDTH = 760


class ToldDialog(Dialog):
    """Fields for one address. What was typed is kept whole, or refused with a sentence and kept on screen."""

    def __init__(self, workshop: Workshop, told: ToldMeter, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._workshop = workshop
        self._told = told
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("Tell about a meter"))
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(14, 16, 14, 16)
        self._layout.setSpacing(12)
        title = Label(
            self.tr("The display that you read off")
            if told.display
            else told.address.replace("::", "::\u200b"),
            self,
        )
        title.setStyleSheet("font-size: 18px; font-weight: 600;")
        title.setTextFormat(Qt.TextFormat.PlainText)
        title.setWordWrap(True)
        self._layout.addWidget(title)
        self.channels = LineEdit(told.channels, self)
        self.pattern = LineEdit(told.pattern, self)
        self.unit = LineEdit(told.unit, self)
        if not told.display:
            self._add_reads()
        if told.lines:
            self._add_lines()
        self.channels.setVisible(not told.display)
        for field in (self.pattern, self.unit):
            field.setVisible(told.lines)
        self._add_figures()
        self._add_ground()
        self.trouble = Label(self)
        self.trouble.setProperty("role", "trouble")
        self.trouble.setWordWrap(True)
        self._layout.addWidget(self.trouble)
        self._add_keys()
        self.setFixedWidth(_WIDTH)

    def showEvent(self, event: QShowEvent) -> None:
        """As high as its words are at this width."""
        super().showEvent(event)
        self._fit()

    def _fit(self) -> None:
        self._layout.activate()
        self.resize(_WIDTH, self._layout.totalHeightForWidth(_WIDTH))

    def _say(self, words: str, *, quiet: bool = False) -> Label:
        label = Label(words, self)
        label.setWordWrap(True)
        if quiet:
            label.setProperty("role", "quiet")
        return label

    def _add_field(self, words: str, field: LineEdit, name: str, example: str) -> None:
        label = self._say(words)
        label.setBuddy(field)
        field.setAccessibleName(name)
        field.setPlaceholderText(example)
        self._layout.addWidget(label)
        self._layout.addWidget(field)

    def _add_reads(self) -> None:
        self._add_field(
            self.tr("What does it &read? One channel, or each input with its own."),
            self.channels,
            self.tr("Channels of the meter"),
            "left bias      1=left bias,2=right bias",
        )

    def _add_lines(self) -> None:
        self._add_field(
            self.tr(
                "What do its &lines look like? A regular expression with a named group for each number; "
                "empty: numbers between commas, semicolons or tabs, called 1, 2, 3 …"
            ),
            self.pattern,
            self.tr("Pattern of the lines"),
            r"L=(?P<left_bias>\S+) R=(?P<right_bias>\S+)",
        )
        self._add_field(
            self.tr("In which &unit is a bare number?"), self.unit, self.tr("Unit of a bare number"), "mV"
        )

    def _add_figures(self) -> None:
        told = self._told
        words = self.tr("The display's figures, from its manual; empty: not known.")
        self._layout.addWidget(self._say(words))
        self.percent = LineEdit(told.percent, self)
        self.digits = LineEdit(told.digits, self)
        self.step = LineEdit(told.step_millivolts, self)
        row = Flow()
        for before, field, name, example, after in (
            ("±", self.percent, self.tr("Percent of the reading"), "0.5", self.tr("% of the reading")),
            ("+", self.digits, self.tr("Digits"), "3", self.tr("digits of")),
            ("", self.step, self.tr("Millivolts of the last digit"), "0.1", self.tr("mV each")),
        ):
            if before:
                row.addWidget(Label(before, self))
            field.setAccessibleName(name)
            field.setPlaceholderText(example)
            field.setMaximumWidth(130)
            row.addWidget(field)
            row.addWidget(Label(after, self))
        self._layout.addLayout(row)

    def _add_ground(self) -> None:
        self.ground = CheckBox(self.tr("The outputs are measured against &ground"), self)
        self.ground.setChecked(self._told.ground_referenced)
        self._layout.addWidget(self.ground)
        words = self.tr(
            "Then an earthed input may read an offset. Bridged outputs are not: an earthed lead shorts one "
            "half. It never makes an earthed input fit for bias."
        )
        self._layout.addWidget(self._say(words, quiet=True))

    def _add_keys(self) -> None:
        self.keep_button = Button(self.tr("&Keep"), self)
        self.keep_button.setDefault(True)
        self.keep_button.clicked.connect(self._keep)
        self.leave_button = Button(self.tr("&Not now"), self)
        self.leave_button.clicked.connect(self.reject)
        row = QHBoxLayout()
        row.addStretch(1)
        for button in (self.keep_button, self.leave_button):
            button.setMinimumHeight(48)
            row.addWidget(button)
        self._layout.addLayout(row)

    @Slot()
    def _keep(self) -> None:
        told = ToldMeter(
            address=self._told.address,
            lines=self._told.lines,
            display=self._told.display,
            channels=self.channels.text().strip(),
            pattern=self.pattern.text().strip(),
            unit=self.unit.text().strip(),
            percent=self.percent.text().strip(),
            digits=self.digits.text().strip(),
            step_millivolts=self.step.text().strip(),
            ground_referenced=self.ground.isChecked(),
        )
        try:
            self._workshop.tell_meter(told)
        except (OSError, ValueError) as refusal:
            self.trouble.setText(str(refusal))
            self._fit()
            return
        self.accept()
