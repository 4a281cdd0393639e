"""Two processes keep settings: what each of them changed survives."""

from __future__ import annotations

import multiprocessing
from datetime import date
from pathlib import Path

import pytest

from app.settings import (
    AudioChoice,
    CalibrationDue,
    ChannelSound,
    DeclaredInput,
    RememberedMeter,
    Settings,
    SoundChoice,
    load_settings,
    save_settings,
)
from app.settings_file import SettingsFile

BENCH = RememberedMeter(name="bench", address="TCPIP::192.0.2.1::5025::SOCKET")
HAND = RememberedMeter(name="hand", address="ASRL/dev/ttyUSB0")
THIRD = RememberedMeter(name="third", address="TCPIP::192.0.2.3::5025::SOCKET")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "settings.json"


def _two(path: Path, before: Settings, one: Settings, other: Settings) -> Settings:
    """What the file says when a window and a terminal, begun with the same settings, have kept theirs."""
    save_settings(path, before)
    window, terminal = SettingsFile(path, before), SettingsFile(path, before)
    window.keep(one)
    terminal.keep(other)
    found, trouble = load_settings(path)
    assert trouble == ""
    return found


def test_what_each_changed_survives(path: Path) -> None:
    """Values, and values within the choice of sounds and the head of the report."""
    before = Settings()
    one = Settings(mains_hz=60, sound=SoundChoice(volume=0.2))
    other = Settings(appearance="dark", sound=SoundChoice(muted=True))
    expected = Settings(mains_hz=60, appearance="dark", sound=SoundChoice(volume=0.2, muted=True))

    assert _two(path, before, one, other) == expected


def test_lists_are_put_together_entry_by_entry(path: Path) -> None:
    """Meters, inputs, channels and calibrations: new ones of both, and those that one has taken away."""
    before = Settings(meters=(BENCH, HAND), inputs=(DeclaredInput(address=HAND.address, isolated=True),))
    one = before.remembering(THIRD).asking_again(HAND.address)
    other = before.remembering(BENCH.model_copy(update={"channel": "right bias"}))
    other = other.declaring(DeclaredInput(address=BENCH.address, isolated=False))
    other = other.calibrated(CalibrationDue(identity="a meter", due=date(2027, 1, 5)))
    loud = SoundChoice(channels=(ChannelSound(channel="left bias", volume=0.4),))

    found = _two(path, before, one, other.model_copy(update={"sound": loud}))

    assert {meter.address: meter.channel for meter in found.meters} == {
        BENCH.address: "right bias",
        HAND.address: "left bias",
        THIRD.address: "left bias",
    }
    assert [(said.address, said.isolated) for said in found.inputs] == [(BENCH.address, False)]
    assert [one.identity for one in found.calibrations] == ["a meter"]
    assert found.sound == loud


def test_devices_and_their_scales_are_never_mixed(path: Path) -> None:
    """A floor belongs to the recorder that it was measured with: the last to choose is right as a whole."""
    one = Settings(audio=AudioChoice(recorder="a card", input_volts=5.0))
    other = Settings(audio=AudioChoice(generator="another", floor_thd=0.001))

    assert _two(path, Settings(), one, other).audio == other.audio


def test_what_was_kept_before_is_not_kept_again(path: Path) -> None:
    """A window that changes one thing after the other does not bring the first back."""
    save_settings(path, Settings())
    window, terminal = SettingsFile(path, Settings()), SettingsFile(path, Settings())
    window.keep(Settings(mains_hz=60))
    terminal.keep(Settings(foot_key="B"))
    SettingsFile(path, load_settings(path)[0]).keep(Settings(foot_key="B"))  # back to 50 Hz elsewhere
    window.keep(Settings(mains_hz=60, language="de"))

    assert load_settings(path)[0] == Settings(foot_key="B", language="de")


def test_a_file_that_is_gone_or_damaged_is_written_whole(path: Path) -> None:
    window = SettingsFile(path, Settings(mains_hz=60))
    window.keep(Settings(mains_hz=60))
    assert load_settings(path)[0].mains_hz == 60
    path.write_text("{", encoding="utf-8")
    window.keep(Settings(mains_hz=60))
    assert load_settings(path)[0].mains_hz == 60


def _declares(path: Path, first: int) -> None:
    file = SettingsFile(path, Settings())
    settings = Settings()
    for number in range(first, first + 8):
        settings = settings.declaring(DeclaredInput(address=f"TCPIP::{number}::INSTR", isolated=True))
        file.keep(settings)


def test_processes_that_write_at_the_same_time_lose_nothing(path: Path) -> None:
    """Each reads, puts together and writes while the others wait."""
    save_settings(path, Settings())
    spawning = multiprocessing.get_context("spawn")
    writing = [spawning.Process(target=_declares, args=(path, first)) for first in (0, 100)]
    for process in writing:
        process.start()
    for process in writing:
        process.join(60)

    assert [process.exitcode for process in writing] == [0, 0]
    assert len(load_settings(path)[0].inputs) == 16
