"""The floor of a set-up through the real PortAudio: an ALSA file stands in for both ends of the cable."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[2]
RATE = 44_100
ALSA = """
pcm.!default {{ type plug
    slave.pcm {{ type file
        slave.pcm {{ type null }}
        file "{into}"
        infile "{source}"
        format "raw" }} }}
"""


def _loop_back(folder: Path, configured: Path) -> subprocess.CompletedProcess[str]:
    asked = ("audio", "--loop-back", "--recorder", "default", "--generator", "default", "--rate", str(RATE))
    return subprocess.run(
        [sys.executable, "-m", "app", *asked],
        cwd=ROOT,
        env={**os.environ, "ALSA_CONFIG_PATH": str(configured), "XDG_CONFIG_HOME": str(folder)},
        capture_output=True,
        text=True,
        timeout=120.0,
        check=False,
    )


def test_a_loop_back_is_played_recorded_and_measured(tmp_path: Path) -> None:
    """The recorder is given a 1 kHz tone 3 dB below full scale with 0.1 % of second harmonic."""
    if not sys.platform.startswith("linux"):
        pytest.skip("only ALSA can record from a file")
    pytest.importorskip("sounddevice", exc_type=(ImportError, OSError))
    source, into, configured = tmp_path / "came.raw", tmp_path / "played.raw", tmp_path / "asound.conf"
    time = np.arange(20 * RATE) / RATE
    tone = 10.0 ** (-3.0 / 20.0) * np.sin(2.0 * np.pi * 1000.0 * time)
    tone += 1e-3 * 10.0 ** (-3.0 / 20.0) * np.sin(2.0 * np.pi * 2000.0 * time)
    np.stack([tone, tone], axis=1).astype("<f4").tofile(source)
    configured.write_text(ALSA.format(into=into, source=source), encoding="utf-8")
    done = _loop_back(tmp_path, configured)
    if "There is no" in done.stderr or "sound system does not answer" in done.stderr:
        pytest.skip(f"PortAudio was built without ALSA's own devices: {done.stderr.strip()}")

    assert "Traceback" not in done.stderr
    assert done.returncode == 0, done.stderr
    tones = re.findall(r"tone\s+(\S+) Hz", done.stdout)
    assert float(tones[0]) == pytest.approx(1000.0, abs=0.1)
    assert "(-60.0 dB)" in done.stdout
    assert into.stat().st_size > 0
