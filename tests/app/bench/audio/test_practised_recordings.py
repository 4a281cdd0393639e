"""Recordings of practice: marked in the file, in what is said of it and in its picture; real ones never."""

from __future__ import annotations

import dataclasses
import shutil
from pathlib import Path

import numpy as np
import pytest

soundfile = pytest.importorskip("soundfile", exc_type=(ImportError, OSError))

from app.bench.audio.recordings import kept, kept_in_practice, lies_in_practice  # noqa: E402
from app.main import main  # noqa: E402
from app.reports.audio_pictures import spectrum_picture  # noqa: E402
from app.reports.curve_picture import write_curves_png  # noqa: E402
from app.reports.trace_picture import PRACTISED  # noqa: E402
from drivers.audio.capture import Capture  # noqa: E402
from drivers.audio.wav_file import PRACTISED as SAID  # noqa: E402
from drivers.audio.wav_file import read_recording  # noqa: E402

RATE = 48_000.0
CAPTURE = Capture(0.5 * np.sin(2 * np.pi * 997 * np.arange(96_000) / RATE), RATE, "left", 1.0, 24)
SAMPLE = Path(__file__).resolve().parents[4] / "sample_sessions" / "healthy-trim"


def _kept_file(folder: Path, digest: str) -> Path:
    return folder / "attachments" / f"{digest}.flac"


def test_what_practice_keeps_says_so_wherever_it_is_copied_to(tmp_path: Path) -> None:
    digest = kept_in_practice(tmp_path)(CAPTURE)
    shutil.copy(_kept_file(tmp_path, digest), tmp_path / "copy.flac")
    (read,) = read_recording(tmp_path / "copy.flac")
    assert read.practice
    # 24 bits: half a step of 2^-23.
    assert np.max(np.abs(read.volts - CAPTURE.volts)) < 2.0**-22


def test_what_a_real_bench_keeps_does_not(tmp_path: Path) -> None:
    digest = kept(tmp_path, CAPTURE)
    (read,) = read_recording(_kept_file(tmp_path, digest))
    assert not read.practice
    assert not lies_in_practice(_kept_file(tmp_path, digest))


def test_a_file_in_the_folder_of_practice_is_of_practice(tmp_path: Path) -> None:
    """Beside its journal, or among what was attached."""
    folder = tmp_path / "session"
    shutil.copytree(SAMPLE, folder)
    assert lies_in_practice(_kept_file(folder, kept(folder, CAPTURE)))
    assert lies_in_practice(folder / "beside.wav")
    assert not lies_in_practice(tmp_path / "elsewhere.wav")


def test_the_picture_of_such_a_file_is_marked(tmp_path: Path) -> None:
    practised = spectrum_picture([dataclasses.replace(CAPTURE, practice=True)])
    real = spectrum_picture([CAPTURE])
    assert (practised.watermark, real.watermark) == (PRACTISED, "")
    for name, picture in (("practised", practised), ("real", real)):
        write_curves_png(tmp_path / name, picture)
    assert (tmp_path / "practised").read_bytes() != (tmp_path / "real").read_bytes()


def test_the_command_says_it_and_marks_the_picture(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pictures = []
    for keep in (kept, lambda folder, one: kept_in_practice(folder)(one)):
        file = _kept_file(tmp_path, keep(tmp_path, CAPTURE))
        pictures.append(tmp_path / f"{len(pictures)}.png")
        assert main(["audio", str(file), "--picture", str(pictures[-1])]) == 0
        assert (SAID in capsys.readouterr().out) is (keep is not kept)
    assert pictures[0].read_bytes() != pictures[1].read_bytes()
