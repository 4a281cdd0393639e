"""A window that records from simulated meters over HiSLIP while a day-long session is written to files.

Run as a process of its own, `window_at_work.py FOLDER KEY`; prints one JSON object. Lateness is how long
after its due time a timer of 10 ms fires in the window's thread. Reading to screen is from the moment at
which the meter's driver has the value to the end of the repaint that shows it. Beside every lateness stands
that of a process which at the same time does nothing but wait: what the computer makes of it by itself.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from PySide6.QtCore import QEvent, QEventLoop, QObject, Qt, QTimer

from app.records.session_folder import open_session
from app.reports.audio_pictures import bias_picture
from app.reports.curve_picture import write_curves_png
from app.reports.session_picture import write_session_png
from app.settings import Settings
from app.windows.application import make_application
from app.windows.main_window import MainWindow
from app.windows.theme import THEME
from app.windows.writing import Writing
from app.workshop import LocalWorkshop
from drivers.scpi.meter import ScpiMeter

BEAT_MS = 10
ALONE_S = 20.0
SETTLING_S = 3.0  # the first second of a bench is imports and first drawings
LONGEST_S = 600.0
ROUNDS = 5
SAMPLE = Path(__file__).resolve().parents[2] / "sample_sessions" / "healthy-trim"
IDLE = """
import time
worst, due = 0.0, time.perf_counter() + 0.01
try:
    while True:
        time.sleep(max(0.0, due - time.perf_counter()))
        now = time.perf_counter()
        worst, due = max(worst, now - due), max(due, now) + 0.01
except KeyboardInterrupt:
    print(1e3 * worst)
"""


class Beats(QObject):
    """How late the beats of the window's thread are, seconds."""

    def __init__(self) -> None:
        super().__init__()
        self.late: list[float] = []
        self._due = 0.0
        self._timer = QTimer(self)
        self._timer.setInterval(BEAT_MS)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._beat)

    def start(self) -> None:
        """Count from now."""
        self.late = []
        self._due = time.perf_counter() + BEAT_MS / 1000.0
        self._timer.start()

    def _beat(self) -> None:
        now = time.perf_counter()
        self.late.append(max(0.0, now - self._due))
        self._due = max(self._due, now) + BEAT_MS / 1000.0

    def told(self, idler: Idler) -> dict[str, float | bool]:
        """Milliseconds; what the one that only waits was late by is the computer's, not the window's."""
        late = 1e3 * np.asarray(self.late)
        worst, alone = float(late.max()), idler.told()
        return {
            "p99": round(float(np.percentile(late, 99)), 1),
            "worst": round(worst, 1),
            "one that only waits, worst": round(alone, 1),
            "wanted": 100.0,
            "met": worst - alone <= 100.0,
        }


class Shown(QObject):
    """From the driver's value to the repaint, for every value that comes."""

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self._window = window
        self._arrived: dict[float, float] = {}
        self._drawn: dict[str, int] = {}
        self._waiting: list[float] = []
        self.taken: list[float] = []
        read = ScpiMeter.read

        def reading(meter: ScpiMeter, deadline: float) -> Any:
            facts = read(meter, deadline)
            for fact in facts:
                if (value := getattr(fact, "value", None)) is not None:
                    self._arrived[value] = time.perf_counter()
            return facts

        ScpiMeter.read = reading  # type: ignore[method-assign]
        window.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        """Look what the picture holds that is about to be painted; it is there when the loop turns again."""
        if event.type() is QEvent.Type.UpdateRequest and self._window.working is not None:
            for trace in self._window.working.bench.picture().traces:
                known = self._drawn.get(trace.channel, 0)
                fresh = [self._arrived.pop(v) for v in trace.values[known:].tolist() if v in self._arrived]
                self._waiting += fresh
                self._drawn[trace.channel] = len(trace.values)
            QTimer.singleShot(0, self, self._painted)
        return False

    def _painted(self) -> None:
        now = time.perf_counter()
        self.taken += [now - arrived for arrived in self._waiting]
        self._waiting = []

    def told(self) -> dict[str, float | int | bool]:
        """Milliseconds."""
        taken = 1e3 * np.asarray(self.taken)
        worst = float(taken.max())
        return {
            "readings": len(taken),
            "median": round(float(np.median(taken)), 1),
            "p99": round(float(np.percentile(taken, 99)), 1),
            "worst": round(worst, 1),
            "wanted": 300.0,
            "met": worst <= 300.0,
        }


