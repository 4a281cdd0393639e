"""The working screen on a day of readings: frames, opening, a window at work, and its start.

Four channels at 10 Hz for 24 hours. A frame is what the program does to show new readings: take the picture,
lay it out, paint what changed. Following, panning and zooming alternate while readings arrive. Beside it the
naive way: every reading of the day handed to the plot library's curves, painted in the same run. Start-up is
measured in processes of their own against importing the two libraries and showing an empty window, in turns.
"""

from __future__ import annotations

import dataclasses
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

ROOT = Path(__file__).resolve().parents[2]
DAY_S, PER_S = 86400, 10
CHANNELS = ("left bias", "right bias", "left offset", "heatsink")
FRAMES = 300
NAIVE_FRAMES = 12
STARTS = 5
EMPTY = (
    "import PySide6.QtWidgets as w, pyqtgraph\n"
    "a = w.QApplication([]); x = w.QWidget(); x.resize(1280, 800); x.show(); a.processEvents()"
)
OURS = (  # the program's own entry, ended as soon as its window has been drawn
    "import os, sys; from app.windows import application as a\n"
    "show = a.show_whole\n"
    "def shown(window):\n"
    "    show(window); a.QApplication.processEvents()\n"
    "    assert window.start.practise_button.isEnabled()  # which it is once the units are listed\n"
    "    os._exit(0)\n"
    "a.show_whole = shown\n"
    "from app.main import main; main(['--folder', sys.argv[1], 'window'])"
)
READY = (  # the same, ended when what a key asks for can be begun
    "import os, sys; from app.windows.main_window import MainWindow as w\n"
    "take = w.take_workshop\n"
    "def taken(window, workshop): take(window, workshop); os._exit(0)\n"
    "w.take_workshop = taken\n"
    "from app.main import main; main(['--folder', sys.argv[1], 'window'])"
)


def run(seed: int, day_s: int = DAY_S) -> dict[str, Any]:
    """All figures."""
    with tempfile.TemporaryDirectory() as folder:
        return {
            **_frames(np.random.default_rng([seed, 5]), day_s),
            **_opening(Path(folder), np.random.default_rng([seed, 6]), day_s),
            **_at_work(Path(folder)),
            **_start(Path(folder)),
        }


def _day(rng: np.random.Generator, count: int) -> tuple[np.ndarray, list[np.ndarray]]:
    at = np.arange(count) / PER_S
    warm = np.exp(-at / 700.0)
    levels = [0.0135 - 0.002 * warm, 0.0133 - 0.0015 * warm, 0.002 + 0.0 * warm, 40.0 - 18.0 * warm]
    noise = (5e-6, 5e-6, 2e-5, 0.02)
    return at, [level + n * rng.standard_normal(count) for level, n in zip(levels, noise, strict=True)]


