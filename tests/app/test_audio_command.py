"""The command `audio`: recordings measured, sentences for what cannot be, choices remembered."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

soundfile = pytest.importorskip("soundfile", exc_type=(ImportError, OSError))

from app.main import main  # noqa: E402
from app.records.places import settings_file  # noqa: E402
from app.settings import load_settings  # noqa: E402

RATE = 48_000


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    """Two channels at half scale: 1 % of second harmonic on the left, silence with hum on the right."""
    time = np.arange(2 * RATE) / RATE
    left = 0.5 * np.sin(2 * np.pi * 997 * time) + 0.005 * np.sin(2 * np.pi * 1994 * time)
    right = 0.001 * np.sin(2 * np.pi * 100 * time)
    path = tmp_path / "hand-back.wav"
    soundfile.write(path, np.stack([left, right], axis=1), RATE, subtype="PCM_24")
    return path


def test_a_recording_is_measured_in_volts_and_watts(
    recording: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["audio", str(recording), "--full-scale", "40", "--load", "8"])
    said = capsys.readouterr().out
    # Closed form: 0.5 x 40 V peak is 14.14 V rms, 25 W into 8 ohm; 0.005 / 0.5 is 1 % and -40 dB.
    for words in ("hand-back.wav, left", "14.1 V rms", "25.0 W", "% (-40.0 dB)", "root of the squares"):
        assert words in said


def test_noise_and_hum_of_a_recording(recording: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["audio", str(recording), "--full-scale", "1", "--noise"]) == 0
    said = capsys.readouterr().out
    assert f"{1000 * 0.001 / math.sqrt(2):.3f} mV" in said
    assert "may be ripple of the supply" in said


def test_without_a_scale_it_says_that_volts_are_not_right(
    recording: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["audio", str(recording)])
    assert "ratios are right, volts are not" in capsys.readouterr().out


def test_a_file_that_is_none_is_one_sentence_and_the_others_are_measured(
    recording: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["audio", "nowhere.wav", str(recording), "--noise"]) == 1
    captured = capsys.readouterr()
    assert captured.err.count("\n") == 1
    assert "cannot be opened" in captured.err
    assert "hand-back.wav, left" in captured.out


def test_a_picture_of_the_spectrum_is_drawn(recording: Path, tmp_path: Path) -> None:
    picture = tmp_path / "spectrum.png"
    main(["audio", str(recording), "--picture", str(picture), "--noise"])
    assert picture.read_bytes().startswith(b"\x89PNG")


def test_scales_are_remembered(recording: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(
        ["audio", str(recording), "--noise", "--divider", "20", "--input-volts", "2,5", "--recorder", "Card"]
    )
    assert "remembered" in capsys.readouterr().out
    audio = load_settings(settings_file())[0].audio
    assert (audio.divider, audio.input_volts, audio.recorder, audio.chosen) == (20.0, 2.5, "Card", True)


@pytest.mark.parametrize("bad", ["nothing", "-1", "0", "inf"])
def test_a_scale_that_is_no_number_is_refused(bad: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["audio", "--divider", bad])
    assert ended.value.code == 2
    assert f"'{bad}' is no number above zero" in capsys.readouterr().err


def test_a_level_is_read_from_a_meter_and_its_band_remembered(capsys: pytest.CaptureFixture[str]) -> None:
    from loopback_servers import Conversation, LineServer

    def answer(number: int, line: bytes, conversation: Conversation) -> bytes | None:
        answers = {b"*IDN?": b"INVENTED,M-3,1,1", b"MEAS:VOLT:AC?": b"+2.5E+00"}
        return answers.get(line, b"1" if line.endswith(b"?") else None)

    server = LineServer(answer)
    told = ("--level-band", "40", "400", "--level-responding", "average")
    try:
        assert main(["audio", "--level-meter", server.address, *told, "--level"]) == 0
    finally:
        server.stop()
    said = capsys.readouterr().out
    assert "2.50 V AC, INVENTED,M-3,1,1: average-responding, 40 to 400 Hz (as was told)." in said
    kept = load_settings(settings_file())[0].audio
    assert (kept.level_meter, kept.level_high_hz, kept.level_responding) == (server.address, 400.0, "average")

    # What was told of one meter does not hold for another.
    assert main(["audio", "--level-meter", "TCPIP::127.0.0.1::1::SOCKET", "--level"]) == 1
    kept = load_settings(settings_file())[0].audio
    assert (kept.level_low_hz, kept.level_high_hz, kept.level_responding) == (None, None, "")
    assert capsys.readouterr().err.count("\n") == 1
