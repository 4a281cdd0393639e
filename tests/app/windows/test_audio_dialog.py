"""The sheet of the devices for measuring: what is kept, and what is refused in words."""

from __future__ import annotations

import pytest
from pytestqt.qtbot import QtBot

from app.settings import AudioChoice
from app.windows.audio_dialog import AudioDialog
from drivers.audio.refusal import AudioRefused


class FakeAudio:
    """Two devices, and a floor that can be refused."""

    def __init__(self) -> None:
        self.choice = AudioChoice(recorder="Bench card")
        self.kept: list[AudioChoice] = []
        self.refusal: Exception | None = None

    def choose(self, choice: AudioChoice) -> None:
        self.choice = choice
        self.kept.append(choice)

    def names(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        return ("Bench card", "Line in"), ("Bench card",)

    def floor(self) -> tuple[str, ...]:
        if self.refusal is not None:
            raise self.refusal
        return ("left: THD+N 0.0010 % (-100.0 dB).",)


@pytest.fixture
def audio() -> FakeAudio:
    return FakeAudio()


@pytest.fixture
def dialog(qtbot: QtBot, audio: FakeAudio) -> AudioDialog:
    made = AudioDialog(audio)
    qtbot.addWidget(made)
    qtbot.waitUntil(lambda: made.recorder.count() == 3)
    return made


def test_what_is_chosen_and_typed_is_kept(dialog: AudioDialog, audio: FakeAudio) -> None:
    dialog.generator.setCurrentIndex(dialog.generator.findData("Bench card"))
    dialog.fields["divider"].setText("20,5")
    dialog.fields["rate_hz"].setText("96000")
    dialog.keep()
    kept = audio.kept[-1]
    assert (kept.recorder, kept.generator, kept.divider, kept.rate_hz) == (
        "Bench card",
        "Bench card",
        20.5,
        96_000.0,
    )


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("divider", "lots", "“lots” is not a number"),
        (
            "divider",
            "0.2",
            "Divider: volts at the amplifier for one at the input: the number is out of range.",
        ),
        ("rate_hz", "12", "Samples a second: the number is out of range."),
    ],
)
def test_a_bad_number_is_a_sentence_and_stays_on_the_screen(
    dialog: AudioDialog, audio: FakeAudio, field: str, typed: str, sentence: str
) -> None:
    dialog.fields[field].setText(typed)
    dialog.keep()
    assert sentence in dialog.notice.text()
    assert dialog.fields[field].text() == typed
    assert audio.kept == []


def test_the_floor_is_said(qtbot: QtBot, dialog: AudioDialog) -> None:
    dialog.try_floor.click()
    qtbot.waitUntil(lambda: "THD+N" in dialog.notice.text())
    assert dialog.try_floor.isEnabled()


def test_a_device_that_refuses_is_a_sentence(qtbot: QtBot, dialog: AudioDialog, audio: FakeAudio) -> None:
    audio.refusal = AudioRefused("Bench card could not be used (busy); see that nothing else has it.")
    dialog.try_floor.click()
    qtbot.waitUntil(lambda: "busy" in dialog.notice.text())
    assert dialog.try_floor.isEnabled()
