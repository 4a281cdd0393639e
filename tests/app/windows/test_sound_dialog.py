"""Mute is one key; everything about sound is on one sheet, takes effect at once and is kept."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fake_bench import LEFT, RIGHT
from fake_workshop import FakeWorkshop
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot
from sounding import INTERFACE, SPEAKERS, FakeDevices

from app.bench.sound.desk import MUTED, SoundDesk
from app.bench.sound.heard import Alarmed, Heard
from app.settings import ChannelSound, SoundChoice
from app.windows.main_window import MainWindow
from app.windows.sound_dialog import SoundDialog
from procedures.events import Tier


class QuietDesk(SoundDesk):
    """A desk without its thread, which notes what it was to play."""

    def __init__(self) -> None:
        super().__init__(SoundChoice(volume=0.5), devices=FakeDevices((SPEAKERS, INTERFACE)))
        self.tried: list[Heard] = []
        self.holds = 0
        self.advance(0.0)

    def hold(self) -> None:
        self.holds += 1

    def release(self, patience_s: float = 0.0) -> None:
        self.holds -= 1

    def try_out(self, heard: Heard) -> None:
        self.tried.append(heard)


@pytest.fixture
def desk() -> Iterator[QuietDesk]:
    desk = QuietDesk()
    yield desk
    assert desk.holds == 0
    desk.close()


@pytest.fixture
def workshop(desk: QuietDesk) -> FakeWorkshop:
    made = FakeWorkshop()
    made.sound = desk
    return made


def _working(window: MainWindow, workshop: FakeWorkshop) -> None:
    window.show_bench(workshop.bench)
    window.draw()


def test_one_key_mutes_and_unmutes_and_the_screen_says_so(
    qtbot: QtBot, window: MainWindow, workshop: FakeWorkshop, desk: QuietDesk
) -> None:
    """F10; the key stays down while sound is muted."""
    _working(window, workshop)
    assert window.working is not None
    qtbot.keyClick(window, Qt.Key.Key_F10)
    assert desk.choice.muted
    assert window.working.deeds.action("mute").isChecked()
    assert "Muted: alarms are only seen." in window.working.said

    workshop.bench.show(sound=desk.notice)
    window.draw()
    assert "♪ muted" in window.working.said

    qtbot.keyClick(window, Qt.Key.Key_F10)
    assert not desk.choice.muted
    workshop.bench.show(sound="")
    window.draw()
    assert "♪" not in window.working.said


def test_a_missing_sound_is_said_once_and_stays_in_two_words(
    window: MainWindow, workshop: FakeWorkshop
) -> None:
    """The sentence for a moment, the words for good."""
    _working(window, workshop)
    assert window.working is not None
    workshop.bench.show(sound="No sound: this computer has no sound output.")
    window.draw()
    assert "this computer has no sound output" in window.working.said
    window.working.say("")
    workshop.bench.show()
    window.draw()

    assert "this computer" not in window.working.said
    assert "♪ no sound" in window.working.said


def _sheet(qtbot: QtBot, window: MainWindow, workshop: FakeWorkshop) -> SoundDialog:
    _working(window, workshop)
    qtbot.keyClick(window, Qt.Key.Key_M, Qt.KeyboardModifier.ControlModifier)
    sheet = window.sound_keys.dialog
    assert sheet is not None
    return sheet


def test_everything_on_the_sheet_takes_effect_at_once(
    qtbot: QtBot, window: MainWindow, workshop: FakeWorkshop, desk: QuietDesk
) -> None:
    """Volume, a channel's own, output, measuring device."""
    sheet = _sheet(qtbot, window, workshop)
    assert list(sheet.channels) == [LEFT, RIGHT]
    assert sheet.all.slider.value() == 50
    sheet.all.slider.setFocus()
    qtbot.keyClick(sheet.all.slider, Qt.Key.Key_PageUp)
    sheet.channels[LEFT].slider.setValue(40)
    sheet.channels[RIGHT].muted.click()
    sheet.output.setCurrentIndex(sheet.output.findData(SPEAKERS.name))
    sheet.measuring.setCurrentIndex(sheet.measuring.findData(INTERFACE.name))

    choice = desk.choice
    assert (choice.volume, choice.output, choice.measuring) == (0.6, SPEAKERS.name, INTERFACE.name)
    assert choice.loudness(LEFT) == pytest.approx(0.24)
    assert choice.loudness(RIGHT) == 0.0
    sheet.reject()


