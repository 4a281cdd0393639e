"""Whole signal steps of a run through the real PortAudio: an ALSA file stands in for amplifier and cables.

The recorder is fed a tone from a file whatever is played, so every figure follows from that file.
"""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[2]
RATE = 44_100
DIVIDER = 20.0
LEFT, RIGHT = 0.25, 0.24  # peak, of full scale
ALSA = """
pcm.!default {{ type plug slave.pcm both }}
pcm.both {{ type asym
    playback.pcm {{ type file slave.pcm {{ type null }} file "{into}" format "raw" }}
    capture.pcm {{ type file slave.pcm {{ type null }} file "/dev/null" infile "{source}" format "raw" }} }}
"""
PROCEDURE = """
format = 1
id = "two-signals"
title = "Noise and gain"
purpose = "Signal steps alone."
channels = []

[[step]]
id = "signal-path"
kind = "signal path"
title = "How the recorder is connected"

[[step]]
id = "power-on"
kind = "power"
title = "Switch on"
supply = "mains"

[[step]]
id = "noise"
kind = "signal"
title = "Noise"
measure = "noise"

[[step]]
id = "gain"
kind = "signal"
title = "Gain and balance"
measure = "gain"

[[step]]
id = "power-off"
kind = "power"
title = "Switch off"
supply = "off"

[[step]]
id = "summary"
kind = "summary"
title = "Summary"
no_channels = true
"""
# Works at the bench as a person does: reads cautions, presses the one key, takes the first choice.
RUN = """
import json, sys, time
from pathlib import Path
from app.bench.audio.devices import measuring_desk
from app.bench.opening import open_meters
from app.settings import AudioChoice, Settings
from procedures.procedure import load_procedure

root = Path(sys.argv[1])
procedure = load_procedure((root / "procedure.toml").read_text(encoding="utf-8"), "procedure.toml")
audio = AudioChoice(recorder="default", generator="default", rate_hz=44100, output_volts=2.0, divider=20.0)
settings = Settings(audio=audio)
bench = open_meters([], procedure, root / "sessions", settings)
bench.hear(measuring_desk(lambda: settings, bench.conductor, bench.record.folder))
bench.start()
troubles, answered, until = [], "", time.monotonic() + 90.0
while bench.view.ended is None and time.monotonic() < until:
    view, now = bench.view, bench.view.question
    if now is not None and now.id != answered and not now.id.endswith(("/play", "/rest")):
        answered = now.id
        if now.id.endswith("/trouble"):
            troubles.append(now.text)
            bench.answer(now.id, "skip")
        else:
            bench.answer(now.id, now.choices[0].key)
    elif now is None and view.next_fact is not None:
        bench.press_next()
    time.sleep(0.05)
folder = bench.record.folder
verdicts = {v.subject: [v.outcome.value, v.value, v.reason] for v in bench.view.verdicts}
recorded = {r.name: r.value for r in bench.view.recorded}
bench.leave()
print(json.dumps({"verdicts": verdicts, "recorded": recorded, "troubles": troubles,
    "kept": len(list((folder / "attachments").glob("*.flac")))}))
"""


@pytest.fixture
def came(tmp_path: Path) -> dict[str, Any]:
    """What came of the run; skipped where PortAudio does not offer a device of ALSA's."""
    if not sys.platform.startswith("linux"):
        pytest.skip("only ALSA can record from a file")
    pytest.importorskip("sounddevice", exc_type=(ImportError, OSError))
    pytest.importorskip("soundfile", exc_type=(ImportError, OSError))
    source, into, configured = tmp_path / "came.raw", tmp_path / "played.raw", tmp_path / ".asoundrc"
    time = np.arange(60 * RATE) / RATE
    tone = np.sin(2.0 * np.pi * 1000.0 * time)
    np.stack([LEFT * tone, RIGHT * tone], axis=1).astype("<f4").tofile(source)
    configured.write_text(ALSA.format(into=into, source=source), encoding="utf-8")
    (tmp_path / "procedure.toml").write_text(PROCEDURE, encoding="utf-8")
    home = {"HOME": str(tmp_path), "XDG_CONFIG_HOME": str(tmp_path), "ALSA_CONFIG_PATH": str(configured)}
    done = subprocess.run(
        [sys.executable, "-c", RUN, str(tmp_path)],
        cwd=ROOT,
        env=os.environ | home,
        capture_output=True,
        text=True,
        timeout=150.0,
        check=False,
    )
    assert "Traceback" not in done.stderr
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    for trouble in found["troubles"]:
        if "There is no" in trouble or "sound system does not answer" in trouble:
            pytest.skip(f"PortAudio was built without ALSA's own devices: {trouble}")
    return found | {"played": np.fromfile(into, "<f4").reshape(-1, 2)}


def test_steps_are_played_recorded_and_judged(came: dict[str, Any]) -> None:
    assert came["troubles"] == []
    # Closed form: the tone of the file over the 5 mV that the step plays, behind the divider.
    for output, peak in (("left", LEFT), ("right", RIGHT)):
        gain = 20.0 * math.log10(peak * DIVIDER / math.sqrt(2.0) / 0.005)
        assert came["recorded"][f"gain, {output}"] == pytest.approx(gain, abs=0.01)
    outcome, spread, _ = came["verdicts"]["balance of channels"]
    assert (outcome, spread) == ("passed", pytest.approx(20.0 * math.log10(LEFT / RIGHT), abs=0.01))
    # The file plays on while the inputs are "shorted": all of the tone counts as noise.
    assert came["recorded"]["noise, left"] == pytest.approx(LEFT * DIVIDER / math.sqrt(2.0), rel=1e-3)
    assert came["kept"] == 2

    played = came["played"]
    # The file holds the last stretch that was played: that of the gain.
    loud = np.flatnonzero(np.abs(played[:, 0]) > 1e-4)
    # 5 mV rms of a generator that gives 2 V peak at full scale, for 0.7 s, the same on both, then silence.
    assert np.max(np.abs(played)) == pytest.approx(0.005 * math.sqrt(2.0) / 2.0, rel=1e-3)
    assert (loud[-1] - loud[0]) / RATE == pytest.approx(0.7, abs=0.03)
    assert np.array_equal(played[:, 0], played[:, 1])
    assert not played[loud[-1] + 600 :].any()
