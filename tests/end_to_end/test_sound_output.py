"""Sound through the real PortAudio, into a file instead of a loudspeaker; and a program without PortAudio."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from listening import pitch

ROOT = Path(__file__).resolve().parents[2]
RATE = 44100.0  # what ALSA's file output is listed with
ALSA = """
pcm.!default {{ type plug
    slave.pcm {{ type file
        slave.pcm {{ type null }}
        file "{into}"
        format "raw" }} }}
"""


def _program(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "app", *arguments],
        cwd=ROOT,
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        timeout=120.0,
        check=False,
    )


@pytest.fixture
def file_output(tmp_path: Path) -> tuple[Path, str]:
    """A file that the system's sound output writes to, and the configuration that makes it so."""
    if not sys.platform.startswith("linux"):
        pytest.skip("only ALSA can play into a file")
    found = subprocess.run(
        [sys.executable, "-c", "import sounddevice"], capture_output=True, text=True, check=False
    )
    if found.returncode != 0:
        pytest.skip(f"no PortAudio here: {(found.stderr.splitlines() or ['?'])[-1]}")
    into, configured = tmp_path / "played.raw", tmp_path / "asound.conf"
    configured.write_text(ALSA.format(into=into), encoding="utf-8")
    return into, str(configured)


def test_what_is_played_reaches_the_sound_system(file_output: tuple[Path, str]) -> None:
    """`sounds --play inside`: a steady 660 Hz on both loudspeakers alike, nothing clipped."""
    into, configured = file_output
    done = _program("sounds", "--play", "inside", ALSA_CONFIG_PATH=configured)
    if "No sound" in done.stdout:
        pytest.skip(f"PortAudio was built without ALSA's own outputs: {done.stdout.strip()}")

    assert (done.returncode, done.stderr) == (0, "")
    # The file takes samples as they are handed over (float, two channels) and as fast as they are made.
    with into.open("rb") as file:
        played = np.frombuffer(file.read(64_000_000), "<f4")
    left, right = played[: len(played) // 2 * 2].reshape(-1, 2).T
    assert np.array_equal(left, right)
    sounding = np.flatnonzero(np.abs(left) > 0.01)
    heard = left[sounding[0] : sounding[-1]].astype(float)
    assert len(heard) / RATE == pytest.approx(2.5, abs=0.05)
    assert pitch(heard, RATE) == pytest.approx(660.0, abs=1.0)
    assert 0.1 < np.abs(heard).max() <= 1.0


def test_nothing_is_played_on_the_output_that_is_kept_for_measuring(file_output: tuple[Path, str]) -> None:
    """The only output is assigned to measurement: one sentence says so, the device is not opened."""
    into, configured = file_output
    asked = ("sounds", "--play", "off", "--measuring-device", "default")
    done = _program(*asked, ALSA_CONFIG_PATH=configured)

    assert done.returncode == 1
    assert done.stdout == "Muted: the only sound output is assigned to measurement.\n"
    assert not into.exists()


def test_without_portaudio_the_program_says_so_once_and_works(tmp_path: Path, session_root: Path) -> None:
    """A sounddevice that finds no library raises OSError at import; a watch goes on without it."""
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')\n")
    words = "No sound: the library PortAudio is missing (Debian: libportaudio2)."
    path = os.pathsep.join([str(tmp_path), *filter(None, [os.environ.get("PYTHONPATH")])])
    done = _program("--folder", str(session_root), "watch", "simulated", "--minutes", "0.03", PYTHONPATH=path)

    assert done.returncode == 0, done.stderr
    assert done.stdout.count(words) == 1
    assert "Traceback" not in done.stdout + done.stderr