class Idler:
    """A process beside this one that waits for 10 ms again and again, and tells how late it was."""

    def __init__(self) -> None:
        self._process = subprocess.Popen([sys.executable, "-c", IDLE], stdout=subprocess.PIPE, text=True)

    def told(self) -> float:
        """The worst, milliseconds; it ends."""
        self._process.send_signal(signal.SIGINT)
        said, _ = self._process.communicate()
        return float(said)


def _turn(seconds: float) -> None:
    loop = QEventLoop()
    QTimer.singleShot(round(1e3 * seconds), loop.quit)
    loop.exec()


def _written(writing: Writing, work: Any) -> tuple[float, str]:
    """Write one file; how long that took and what was said."""
    said: list[str] = []
    writing.said.connect(said.append)
    began = time.perf_counter()
    writing.write("being written", "refused: {reason}", work)
    while writing.busy and time.perf_counter() - began < LONGEST_S:
        _turn(0.1)
    writing.said.disconnect(said.append)
    return time.perf_counter() - began, said[-1] if said else ""


def _traces_drawn(path: Path) -> str:
    session = open_session(SAMPLE)
    for _ in range(10):
        write_session_png(path, session)
    return f"drawn in {path}"


def _curves_drawn(path: Path) -> str:
    for _ in range(10):
        picture = bias_picture(0.22, {"left": 0.024, "right": 0.026}, 0.025, {"left": 0.011, "right": 0.012})
        write_curves_png(path, picture)
    return f"drawn in {path}"


def _opened_and_left(window: MainWindow, workshop: LocalWorkshop) -> dict[str, Any]:
    """How long the window's thread is held by a key that opens a bench, and by one that leaves it."""
    opening, leaving = [], []
    for _ in range(ROUNDS):
        working = window.working
        if working is not None:
            working.bench.stop("Stopped by a person.")
            _turn(0.5)
            began = time.perf_counter()
            window.leave_bench()
            leaving.append(1e3 * (time.perf_counter() - began))
            _turn(0.5)
        began = time.perf_counter()
        window.show_bench(workshop.simulated("healthy", "watch", 1.0))
        opening.append(1e3 * (time.perf_counter() - began))
        _turn(1.0)
    return {
        f"the window's thread while a bench is {name}, ms": {
            "median": round(float(np.median(taken)), 1),
            "worst": round(max(taken), 1),
        }
        for name, taken in (("opened", opening), ("left", leaving))
    }


def main(root: Path, key: str) -> dict[str, Any]:
    """All figures."""
    app = make_application(["bench"])
    THEME.apply(app)
    workshop = LocalWorkshop(Settings(tour_seen=True), root / "settings.json", root)
    window = MainWindow(workshop)
    window.show()
    _turn(0.5)
    bench = workshop.simulated("healthy", "watch", 1.0)
    window.show_bench(bench)
    _turn(SETTLING_S)
    beats, shown = Beats(), Shown(window)
    found: dict[str, Any] = {}
    idler = Idler()
    beats.start()
    _turn(ALONE_S)
    found["lateness while recording, ms"] = beats.told(idler)
    writing = Writing(window)
    shelf = workshop.shelf
    for name, work in (
        ("what is being recorded as CSV", lambda: bench.export_csv(root / "running.csv")),
        ("the day as CSV", lambda: shelf.export_csv(key, root / "day.csv")),
        ("the day's report as PDF", lambda: shelf.report(key, root / "day.pdf")),
        ("the traces of a session as PNG, ten times", lambda: _traces_drawn(root / "traces.png")),
        ("a curve as PNG, ten times", lambda: _curves_drawn(root / "curve.png")),
    ):
        idler = Idler()
        beats.start()
        took, said = _written(writing, work)
        _turn(0.5)
        found[f"lateness while recording, and writing {name}, ms"] = {
            **beats.told(idler),
            "took, s": round(took, 1),
            "said": said.replace(str(root), "…"),
        }
    found["reading to screen, ms"] = shown.told()
    found |= _opened_and_left(window, workshop)
    window.close_at_once()
    return found


if __name__ == "__main__":
    print(json.dumps(main(Path(sys.argv[1]), sys.argv[2])))
    sys.stdout.flush()
    os._exit(0)
