"""The sheet of the devices for measuring: what is kept, and what is refused in words."""

from __future__ import annotations

import threading

import pytest
from pytestqt.qtbot import QtBot

from app.bench.audio.devices import checked_choice
from app.settings import AudioChoice
from app.windows.audio_dialog import AudioDialog
from drivers.audio.refusal import AudioRefused


class FakeAudio:
    """Two devices, and a floor that can be refused."""

    def __init__(self) -> None:
        self.choice = AudioChoice(recorder="Bench card")
        self.kept: list[AudioChoice] = []
        self.refusal: Exception | None = None
        self.broken: tuple[str, ...] = ()

    def passed_over(self) -> tuple[str, ...]:
        return self.broken

    def choose(self, choice: AudioChoice) -> None:
        choice = checked_choice(choice)
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
            "Divider: amplifier volts per input volt: the number is out of range.",
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


# --- instruments at addresses -----------------------------------------------------------------------------


def test_typed_addresses_take_the_place_of_devices(dialog: AudioDialog, audio: FakeAudio) -> None:
    dialog.at["recorder"].setText(" TCPIP::192.0.2.9::5025::SOCKET ")
    dialog.at["generator"].setText("TCPIP::192.0.2.8::5025::SOCKET")
    dialog.keep()
    kept = audio.kept[-1]
    assert kept.recorder == "TCPIP::192.0.2.9::5025::SOCKET"
    assert kept.generator == "TCPIP::192.0.2.8::5025::SOCKET"


def test_a_kept_address_stands_in_its_field_and_not_in_the_list(qtbot: QtBot, audio: FakeAudio) -> None:
    audio.choice = AudioChoice(recorder="TCPIP::192.0.2.9::5025::SOCKET", generator="Bench card")
    made = AudioDialog(audio)
    qtbot.addWidget(made)
    qtbot.waitUntil(lambda: made.recorder.count() == 3)
    assert made.at["recorder"].text() == "TCPIP::192.0.2.9::5025::SOCKET"
    assert made.at["generator"].text() == ""
    assert made.recorder.currentData() == ""


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("192.0.2.9", "“192.0.2.9” is no address of an instrument; one looks like TCPIP::"),
        ("TCPIP::192.0.2.9::SOCKET::SOCKET", "Recorder: "),
        ("stream:TCPIP::192.0.2.11::9000::SOCKET", "is no instrument at an address"),
    ],
)
def test_a_bad_address_is_a_sentence_and_nothing_is_kept(
    dialog: AudioDialog, audio: FakeAudio, typed: str, sentence: str
) -> None:
    dialog.at["recorder"].setText(typed)
    dialog.keep()
    dialog.try_floor.click()
    assert sentence in dialog.notice.text()
    assert audio.kept == []
    assert dialog.at["recorder"].text() == typed


def test_a_description_that_is_passed_over_is_named(qtbot: QtBot, audio: FakeAudio) -> None:
    audio.broken = ("A description of an instrument is passed over: own.toml: role must be given.",)
    made = AudioDialog(audio)
    qtbot.addWidget(made)
    qtbot.waitUntil(lambda: "own.toml" in made.notice.text())


def test_the_voltmeter_is_kept_with_what_was_told_of_it(dialog: AudioDialog, audio: FakeAudio) -> None:
    dialog.at["level_meter"].setText("TCPIP::192.0.2.7::5025::SOCKET")
    dialog.band["level_low_hz"].setText("40")
    dialog.band["level_high_hz"].setText("400")
    dialog.responding.setCurrentIndex(dialog.responding.findData("average"))
    dialog.keep()
    kept = audio.kept[-1]
    assert (kept.level_meter, kept.level_low_hz, kept.level_high_hz, kept.level_responding) == (
        "TCPIP::192.0.2.7::5025::SOCKET",
        40.0,
        400.0,
        "average",
    )


def test_a_bandwidth_that_nobody_told_stays_unknown_and_a_swapped_one_is_refused(
    dialog: AudioDialog, audio: FakeAudio
) -> None:
    dialog.keep()
    assert (audio.kept[-1].level_low_hz, audio.kept[-1].level_high_hz) == (None, None)
    dialog.band["level_low_hz"].setText("400")
    dialog.band["level_high_hz"].setText("40")
    dialog.keep()
    assert "swapped" in dialog.notice.text()
    assert len(audio.kept) == 1


def test_what_is_not_touched_is_kept_as_it_was(qtbot: QtBot, audio: FakeAudio) -> None:
    """A calibrated scale keeps its digits, and a megahertz is no exponent that is refused."""
    audio.choice = AudioChoice(
        recorder="Bench card", input_volts=1.23456789, level_low_hz=10.0, level_high_hz=1e6, rate_hz=192_000.0
    )
    before = audio.choice
    made = AudioDialog(audio)
    qtbot.addWidget(made)
    qtbot.waitUntil(lambda: made.recorder.count() == 3)
    assert made.band["level_high_hz"].text() == "1000000"
    assert made.fields["rate_hz"].text() == "192000"
    made.keep()
    assert audio.kept == [before]


def test_what_is_chosen_while_devices_are_listed_stays_chosen(qtbot: QtBot, audio: FakeAudio) -> None:
    """Listing takes seconds; nobody has to choose twice."""
    listed = threading.Event()
    names = audio.names
    audio.names = lambda: (listed.wait(20.0), names())[1]  # type: ignore[method-assign]
    made = AudioDialog(audio)
    qtbot.addWidget(made)
    made.recorder.setCurrentIndex(0)
    listed.set()
    qtbot.waitUntil(lambda: made.recorder.count() == 3)
    assert made.recorder.currentData() == ""
