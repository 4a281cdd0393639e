"""The window with the real workshop behind it: simulated meters over sockets, real threads, real files."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from app.records.session_folder import list_sessions, open_session
from app.settings import Settings
from app.windows.main_window import MainWindow
from app.workshop import LocalWorkshop
from procedures.replay import compare

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_MS = 30_000


@pytest.fixture
def window(qtbot: QtBot, session_root: Path, tmp_path: Path) -> Iterator[MainWindow]:
    workshop = LocalWorkshop(Settings(), tmp_path / "settings.json", session_root)
    shown = MainWindow(workshop)
    qtbot.addWidget(shown)
    with qtbot.waitExposed(shown):
        shown.show()
    yield shown
    shown.close_at_once()


def _readings(window: MainWindow) -> int:
    working = window.working
    if working is None:
        return 0
    return sum(len(trace.values) for trace in working.bench.picture().traces)


def test_the_simulated_bench_is_drawn_and_its_session_closed_with_the_window(
    qtbot: QtBot, window: MainWindow, session_root: Path
) -> None:
    """One choice on the start screen: readings arrive; closing the window closes the record."""
    window.start.simulated.emit("healthy", "two-channel-bias-trim", 30.0)
    qtbot.waitUntil(lambda: _readings(window) > 20, timeout=PATIENCE_MS)

    window.close_at_once()

    (past,) = list_sessions(session_root)
    journal = open_session(past.folder).journal
    assert journal.closed
    assert compare(journal.header, journal.facts).same


def test_a_typed_value_is_drawn_within_one_action(
    qtbot: QtBot, window: MainWindow, session_root: Path
) -> None:
    """The value that was typed on the start screen is the first reading."""
    window.start.watch_typed.emit(0.0134)
    qtbot.waitUntil(lambda: _readings(window) == 1, timeout=PATIENCE_MS)

    window.close_at_once()

    assert list_sessions(session_root)[0].closed


def test_recording_goes_on_while_the_window_does_nothing(
    qtbot: QtBot, window: MainWindow, session_root: Path
) -> None:
    """The window draws no frame at all, and readings still reach the journal on disk."""
    window.start.simulated.emit("healthy", "watch", 60.0)
    qtbot.waitUntil(lambda: _readings(window) > 0, timeout=PATIENCE_MS)
    window.hide()
    working = window.working
    assert working is not None
    journal = next(session_root.glob("*/journal.jsonl"))
    before = journal.stat().st_size

    working.setEnabled(False)
    qtbot.waitUntil(lambda: journal.stat().st_size > before + 2000, timeout=PATIENCE_MS)


@pytest.mark.skipif(os.name == "nt", reason="needs POSIX signals")
def test_ctrl_c_closes_the_window_cleanly(session_root: Path) -> None:
    """Started as a user does, interrupted from the terminal: exit code 0, nothing on standard error."""
    environment = dict(os.environ, DISPLAY=":77", QT_QPA_PLATFORM="offscreen")
    command = [sys.executable, "-X", "faulthandler", "-c", STARTED, "--folder", str(session_root)]
    pipe = subprocess.PIPE
    with subprocess.Popen(command, cwd=ROOT, env=environment, stdout=pipe, stderr=pipe, text=True) as process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline() == "shown\n"
            process.send_signal(signal.SIGINT)
            _, err = process.communicate(timeout=30.0)
        finally:
            process.kill()

    assert process.returncode == 0, err
    assert "Traceback" not in err


# The program's own entry, with one line printed as soon as the window has been shown.
STARTED = """
import sys
from app.windows import application
from app.main import main

run = application.run_window

def run_and_say(*what, **more):
    more["begin"] = lambda window: print("shown", flush=True)  # and no tour
    return run(*what, **more)

application.run_window = run_and_say
sys.exit(main(sys.argv[1:]))
"""