def _frames(rng: np.random.Generator, day_s: int) -> dict[str, Any]:
    from fake_bench import FakeBench, setup, state, trimming_picture

    from app.bench.snapshot import Trace
    from app.windows.application import make_application
    from app.windows.theme import THEME
    from app.windows.working_screen import WorkingScreen
    from drivers.reading import Unit

    app = make_application(["bench"])
    THEME.apply(app)
    count = day_s * PER_S
    at, values = _day(rng, count + 2 * FRAMES)
    joined = np.ones(len(at), dtype=bool)
    units = (Unit.VOLT, Unit.VOLT, Unit.VOLT, Unit.CELSIUS)
    base = trimming_picture()

    def picture(serial: int) -> Any:
        upto = count + serial
        traces = tuple(
            Trace(name, unit, at[:upto], v[:upto], joined[:upto], np.empty(0))
            for name, unit, v in zip(CHANNELS, units, values, strict=True)
        )
        view = dataclasses.replace(
            base.view, at_s=at[upto - 1], channels=tuple(state(t, 0.0135) for t in traces)
        )
        setups = tuple(setup(name) for name in CHANNELS[:3])
        return dataclasses.replace(base, serial=serial, view=view, traces=traces, setups=setups)

    bench = FakeBench(picture(1))
    screen = WorkingScreen(bench)
    screen.resize(1280, 800)
    screen.show()
    app.processEvents()
    taken: dict[str, list[float]] = {"following": [], "panning": [], "zooming": []}
    for number in range(FRAMES):
        kind = ("following", "panning", "zooming")[number * 3 // FRAMES]
        bench._picture = picture(number + 2)
        began = time.perf_counter()
        if kind == "panning":
            screen.plot.pan(-0.01)
        elif kind == "zooming":
            screen.plot.zoom(0.93 if number % 60 < 40 else 1.2)
        screen.refresh()
        app.processEvents()
        taken[kind].append(1e3 * (time.perf_counter() - began))
    naive = _naive(app, at[:count], [v[:count] for v in values])
    screen.close_down()
    screen.close()
    found: dict[str, Any] = {}
    for kind, times in taken.items():
        worst = float(np.percentile(times, 99))
        found[f"a frame, {kind}, ms"] = {
            "median": round(statistics.median(times), 2),
            "p99": round(worst, 2),
            "wanted": 16.0,
            "met": worst <= 16.0,
        }
    return {**found, "naive: a frame of every reading, ms": {"median": round(naive, 1)}}


def _naive(app: Any, at: np.ndarray, values: list[np.ndarray]) -> float:
    """Every reading of the day in the plot library's curves, the axes as they come."""
    import pyqtgraph as pg

    plot = pg.PlotWidget()
    plot.resize(900, 200)
    curves = [plot.plot() for _ in values]
    plot.show()
    app.processEvents()
    taken = []
    for number in range(NAIVE_FRAMES):
        began = time.perf_counter()
        for curve, one in zip(curves, values, strict=True):
            curve.setData(at[: len(at) - NAIVE_FRAMES + number], one[: len(at) - NAIVE_FRAMES + number])
        app.processEvents()
        taken.append(1e3 * (time.perf_counter() - began))
    plot.close()
    return statistics.median(taken)


def _opening(root: Path, rng: np.random.Generator, day_s: int) -> dict[str, Any]:
    from app.records.column_file import COLUMNS
    from app.records.session_folder import JOURNAL
    from app.workshop import RecordedSessions

    folder = root / "day"
    folder.mkdir()
    header = (ROOT / "sample_sessions" / "healthy-trim" / JOURNAL).read_text(encoding="utf-8").split("\n")[0]
    at, values = _day(rng, day_s * PER_S)
    units = ("V", "V", "V", "degC")
    named = ",".join(f'["{n}","{u}"]' for n, u in zip(CHANNELS, units, strict=True))
    prefix = f'{{"kind":"rows","channels":[{named}],"rows":['
    columns = [v.tolist() for v in values]
    with open(folder / JOURNAL, "w", encoding="utf-8") as file:
        file.write(header + "\n")
        moments = at.tolist()
        for start in range(0, len(moments), 3):
            rows = [
                f"[{c},{moments[i] + 0.0021 * c + 0.0137!r},{columns[c][i]!r},0.02]"
                for i in range(start, min(start + 3, len(moments)))
                for c in range(len(CHANNELS))
            ]
            file.write(prefix + ",".join(rows) + "]}\n")
    shelf = RecordedSessions(root)
    taken = []
    for _ in range(2):
        began = time.perf_counter()
        picture = shelf.open("day").picture()
        taken.append(time.perf_counter() - began)
        assert sum(len(t.values) for t in picture.traces) == len(at) * len(CHANNELS)
    size = (folder / COLUMNS).stat().st_size
    return {
        "opening the day, s": {"value": round(taken[0], 2), "wanted": 10.0, "met": taken[0] <= 10.0},
        "opening it again, s": {"value": round(taken[1], 2), "wanted": 2.0, "met": taken[1] <= 2.0},
        "journal and columns, MB": {
            "journal": round((folder / JOURNAL).stat().st_size / 1e6),
            "columns": round(size / 1e6),
        },
    }


def _at_work(root: Path) -> dict[str, Any]:
    """A window of its own process that records while the day is written to files; see `window_at_work`."""
    command = [sys.executable, str(Path(__file__).with_name("window_at_work.py")), str(root), "day"]
    own = {"XDG_CONFIG_HOME": str(root), "XDG_DATA_HOME": str(root)}
    done = subprocess.run(
        command, cwd=ROOT, env={**os.environ, **own}, check=True, capture_output=True, text=True
    )
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def _start(root: Path) -> dict[str, Any]:
    """Processes of their own, in turns; the settings are those of a first start."""
    taken: dict[str, list[float]] = {EMPTY: [], OURS: [], READY: []}
    own = {"XDG_CONFIG_HOME": str(root), "XDG_DATA_HOME": str(root), "DISPLAY": ":77"}
    for _ in range(STARTS):
        for code, times in taken.items():
            began = time.perf_counter()
            command = [sys.executable, "-c", code, str(root)]
            subprocess.run(command, cwd=ROOT, env={**os.environ, **own}, check=True, capture_output=True)
            times.append(time.perf_counter() - began)
    empty, ours, ready = (statistics.median(times) for times in taken.values())
    return {
        "the window up, s": {
            "ours": round(ours, 2),
            "two libraries and an empty window": round(empty, 2),
            "ratio": round(ours / empty, 2),
            "wanted": 1.3,
            "met": ours / empty <= 1.3,
            "until a key is obeyed": round(ready, 2),
        }
    }
