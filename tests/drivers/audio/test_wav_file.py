"""Recordings made elsewhere are read rightly, or refused in one sentence.

The files of the folder wav_files come from scipy's own tests (BSD-3, its licence beside them).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.io import wavfile

soundfile = pytest.importorskip("soundfile", exc_type=(ImportError, OSError))

from drivers.audio.refusal import AudioRefused  # noqa: E402
from drivers.audio.wav_file import read_recording  # noqa: E402

FILES = Path(__file__).parent / "wav_files"


@pytest.mark.parametrize(
    ("name", "channels", "frames", "rate"),
    [
        ("1234Hz-le-1ch-10S-20bit-extra", 1, 10, 1234),
        ("44100Hz-2ch-32bit-float-be", 2, 441, 44100),
        ("44100Hz-2ch-32bit-float-le", 2, 441, 44100),
        ("44100Hz-be-1ch-4bytes", 1, 4410, 44100),
        ("44100Hz-le-1ch-4bytes-rf64", 1, 4410, 44100),
        ("44100Hz-le-1ch-4bytes", 1, 4410, 44100),
        ("48000Hz-2ch-64bit-float-le-wavex", 2, 480, 48000),
        ("8000Hz-be-3ch-5S-24bit", 3, 5, 8000),
        ("8000Hz-le-2ch-1byteu", 2, 800, 8000),
        ("8000Hz-le-3ch-5S-24bit-rf64", 3, 5, 8000),
        ("8000Hz-le-3ch-5S-24bit", 3, 5, 8000),
        ("8000Hz-le-4ch-9S-12bit", 4, 9, 8000),
        ("8000Hz-le-5ch-9S-5bit", 5, 9, 8000),
    ],
)
@pytest.mark.filterwarnings("ignore:Chunk")
def test_a_whole_file_equals_what_a_reference_library_reads(
    name: str, channels: int, frames: int, rate: int
) -> None:
    path = FILES / f"test-{name}.wav"
    captures = read_recording(path)
    assert (len(captures), len(captures[0].volts), captures[0].rate_hz) == (channels, frames, rate)
    assert all(capture.remarks == () for capture in captures)
    reference_rate, reference = wavfile.read(path)
    assert reference_rate == rate
    reference = reference.reshape(frames, channels)
    if reference.dtype == np.uint8:
        reference = (reference.astype(float) - 128.0) / 128.0
    elif reference.dtype.kind == "i":
        reference = reference / -float(np.iinfo(reference.dtype).min)
    for index, capture in enumerate(captures):
        assert np.allclose(capture.volts, reference[:, index], atol=1e-7)


def test_a_file_that_was_cut_short_says_so() -> None:
    (capture,) = read_recording(FILES / "test-44100Hz-le-1ch-4bytes-early-eof.wav")
    assert len(capture.volts) == 236
    assert capture.remarks == (
        "test-44100Hz-le-1ch-4bytes-early-eof.wav was cut short: 236 of 4410 frames are there",
    )


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        (
            "44100Hz-le-1ch-4bytes-early-eof-no-data",
            "ends before its samples begin (72 bytes); record it again.",
        ),
        (
            "44100Hz-le-1ch-4bytes-incomplete-chunk",
            "ends before its samples begin (13 bytes); record it again.",
        ),
        (
            "8000Hz-le-1ch-1byte-ulaw",
            "is coded as WAV ULAW, which changes the signal by itself; record it as WAV",
        ),
        (
            "8000Hz-le-3ch-5S-24bit-inconsistent",
            "contradicts itself: 3 channels of 24 bits cannot take 4 bytes a frame; save it again.",
        ),
        ("8000Hz-le-3ch-5S-36bit", "save it again as WAV with 16, 24 or 32 bits."),
        ("8000Hz-le-3ch-5S-45bit", "save it again as WAV with 16, 24 or 32 bits."),
        ("8000Hz-le-3ch-5S-53bit", "save it again as WAV with 16, 24 or 32 bits."),
        ("8000Hz-le-3ch-5S-64bit", "save it again as WAV with 16, 24 or 32 bits."),
    ],
)
def test_what_cannot_be_read_is_refused_in_one_sentence(name: str, sentence: str) -> None:
    with pytest.raises(AudioRefused) as caught:
        read_recording(FILES / f"test-{name}.wav")
    assert sentence in str(caught.value)
    assert f"test-{name}.wav" in str(caught.value)


def test_no_file_and_no_recording_are_sentences(tmp_path: Path) -> None:
    with pytest.raises(AudioRefused, match="cannot be opened"):
        read_recording(tmp_path / "nowhere.wav")
    (tmp_path / "empty.wav").write_bytes(b"")
    with pytest.raises(AudioRefused, match=r"empty\.wav is empty; record it again\."):
        read_recording(tmp_path / "empty.wav")
    (tmp_path / "letter.wav").write_text("Dear workshop, the left channel hums.")
    with pytest.raises(AudioRefused, match="cannot be read as a recording"):
        read_recording(tmp_path / "letter.wav")


def test_the_scale_makes_volts_of_samples_and_keeps_the_inputs_limit(tmp_path: Path) -> None:
    path = tmp_path / "loud.wav"
    soundfile.write(path, np.array([[0.5, -1.0]] * 10), 48_000, subtype="PCM_24")
    left, right = read_recording(path, full_scale_volts=40.0)
    assert (left.channel, right.channel) == ("left", "right")
    assert left.volts[0] == pytest.approx(20.0)
    assert left.clipped_samples == 0
    assert right.clipped_samples == 10


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(at=st.integers(0, 89), value=st.integers(0, 255), length=st.integers(0, 90))
def test_a_damaged_file_is_read_or_refused(tmp_path: Path, at: int, value: int, length: int) -> None:
    damaged = bytearray((FILES / "test-8000Hz-le-3ch-5S-24bit.wav").read_bytes())
    damaged[at] = value
    path = tmp_path / "damaged.wav"
    path.write_bytes(bytes(damaged[:length]))
    frames, said = 0, "."
    try:
        frames = max(len(capture.volts) for capture in read_recording(path))
    except AudioRefused as refused:
        said = str(refused)
    assert frames <= 45
    assert said.endswith(".")
