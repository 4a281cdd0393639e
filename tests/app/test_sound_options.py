"""Sound on the command line: what is said is kept, what cannot be is refused in one sentence."""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np
import pytest
from sounding import INTERFACE, SPEAKERS, FakeDevices

from app import commands
from app.main import COMMANDS, REFUSALS, main
from app.records.places import settings_file
from app.settings import ChannelSound, Settings, SoundChoice, load_settings, save_settings
from app.sounds_command import SOUNDS, carry_out_sounds


def _parsed(*words: str) -> object:
    return commands.parser(COMMANDS).parse_args(list(words))


def test_what_is_said_about_sound_is_kept(capsys: pytest.CaptureFixture[str]) -> None:
    """Each option by itself; what is not named stays."""
    assert main(["sounds", "--volume", "40", "--speech", "on", "--measuring-device", "Interface"]) == 0
    assert main(["sounds", "--sound", "muted"]) == 0

    kept, trouble = load_settings(settings_file())
    assert trouble == ""
    assert kept.sound == SoundChoice(volume=0.4, speech=True, measuring="Interface", muted=True)


def test_the_choice_is_kept_whole(tmp_path: Path) -> None:
    """Channels too."""
    choice = SoundChoice(output="Speakers", channels=(ChannelSound(channel="left bias", volume=0.3),))
    save_settings(tmp_path / "settings.json", Settings(sound=choice))

    assert load_settings(tmp_path / "settings.json")[0].sound == choice


@pytest.mark.parametrize("volume", ["101", "-1", "loud", "nan"])
def test_a_volume_that_is_none_is_refused(volume: str, capsys: pytest.CaptureFixture[str]) -> None:
    """One sentence, exit code 2."""
    with pytest.raises(SystemExit) as refused:
        main(["sounds", f"--volume={volume}"])

    assert refused.value.code == 2
    assert f"{volume} is no volume: say a percentage from 0 to 100" in capsys.readouterr().err


def test_sounds_are_listed_with_what_they_say_and_where(capsys: pytest.CaptureFixture[str]) -> None:
    """The output in use has a star; without sound the reason stands there."""
    listing = _parsed("sounds")
    assert carry_out_sounds(listing, SoundChoice(), FakeDevices((INTERFACE, SPEAKERS))) == 0  # type: ignore[arg-type]
    said = capsys.readouterr().out
    assert f"* {SPEAKERS.name}" in said
    assert f"  {INTERFACE.name}" in said
    assert all(name in said for name in SOUNDS)

    assert carry_out_sounds(listing, SoundChoice(), FakeDevices(())) == 0  # type: ignore[arg-type]
    assert "No sound: this computer has no sound output." in capsys.readouterr().out


def test_all_sounds_can_be_had_as_files(tmp_path: Path) -> None:
    """One WAV each, 16 bits, not clipped."""
    assert main(["sounds", "--volume", "100", "--into", str(tmp_path / "sounds")]) == 0

    files = sorted((tmp_path / "sounds").iterdir())
    assert len(files) == len(SOUNDS)
    for path in files:
        with wave.open(str(path)) as file:
            assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, 48000)
            made = np.frombuffer(file.readframes(file.getnframes()), "<i2")
        assert 10_000 < np.abs(made.astype(int)).max() < 32_767, path.name


def test_an_unknown_sound_and_an_unusable_folder_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In a sentence that names the ones there are, or the place."""
    with pytest.raises(SystemExit):
        main(["sounds", "--play", "trumpet"])
    assert "guidance over" in capsys.readouterr().err

    (tmp_path / "file").write_text("")
    assert commands.run(["sounds", "--into", str(tmp_path / "file")], COMMANDS, REFUSALS) == 1
    assert str(tmp_path / "file") in capsys.readouterr().err
