"""The program as a user starts it in a terminal: real processes, real sockets, real time."""

from __future__ import annotations

import csv
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from served_meters import served_meter

from app.records.session_folder import JOURNAL, list_sessions, open_session
from procedures.events import ChannelReading, Outcome, Verdict
from procedures.replay import compare

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 240.0


def _command(*arguments: str) -> list[str]:
    return [sys.executable, "-m", "app", *arguments]


def _environment() -> dict[str, str]:
    return {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")}


def _run(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        _command(*arguments),
        cwd=ROOT,
        env=_environment(),
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )


def _wait_for(found: object, what: str) -> None:
    assert callable(found)
    give_up = time.monotonic() + 60.0
    while not found():
        assert time.monotonic() < give_up, f"waited too long for {what}"
        time.sleep(0.05)


def test_without_a_display_the_whole_job_is_done_over_hislip(session_root: Path) -> None:
    """One command: says that there is no display, trims both channels through PyVISA, names its files."""
    done = _run("--folder", str(session_root))

    assert done.returncode == 0, done.stdout + done.stderr
    assert "There is no display" in done.stdout
    assert "Fenrow,6120" in done.stdout  # the meters were identified over the wire
    (past,) = list_sessions(session_root)
    journal = open_session(past.folder).journal
    assert journal.closed
    assert compare(journal.header, journal.facts).same
    verdicts = {fact.channel: fact.outcome for fact in journal.facts if isinstance(fact, Verdict)}
    assert verdicts[None] is Outcome.PASSED
    for name in ("readings.csv", "traces.png"):
        assert str(past.folder / name) in done.stdout
        assert (past.folder / name).stat().st_size > 1000
    with open(past.folder / "readings.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len([row for row in rows if row["left bias [mV]"]]) > 1000


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs a signal that cannot be caught")
def test_a_killed_program_loses_at_most_one_second(session_root: Path) -> None:
    """Killed in the middle of recording at ten times life: the record reaches to the last second."""
    speed = 10.0
    command = _command(
        "--folder", str(session_root), "practice", "--procedure", "watch", "--speed", str(speed)
    )
    with subprocess.Popen(command, cwd=ROOT, env=_environment(), stdout=subprocess.DEVNULL) as process:
        try:
            _wait_for(lambda: _batches(session_root) >= 20, "readings")
        finally:
            process.kill()
            killed = time.time()
    (past,) = list_sessions(session_root)
    assert not past.closed
    session = open_session(past.folder)
    last = max(fact.at_s for fact in session.journal.facts if isinstance(fact, ChannelReading))

    began = (past.folder / "attachments").stat().st_mtime
    assert killed - (began + last / speed) < 1.0
    listed = _run("--folder", str(session_root), "sessions").stdout
    assert "not closed" in " ".join(listed.split())


def _batches(root: Path) -> int:
    """How many batches of readings the journals hold."""
    return sum(path.read_bytes().count(b'"kind":"rows"') for path in root.glob(f"*/{JOURNAL}"))


def test_watch_records_a_meter_at_an_address(session_root: Path) -> None:
    """No questions: an address is enough for readings, a CSV and a picture."""
    with served_meter() as address:
        words = ("watch", address, "--channel", "heatsink", "--minutes", "0.1", "--isolated")
        done = _run("--folder", str(session_root), *words)

    assert done.returncode == 0, done.stdout + done.stderr
    (past,) = list_sessions(session_root)
    readings = [f for f in open_session(past.folder).journal.facts if isinstance(f, ChannelReading)]
    assert len(readings) >= 3
    assert {reading.channel for reading in readings} == {"heatsink"}


def test_a_port_where_nobody_answers_is_said_and_the_session_is_kept(session_root: Path) -> None:
    """The meter's state is told in words; nothing is lost and nothing is invented."""
    address = "TCPIP::127.0.0.1::1::SOCKET"
    done = _run("--folder", str(session_root), "watch", address, "--minutes", "0.05", "--isolated")

    assert done.returncode == 0
    assert address in done.stdout
    assert "Traceback" not in done.stdout + done.stderr
    (past,) = list_sessions(session_root)
    assert past.closed
    facts = open_session(past.folder).journal.facts
    assert not [fact for fact in facts if isinstance(fact, ChannelReading)]


def test_ctrl_c_ends_a_watch_with_a_closed_session(session_root: Path) -> None:
    """Interrupted from the keyboard: exit code 0, everything written and closed."""
    with served_meter() as address:
        command = _command("--folder", str(session_root), "watch", address, "--isolated")
        pipe = subprocess.PIPE
        with subprocess.Popen(command, cwd=ROOT, env=_environment(), stdout=pipe, text=True) as process:
            try:
                _wait_for(lambda: _batches(session_root) >= 5, "readings")
                process.send_signal(signal.SIGINT)
                out, _ = process.communicate(timeout=60.0)
            finally:
                process.kill()

    assert process.returncode == 0
    assert "readings.csv" in out
    (past,) = list_sessions(session_root)
    assert past.closed