def test_the_only_output_kept_for_measuring_is_said_on_the_sheet(
    qtbot: QtBot, window: MainWindow, workshop: FakeWorkshop, desk: QuietDesk
) -> None:
    """As soon as the desk has noticed."""
    sheet = _sheet(qtbot, window, workshop)
    desk.choose(SoundChoice(output=SPEAKERS.name, measuring=SPEAKERS.name))
    desk.advance(1.0)
    sheet._look()

    assert "may lead to the measuring device" in sheet.notice.text()
    sheet.reject()


def test_speech_is_off_and_cannot_be_chosen_where_there_is_none(
    qtbot: QtBot, window: MainWindow, workshop: FakeWorkshop
) -> None:
    """And the sheet says why."""
    sheet = _sheet(qtbot, window, workshop)

    assert not sheet.speech.isChecked()
    assert not sheet.speech.isEnabled()
    assert any("no speech program" in label.text() for label in sheet.findChildren(QLabel))
    sheet.reject()


def test_the_sheet_says_in_which_language_is_spoken(
    qtbot: QtBot, window: MainWindow, workshop: FakeWorkshop, desk: QuietDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where speech is chosen and the window's language is another."""
    said = "Instructions are spoken in English: no voice for the language of the window was found."
    monkeypatch.setattr(QuietDesk, "voice_notice", property(lambda self: said if self.choice.speech else ""))
    monkeypatch.setattr(QuietDesk, "can_speak", True)
    sheet = _sheet(qtbot, window, workshop)
    assert not sheet.voice.isVisible()
    sheet.speech.setChecked(True)

    assert sheet.voice.isVisible()
    assert sheet.voice.text() == said
    sheet.reject()


def test_each_sound_can_be_heard_to_learn_it(
    qtbot: QtBot, window: MainWindow, workshop: FakeWorkshop, desk: QuietDesk
) -> None:
    """Chosen by its meaning."""
    sheet = _sheet(qtbot, window, workshop)
    sheet.pattern.setCurrentIndex(sheet.pattern.findText("Alarm: switch the mains off"))
    sheet.hear.click()

    assert desk.tried == [Alarmed(Tier.OFF)]
    sheet.reject()


def test_without_any_sound_the_keys_have_no_effect(qtbot: QtBot, window: MainWindow) -> None:
    """A window that was given no sound: the keys are grey."""
    window.sound_keys._sound = None
    workshop = FakeWorkshop()
    _working(window, workshop)
    qtbot.keyClick(window, Qt.Key.Key_F10)
    qtbot.keyClick(window, Qt.Key.Key_M, Qt.KeyboardModifier.ControlModifier)

    assert window.working is not None
    assert not window.working.deeds.action("mute").isEnabled()
    assert window.sound_keys.dialog is None
    assert MUTED not in window.working.said


def test_a_channel_that_is_changed_is_not_the_one_that_is_forgotten(desk: QuietDesk, qtbot: QtBot) -> None:
    """Twenty are remembered, and those that were chosen last."""
    old = tuple(ChannelSound(channel=name) for name in (LEFT, *(f"old {n}" for n in range(19))))
    desk.choose(SoundChoice(channels=old))
    dialog = SoundDialog(desk, (LEFT, RIGHT))
    qtbot.addWidget(dialog)
    dialog.channels[LEFT].muted.setChecked(True)
    kept = {one.channel: one for one in desk.choice.channels}
    dialog.reject()
    assert len(kept) == 20
    assert kept[LEFT].muted
    assert RIGHT in kept
