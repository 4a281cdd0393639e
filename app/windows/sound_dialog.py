"""What is heard, how loudly and where: the mute key, and the sheet behind the sound key.

Everything takes effect at once and is kept; there is nothing to confirm.
"""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt, QTimer, Slot
from PySide6.QtWidgets import QDialogButtonBox, QVBoxLayout, QWidget

from app.bench.sound.heard import Alarmed, GuidanceOver, Guiding, Heard, NeedsYou, Settled
from app.settings import ChannelSound, SoundChoice
from app.windows.chooser import Chooser, GoButton
from app.windows.flow import Flow
from app.windows.hearing_ports import SoundControls
from app.windows.theme import shades
from app.windows.worded import CheckBox, Dialog, Form, Label, Slider
from app.windows.working_screen import WorkingScreen
from procedures.events import Tier

NOTICE_MS = 300


def _box(words: str, parent: QWidget) -> CheckBox:
    """A box that can be hit with a glove."""
    made = CheckBox(words, parent)
    made.setMinimumHeight(40)
    return made


class Volume(QWidget):
    """A slider with its figure, and a box that silences it."""

    def __init__(self, name: str, volume: float, muted: bool, words: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.slider = Slider(Qt.Orientation.Horizontal, self)
        self.slider.setRange(0, 100)
        self.slider.setPageStep(10)
        self.slider.setMinimumSize(220, 40)
        self.slider.setAccessibleName(name)
        self.figure = Label(self)
        self.figure.setMinimumWidth(56)
        self.muted = _box(words, self)
        self.muted.setAccessibleName(f"{name}: {words}")
        layout = Flow(self)
        layout.addWidget(self.slider)
        layout.addWidget(self.figure)
        layout.addWidget(self.muted)
        self.slider.valueChanged.connect(self._say)
        self.slider.setValue(round(volume * 100.0))
        self.muted.setChecked(muted)
        self._say(self.slider.value())

    @property
    def volume(self) -> float:
        """What the slider says, 0..1."""
        return self.slider.value() / 100.0

    @Slot(int)
    def _say(self, percent: int) -> None:
        self.figure.setText(f"{percent} %")


class SoundDialog(Dialog):
    """The sheet. `channels` are those whose trimmers are guided."""

    def __init__(
        self, sound: SoundControls, channels: tuple[str, ...], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("Sound"))
        self._sound = sound
        self._listed: tuple[str, ...] | None = None
        choice = sound.choice
        self.all = Volume(
            self.tr("Everything"), choice.volume, choice.muted, self.tr("muted, alarms too"), self
        )
        own = {one.channel: one for one in choice.channels}
        self.channels = {
            name: Volume(
                self.tr("Guiding on {channel}").format(channel=name),
                own[name].volume if name in own else 1.0,
                name in own and own[name].muted,
                self.tr("not guided"),
                self,
            )
            for name in channels
        }
        self.output = Chooser(self.tr("Output"), self, letter=16.0)
        self.measuring = Chooser(self.tr("Measuring device"), self, letter=16.0)
        self.speech = _box(self.tr("Speak the instructions"), self)
        self.speech.setChecked(choice.speech)
        self.speech.setEnabled(sound.can_speak)
        self.voice = Label(self)
        self.voice.setProperty("role", "quiet")
        self.voice.setWordWrap(True)
        self.pattern = Chooser(self.tr("A sound"), self, letter=16.0)
        for words, heard in self._patterns():
            self.pattern.addItem(words, heard)
        self.hear = GoButton(self.tr("Hear it"), self)
        self.notice = Label(self)
        self.notice.setWordWrap(True)
        self.notice.setMinimumHeight(44)
        self._arrange()
        self._list_outputs()
        self._connect()
        self._look()

    def _patterns(self) -> tuple[tuple[str, Heard], ...]:
        return (
            (self.tr("Turning: far too low"), Guiding(-30.0)),
            (self.tr("Turning: a little low"), Guiding(-2.0)),
            (self.tr("Turning: right"), Guiding(0.0)),
            (self.tr("Turning: right, near the low edge"), Guiding(-1.0)),
            (self.tr("Turning: right, near the high edge"), Guiding(1.0)),
            (self.tr("Turning: a little high"), Guiding(2.0)),
            (self.tr("Turning: far too high"), Guiding(30.0)),
            (self.tr("Guiding is over"), GuidanceOver()),
            (self.tr("Settled"), Settled()),
            (self.tr("The work waits for you"), NeedsYou()),
            (self.tr("Alarm: look"), Alarmed(Tier.LOOK)),
            (self.tr("Alarm: turn down or stop"), Alarmed(Tier.ACT)),
            (self.tr("Alarm: switch the mains off"), Alarmed(Tier.OFF)),
            (self.tr("Alarm: lead off, or far too high"), Alarmed(Tier.LEAD)),
            (self.tr("Alarm: not watched"), Alarmed(Tier.BLIND)),
        )

    def _arrange(self) -> None:
        self._form = form = Form()
        form.setLabelAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        form.setFieldGrowthPolicy(Form.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        form.setRowWrapPolicy(Form.RowWrapPolicy.WrapLongRows)
        form.setVerticalSpacing(10)
        form.setHorizontalSpacing(18)
        form.addRow(self.tr("Everything"), self.all)
        for name, volume in self.channels.items():
            words = self.tr("Guiding on {channel}").format(channel=name.replace("&", "&&"))
            form.addRow(words, volume)
        form.addRow(self.tr("Heard on"), self.output)
        form.addRow(self.tr("Kept for measuring, silent"), self.measuring)
        form.addRow("", self.speech)
        form.addRow("", self.voice)
        if not self._sound.can_speak:
            why = Label(self.tr("Nothing is spoken: no speech program was found on this computer."), self)
            why.setProperty("role", "quiet")
            why.setWordWrap(True)
            form.addRow("", why)
        trying = Flow()
        trying.addWidget(self.pattern)
        trying.addWidget(self.hear)
        form.addRow(self.tr("How it sounds"), trying)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close, self)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(18, 16, 18, 14)
        layout.setSpacing(12)
        layout.addLayout(form)
        layout.addWidget(self.notice)
        layout.addWidget(buttons)
        self.setMinimumWidth(880)

    def _connect(self) -> None:
        for volume in (self.all, *self.channels.values()):
            volume.slider.valueChanged.connect(self._choose)
            volume.muted.toggled.connect(self._choose)
        for chooser in (self.output, self.measuring):
            chooser.currentIndexChanged.connect(self._choose)
        self.speech.toggled.connect(self._choose)
        self.hear.clicked.connect(self._hear)
        self._looking = QTimer(self)
        self._looking.setInterval(NOTICE_MS)
        self._looking.timeout.connect(self._look)
        self._looking.start()
        self._sound.hold()
        self.finished.connect(self._let_go)

    @Slot()
    def _let_go(self) -> None:
        self._looking.stop()
        self._sound.release()

    @Slot()
    def _look(self) -> None:
        """Say why nothing is heard, and list outputs that have been found since."""
        if self._sound.names != self._listed:
            self._list_outputs()
        self.voice.setText(self._sound.voice_notice)
        self._form.setRowVisible(self.voice, bool(self._sound.voice_notice))
        self.notice.setText(" ".join(filter(None, (self._sound.notice, self._sound.speech_notice))))
        self.notice.setStyleSheet(f"color: {shades().outside}; font-weight: 600;")

    def _list_outputs(self) -> None:
        names, choice = self._sound.names, self._sound.choice
        self._listed = names
        for chooser, first, chosen in (
            (self.output, self.tr("the system's output"), choice.output),
            (self.measuring, self.tr("none"), choice.measuring),
        ):
            chooser.blockSignals(True)
            chooser.clear()
            chooser.addItem(first, "")
            for name in dict.fromkeys([*(names or ()), *filter(None, [chosen])]):
                chooser.addItem(name, name)
            chooser.setCurrentIndex(max(0, chooser.findData(chosen)))
            chooser.blockSignals(False)

    @Slot()
    def _choose(self) -> None:
        """Take up what is chosen now."""
        before = {one.channel: one for one in self._sound.choice.channels}
        for name, volume in self.channels.items():
            before.pop(name, None)  # what is chosen now is the newest, and kept when there are too many
            before[name] = ChannelSound(channel=name, volume=volume.volume, muted=volume.muted.isChecked())
        self._sound.choose(
            SoundChoice(
                volume=self.all.volume,
                muted=self.all.muted.isChecked(),
                output=str(self.output.currentData() or ""),
                measuring=str(self.measuring.currentData() or ""),
                speech=self.speech.isChecked(),
                channels=tuple(before.values())[-20:],
            )
        )
        self._look()

    @Slot()
    def _hear(self) -> None:
        self._sound.try_out(self.pattern.currentData())


class SoundKeys(QObject):
    """The mute key and the sound key of a working screen."""

    def __init__(self, sound: SoundControls | None, window: QWidget) -> None:
        super().__init__(window)
        self._window = window
        self._sound = sound
        self._working: WorkingScreen | None = None
        self.dialog: SoundDialog | None = None

    def attach(self, working: WorkingScreen) -> None:
        """Take the keys of a working screen."""
        self._working = working
        working.mute.connect(self._toggle)
        working.sound.connect(self._open)
        for name in ("mute", "sound"):
            working.deeds.action(name).setEnabled(self._sound is not None)
        self._show()

    def _show(self) -> None:
        if self._working is not None and self._sound is not None:
            self._working.deeds.action("mute").setChecked(self._sound.choice.muted)

    @Slot()
    def _toggle(self) -> None:
        sound, working = self._sound, self._working
        if sound is None or working is None:
            return
        muted = not sound.choice.muted
        sound.choose(sound.choice.model_copy(update={"muted": muted}))
        self._show()
        words = self.tr("Muted: alarms are only seen.") if muted else sound.notice or self.tr("Sound is on.")
        working.say(words)

    @Slot()
    def _open(self) -> None:
        if self._sound is None or self._working is None:
            return
        setups = self._working.bench.picture().setups
        channels = tuple(one.channel for one in setups if one.target_volts is not None and not one.typed)
        self.dialog = SoundDialog(self._sound, channels, self._window)
        self.dialog.finished.connect(self._show)
        self.dialog.open()
