"""The window as a process: it ends cleanly by itself, on Ctrl+C, and keeps its geometry."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[3]

CODE = """
import os, signal, sys
sys.path.insert(0, "tests")
from fake_workshop import FakeWorkshop
from app.windows.application import run_window

def begin(window):
    window.start.practise_button.click()
    {then}

kept = []
code = run_window(FakeWorkshop(), FakeWorkshop, begin=begin, keep_geometry=kept.append, argv=["warmtrim"])
assert len(kept) == 1 and kept[0], kept
sys.exit(code)
"""


def run(then: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen"}
    command = [sys.executable, "-X", "faulthandler", "-c", CODE.format(then=then)]
    return subprocess.run(
        command, cwd=ROOT, env=environment, timeout=40, check=False, capture_output=True, text=True
    )


def test_ctrl_c_during_a_run_ends_it_cleanly() -> None:
    """Exit code 0, no traceback, the geometry kept."""
    done = run("os.kill(os.getpid(), signal.SIGINT)")
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr


def test_closing_ends_the_program() -> None:
    """Nothing keeps the process alive."""
    done = run("window.close_at_once()")
    assert done.returncode == 0, done.stderr
