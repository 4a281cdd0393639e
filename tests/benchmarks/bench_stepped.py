"""25 bench minutes of the whole simulated bench in stepped time, against the bare simulation.

What is measured: meters, links, workers, conductor, run, journal on disk, with the built-in `watch`, two
channels read once a second. The naive way beside it is the simulation alone, stepped over the same time: what
remains of the difference is the price of everything else.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path
from typing import Any

from app.bench.opening import SimulatedChoice, open_simulated
from app.settings import Settings
from drivers.clock import SteppedClock
from drivers.simulated.amplifiers import Amplifiers
from drivers.simulated.units import load_unit
from procedures.library import shipped_procedures

BENCH_S = 1500.0
ROUNDS = 5
LIMIT_S = 2.0  # of processor time; about a second where nothing else runs


def run(seed: int) -> dict[str, Any]:
    """Processor seconds for 25 bench minutes: best and worst of several interleaved rounds."""
    whole: list[float] = []
    bare: list[float] = []
    readings = 0
    for number in range(ROUNDS):
        bare.append(_bare(seed + number))
        seconds, readings = _whole(seed + number)
        whole.append(seconds)
    ratios = sorted(a / b for a, b in zip(whole, bare, strict=True))
    return {
        "bench_minutes": BENCH_S / 60.0,
        "readings": readings,
        "whole bench": {"best_s": min(whole), "worst_s": max(whole), "limit_s": LIMIT_S},
        "simulation alone": {"best_s": min(bare), "worst_s": max(bare)},
        "ratio in the same run": {"median": ratios[ROUNDS // 2], "least": ratios[0], "most": ratios[-1]},
        "times real time": BENCH_S / min(whole),
        "met": min(whole) <= LIMIT_S,
    }


def _whole(seed: int) -> tuple[float, int]:
    with tempfile.TemporaryDirectory() as folder:
        choice = SimulatedChoice("healthy", seed=seed)
        watch = shipped_procedures()["watch"]
        bench = open_simulated(choice, watch, Path(folder), SteppedClock(), Settings())
        began = time.process_time()
        bench.turns().run(lambda: False, BENCH_S)
        bench.leave()
        took = time.process_time() - began
        return took, sum(len(trace.values) for trace in bench.snapshot().traces)


def _bare(seed: int) -> float:
    unit = load_unit("healthy")
    model = Amplifiers(unit.parameters, seed=seed)
    began = time.process_time()
    model.advance(BENCH_S)
    return time.process_time() - began
