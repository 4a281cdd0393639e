"""The devices for measuring: which one records and which one plays, and what their samples are in volts.

Each is a sound device from the list, or an instrument whose address is typed.
"""

from __future__ import annotations

from decimal import Decimal

from PySide6.QtCore import QObject, Qt, Slot
from PySide6.QtWidgets import QDialogButtonBox, QVBoxLayout, QWidget

from app.settings import AudioChoice
from app.windows.chooser import Chooser, GoButton
from app.windows.errand import Errand
from app.windows.flow import Flow
from app.windows.hearing_ports import AudioControls
from app.windows.theme import shades
from app.windows.worded import Dialog, Form, Label, LineEdit
from app.windows.wording import number_from
from app.windows.working_screen import WorkingScreen

_FIELDS = ("output_volts", "input_volts", "divider", "rate_hz")
_AT = "::"  # in the address of an instrument and in no sound device's name
_EXAMPLE = "TCPIP::192.168.1.30::5025::SOCKET"


def _written(number: float) -> str:
    """A number in full, as it may be typed: what is kept unchanged stays the same, and has no exponent."""
    return f"{Decimal(repr(number)).normalize():f}"


class AudioDialog(Dialog):
    """The sheet. What is typed is kept whole, or refused with a sentence and left on the screen."""

    def __init__(self, audio: AudioControls, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("Devices for measuring"))
        self._audio = audio
        choice = audio.choice
        self.recorder = Chooser(self.tr("Recorder"), self, letter=16.0)
        self.generator = Chooser(self.tr("Generator"), self, letter=16.0)
        self.at = {
            role: LineEdit(name if _AT in (name := getattr(choice, role)) else "", self)
            for role in ("recorder", "generator", "level_meter")
        }
        self.band = {
            name: LineEdit("" if (hz := getattr(choice, name)) is None else _written(hz), self)
            for name in ("level_low_hz", "level_high_hz")
        }
        self.responding = Chooser(self.tr("How the AC voltmeter responds"), self, letter=16.0)
        for said, words in (
            ("", self.tr("true RMS?")),
            ("true rms", self.tr("true RMS")),
            ("average", self.tr("averaging")),
        ):
            self.responding.addItem(words, said)
        self.responding.setCurrentIndex(max(0, self.responding.findData(choice.level_responding)))
        self.fields = {name: LineEdit(_written(getattr(choice, name)), self) for name in _FIELDS}
        self.try_floor = GoButton(self.tr("Measure the floor"), self)
        self.notice = Label(self)
        self.notice.setWordWrap(True)
        self.notice.setMinimumHeight(66)
        self.notice.setTextFormat(Qt.TextFormat.PlainText)
        self._arrange()
        self._list((), ())
        self._finding, self._floor = Errand(), Errand()
        self._finding.done.connect(self._found)
        self._floor.done.connect(self._measured)
        self.try_floor.clicked.connect(self._measure)
        self._finding.run(audio.names)

    def _arrange(self) -> None:
        words = {
            "output_volts": self.tr("Generator: peak volts at full scale"),
            "input_volts": self.tr("Recorder: peak volts at full scale"),
            "divider": self.tr("Divider: amplifier volts per input volt"),
            "rate_hz": self.tr("Samples a second"),
        }
        form = Form()
        form.setLabelAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        form.setRowWrapPolicy(Form.RowWrapPolicy.WrapLongRows)
        form.setVerticalSpacing(6)
        form.setHorizontalSpacing(18)
        form.addRow(self.tr("Records the outputs"), self.recorder)
        form.addRow(self.tr("or a digitiser, at its address"), self.at["recorder"])
        form.addRow(self.tr("Drives the inputs"), self.generator)
        form.addRow(self.tr("or a generator, at its address"), self.at["generator"])
        form.addRow(self.tr("AC voltmeter, at its address"), self.at["level_meter"])
        form.addRow(self.tr("Where its AC volts are right, Hz"), self._band_row())
        names = {
            "recorder": self.tr("Address of the digitiser"),
            "generator": self.tr("Address of the generator"),
            "level_meter": self.tr("Address of the AC voltmeter"),
        }
        for role, field in self.at.items():
            field.setPlaceholderText(_EXAMPLE)
            field.setMinimumHeight(40)
            field.setAccessibleName(names[role])
        for name, field in self.fields.items():
            field.setAccessibleName(words[name])
            field.setMinimumHeight(40)
            form.addRow(words[name], field)
        form.addRow(self.tr("Output connected to input:"), self.try_floor)
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Save | QDialogButtonBox.StandardButton.Cancel, self
        )
        buttons.accepted.connect(self.keep)
        buttons.rejected.connect(self.reject)
        caution = Label(
            self.tr(
                "An earthed input must not touch a bridged or floating output, and the divider must stand "
                "the highest peak. No guiding sound is heard on the device that measures."
            ),
            self,
        )
        caution.setWordWrap(True)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(18, 16, 18, 14)
        layout.setSpacing(12)
        layout.addWidget(caution)
        layout.addLayout(form)
        layout.addWidget(self.notice)
        layout.addWidget(buttons)
        self.setMinimumWidth(820)

    def _band_row(self) -> Flow:
        """From, to, and how the meter forms what it shows."""
        names = {"level_low_hz": self.tr("from"), "level_high_hz": self.tr("to")}
        row = Flow()
        for name, field in self.band.items():
            field.setPlaceholderText(names[name])
            field.setAccessibleName(self.tr("AC volts are right, Hz: {end}").format(end=names[name]))
            field.setMinimumHeight(40)
            field.setMaximumWidth(100)  # the question beside them has room on the same line
            row.addWidget(field)
        row.addWidget(self.responding)
        return row

    def _list(self, recorders: tuple[str, ...], generators: tuple[str, ...]) -> None:
        choice = self._audio.choice
        for chooser, names, kept in (
            (self.recorder, recorders, choice.recorder),
            (self.generator, generators, choice.generator),
        ):
            # Something else may have been chosen while the devices were being listed.
            chosen = str(chooser.currentData() or "") if chooser.count() else kept
            chooser.clear()
            chooser.addItem(self.tr("none chosen"), "")
            for name in dict.fromkeys([*names, *([chosen] if chosen and _AT not in chosen else [])]):
                chooser.addItem(name, name)
            chooser.setCurrentIndex(max(0, chooser.findData(chosen)))

    def say(self, sentence: str, *, trouble: bool = False) -> None:
        """Answer in words."""
        self.notice.setText(sentence[:1].upper() + sentence[1:])
        colours = shades()
        self.notice.setStyleSheet(f"color: {colours.outside if trouble else colours.ink};")

    @Slot(object)
    def _found(self, found: object) -> None:
        if isinstance(found, tuple):
            self._list(*found)
        elif not any(field.text().strip() for field in self.at.values()):
            self.say(str(found), trouble=True)
        if passed_over := self._audio.passed_over():
            self.say("\n".join(passed_over[:2]), trouble=True)

    def _typed(self) -> AudioChoice | None:
        """What is chosen and typed; None where something is refused, which is then said."""
        values: dict[str, object] = {
            "recorder": self.at["recorder"].text().strip() or self.recorder.currentData() or "",
            "generator": self.at["generator"].text().strip() or self.generator.currentData() or "",
            "level_meter": self.at["level_meter"].text().strip(),
            "level_responding": self.responding.currentData() or "",
        }
        for role, field in self.at.items():
            if (typed := field.text().strip()) and _AT not in typed:
                self.say(
                    self.tr("“{typed}” is no address of an instrument; one looks like {example}.").format(
                        typed=typed, example=_EXAMPLE
                    ),
                    trouble=True,
                )
                self.at[role].setFocus(Qt.FocusReason.OtherFocusReason)
                return None
        for name, field in (self.fields | self.band).items():
            if name in self.band and not field.text().strip():
                values[name] = None
                continue
            try:
                values[name] = number_from(field.text())
            except ValueError as refusal:
                self.say(f"{field.english('setAccessibleName')}: {refusal}.", trouble=True)
                field.setFocus(Qt.FocusReason.OtherFocusReason)
                return None
        try:
            return AudioChoice.model_validate(self._audio.choice.model_dump() | values)
        except ValueError as refusal:
            fields = self.fields | self.band
            name = next((name for name in fields if name in str(refusal)), "divider")
            what = fields[name].english("setAccessibleName")
            self.say(self.tr("{what}: the number is out of range.").format(what=what), trouble=True)
            fields[name].setFocus(Qt.FocusReason.OtherFocusReason)
            return None

    @Slot()
    def keep(self) -> None:
        """Remember it and close, or say what is wrong."""
        chosen = self._typed()
        if chosen is None:
            return
        if self._kept(chosen):
            self.accept()

    def _kept(self, chosen: AudioChoice) -> bool:
        try:
            self._audio.choose(chosen)
        except ValueError as refusal:
            self.say(str(refusal), trouble=True)
        except OSError as error:
            self.say(self.tr("It could not be kept: {reason}").format(reason=error), trouble=True)
        else:
            return True
        return False

    @Slot()
    def _measure(self) -> None:
        chosen = self._typed()
        if chosen is None or not self._kept(chosen):
            return
        self.try_floor.setEnabled(False)
        self.say(self.tr("A tone is played, then silence: a few seconds."))
        self._floor.run(self._audio.floor)

    @Slot(object)
    def _measured(self, found: object) -> None:
        self.try_floor.setEnabled(True)
        if isinstance(found, tuple):
            self.say("\n".join(str(one) for one in found))
        else:
            self.say(str(found), trouble=True)


class AudioKeys(QObject):
    """The key of a working screen that opens the sheet."""

    def __init__(self, audio: AudioControls | None, window: QWidget) -> None:
        super().__init__(window)
        self._window = window
        self._audio = audio
        self.dialog: AudioDialog | None = None

    def attach(self, working: WorkingScreen) -> None:
        """Take the key of a working screen."""
        working.audio.connect(self.open)
        working.deeds.action("audio").setEnabled(self._audio is not None)

    @Slot()
    def open(self) -> None:
        """Open the sheet."""
        if self._audio is not None:
            self.dialog = AudioDialog(self._audio, self._window)
            self.dialog.open()
