"""What the analysis costs: microseconds a reading, early and after a million readings, and a whole day.

Early and late rounds alternate, so that whatever else the computer does meets both alike; medians are given.
Beside it, the naive way: one straight line fitted over the whole history at every block.
"""

from __future__ import annotations

import contextlib
import copy
import io
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

from app.judge import run_judge
from drivers.meter import MeterAccuracy
from procedures.analysis.channel import ChannelSetup
from procedures.analysis.monitor import Monitor
from procedures.events import ChannelReading, Supply, SupplyChanged

CHANNEL = "left bias"
ROUND = 1000
ROUNDS = 60
DAY_S, PER_S = 86400, 10


def run(seed: int, late: int = 1_000_000, day_s: int = DAY_S) -> dict[str, Any]:
    """All figures; `late` readings count as many."""
    rng = np.random.default_rng([seed, 23])
    young, old = _monitor(), _monitor()
    _feed(young, rng, 0, ROUND)
    for start in range(0, late, 100_000):
        _feed(old, rng, start, min(100_000, late - start))
    early_us, late_us = [], []
    for number in range(ROUNDS):
        early_us.append(_timed(copy.deepcopy(young), rng, ROUND))
        late_us.append(_timed(old, rng, late + number * ROUND))
    early, after = statistics.median(early_us), statistics.median(late_us)
    ratio = after / early
    day = _day(rng, day_s)
    return {
        "a reading at 10^3, us": {"value": round(early, 2), "quartiles": _quartiles(early_us)},
        f"a reading at {late:g}, us": {"value": round(after, 2), "quartiles": _quartiles(late_us)},
        "ratio": {"value": round(ratio, 3), "wanted": 1.3, "met": ratio <= 1.3},
        "a day of 4 channels at 10 Hz, s": {"value": round(day, 1), "wanted": 60.0, "met": day <= 60.0},
        "naive: a line over the whole history, us a block": {
            str(count): round(_line_us(rng, count), 1) for count in (1000, 1_000_000)
        },
    }


def _monitor() -> Monitor:
    setup = ChannelSetup(
        CHANNEL,
        target_volts=13.5e-3,
        low_volts=12.15e-3,
        high_volts=14.85e-3,
        resistance_ohm=0.54,
        emitter_resistor_ohm=0.27,
        accuracy=MeterAccuracy(of_reading=5e-4, resolution=1e-5, counts=3.0),
    )
    monitor = Monitor([setup])
    monitor.feed(SupplyChanged(0.0, Supply.MAINS))
    return monitor


def _facts(rng: np.random.Generator, start: int, count: int) -> list[ChannelReading]:
    at = (np.arange(start, start + count) + 0.5) / PER_S
    levels = 13.6e-3 - 1.5e-3 * np.exp(-at / 240.0) + 5e-6 * rng.standard_normal(count)
    return [
        ChannelReading(t, CHANNEL, v) for t, v in zip(at.tolist(), np.round(levels, 5).tolist(), strict=True)
    ]


def _feed(monitor: Monitor, rng: np.random.Generator, start: int, count: int) -> None:
    for fact in _facts(rng, start, count):
        monitor.feed(fact)


def _timed(monitor: Monitor, rng: np.random.Generator, start: int) -> float:
    facts = _facts(rng, start, ROUND)
    began = time.perf_counter()
    for fact in facts:
        monitor.feed(fact)
    return 1e6 * (time.perf_counter() - began) / ROUND


def _line_us(rng: np.random.Generator, count: int) -> float:
    at, levels = np.arange(count) / PER_S, rng.standard_normal(count)
    taken = []
    for _ in range(9):
        began = time.perf_counter()
        np.polyfit(at, levels, 1)
        taken.append(1e6 * (time.perf_counter() - began))
    return statistics.median(taken)


def _quartiles(values: list[float]) -> list[float]:
    return [round(q, 2) for q in statistics.quantiles(values, n=4)]


def _day(rng: np.random.Generator, day_s: int) -> float:
    """Seconds that `judge` takes for a file of a day."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "day.csv"
        _write_day(path, rng, day_s)
        began = time.perf_counter()
        with contextlib.redirect_stdout(io.StringIO()):
            run_judge([str(path), "--target", "13.5mV", "--json"])
        return time.perf_counter() - began


def _write_day(path: Path, rng: np.random.Generator, day_s: int) -> None:
    count = day_s * PER_S
    at = np.arange(count) / PER_S
    rise = np.exp(-at / 300.0)
    walk = np.repeat(np.cumsum(rng.standard_normal((day_s, 2)), axis=0) * 5e-4, PER_S, axis=0)
    columns = (
        at,
        13.6 - 2.0 * rise + walk[:, 0] + 0.005 * rng.standard_normal(count),
        13.3 - 1.5 * rise + walk[:, 1] + 0.005 * rng.standard_normal(count),
        2.1 + 0.01 * rng.standard_normal(count),
        22.0 + 18.0 * (1.0 - np.exp(-at / 700.0)) + 0.02 * rng.standard_normal(count),
    )
    header = "elapsed [s],left bias [mV],right bias [mV],left offset [mV],heatsink [degC]"
    np.savetxt(
        path, np.column_stack(columns), fmt=["%.1f"] + ["%.2f"] * 4, delimiter=",", header=header, comments=""
    )
