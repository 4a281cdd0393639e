"""How early a runaway is called, and how often a healthy unit is called one.

A runaway passes 8 times its target; doubling is when the noise-free reading passes twice the target. Detected
means that *act* or *off* was raised before 8 x; *look* is reported beside. Clean units are the healthy
families; benign ones are under-compensated and rise, but stay below 1.5 times the target. Readings once a
second through a handheld meter; the alarm rules are those of every run, without the forecast (which only ever
raises *look*). Naive: act when the reading is above twice the target.
"""

from __future__ import annotations

import multiprocessing
import os
from typing import Any

import numpy as np
import numpy.typing as npt
from benchmarks import alarmed, bounds, traces
from benchmarks.alarmed import NEVER

from drivers.simulated.parameters import UnitParameters, stacked
from drivers.simulated.physics import Amplifiers, simulate

Floats = npt.NDArray[np.float64]

UNTIL_S = 2700.0
RUNS_AWAY, DOUBLES, BENIGN = 8.0, 2.0, 1.5
LEAD_S = 120.0


def run(seed: int, count: int = 1000) -> dict[str, Any]:
    """All figures for at least `count` fresh traces of each kind."""
    clean = traces.warm_ups(count, seed, duration_s=UNTIL_S)
    found_off = traces.warm_ups(count // 2, seed + 1, duration_s=UNTIL_S, off_target=0.3)
    runaway, run_target = _hot(count, seed + 2, (0.05, 0.7), (0.5, 1.0), lambda top: top > RUNS_AWAY)
    benign, mild_target = _hot(count, seed + 3, (0.5, 0.92), (0.5, 0.95), lambda top: top < BENIGN)
    healthy = {
        "clean": (clean.levels, clean.target),
        "clean, found up to 30 % off": (found_off.levels, found_off.target),
        "benign": (benign, mild_target),
    }
    result: dict[str, Any] = {"runaways": _early(runaway, run_target, traces.HANDHELD, seed)}
    result["runaways, 0.1 mV meter"] = _early(runaway, run_target, traces.POOR, seed, wanted=False)
    result["runaways, one reading in 10 s"] = _early(
        runaway, run_target, traces.HANDHELD, seed, every_s=10, wanted=False
    )
    for name, wanted in (("clean", 0.01), ("clean, found up to 30 % off", 1.0), ("benign", 0.05)):
        levels, target = healthy[name]
        result[name] = _false(levels, target, seed, wanted)
    return result


def _early(
    levels: Floats,
    target: Floats,
    made: traces.Meter,
    seed: int,
    *,
    every_s: int = 1,
    wanted: bool = True,
) -> dict[str, Any]:
    alarms = _alarms(levels, target, made, seed, every_s)
    shape = levels / target
    doubles, gone = _first(shape > DOUBLES), _first(shape > RUNS_AWAY)
    lead = doubles - alarms["act"]
    n = len(target)
    possible = doubles >= LEAD_S + 30.0
    naive = doubles - _held(shape > DOUBLES, 2)
    return {
        "detected before 8 x": bounds.at_least(int((alarms["act"] < gone).sum()), n, 1.0 if wanted else 0.0),
        "2 min before doubling": bounds.at_least(int((lead >= LEAD_S).sum()), n, 0.9 if wanted else 0.0),
        "2 min before doubling, of those that double after 150 s": bounds.at_least(
            int((lead >= LEAD_S)[possible].sum()), int(possible.sum()), 0.0
        ),
        "look or more 2 min before doubling": bounds.at_least(
            int((doubles - alarms["look"] >= LEAD_S).sum()), n, 0.0
        ),
        "lead s, 2-10-50-90 %": _quantiles(lead),
        "lead to 8 x s, 2-10-50-90 %": _quantiles(gone - alarms["act"]),
        "doubles at s, 2-10-50-90 %": _quantiles(doubles),
        "off before 8 x": bounds.at_least(int((alarms["off"] < gone).sum()), n, 0.0),
        "naive, above 2 x: 2 min before doubling": bounds.at_least(int((naive >= LEAD_S).sum()), n, 0.0),
        "naive, above 2 x: lead to 8 x s, 2-10-50-90 %": _quantiles(gone - _held(shape > DOUBLES, 2)),
    }


def _false(levels: Floats, target: Floats, seed: int, wanted: float) -> dict[str, Any]:
    n = len(target)
    found: dict[str, Any] = {}
    for name, made, every_s in (
        ("handheld", traces.HANDHELD, 1),
        ("0.1 mV meter", traces.POOR, 1),
        ("one reading in 10 s", traces.HANDHELD, 10),
    ):
        alarms = _alarms(levels, target, made, seed + 7, every_s)
        limit = wanted if name == "handheld" else 1.0
        found[f"{name}: false act or off"] = bounds.at_most(int((alarms["act"] < NEVER).sum()), n, limit)
        found[f"{name}: look or more"] = bounds.at_most(int((alarms["look"] < NEVER).sum()), n, 1.0)
    shape = levels / target
    found["naive, above 1.5 x for 5 s"] = bounds.at_most(int((_held(shape > 1.5, 5) < NEVER).sum()), n, 1.0)
    return found


def _quantiles(values: Floats) -> list[float]:
    return [round(float(q), 0) for q in np.percentile(np.maximum(values, -9999.0), [2, 10, 50, 90])]


def _first(where: npt.NDArray[np.bool_]) -> Floats:
    """First second at which it holds, shape (n,); infinity for never."""
    return np.where(where.any(axis=0), where.argmax(axis=0).astype(float), NEVER)


def _held(where: npt.NDArray[np.bool_], seconds: int) -> Floats:
    """First second at which it has held for so long."""
    held = where.copy()
    for back in range(1, seconds):
        held[back:] &= where[:-back]
        held[:back] = False
    return _first(held)


# --- the analysis ---------------------------------------------------------------------------------------


def _alarms(levels: Floats, target: Floats, made: traces.Meter, seed: int, every_s: int) -> dict[str, Floats]:
    """When *look or more*, *act or more* and *off* were first raised, each of shape (n,)."""
    rng = np.random.default_rng([seed, 51])
    shown = traces.meter(levels[::every_s], made, rng)
    parts = [
        (shown[:, a : a + 50], target[a : a + 50], made.step, every_s) for a in range(0, shown.shape[1], 50)
    ]
    context = multiprocessing.get_context("spawn")
    with context.Pool(max(1, min(os.cpu_count() or 1, 8))) as pool:
        found = [row for part in pool.map(alarmed.first_alarms, parts, chunksize=1) for row in part]
    return {name: np.array([row[k] for row in found]) for k, name in enumerate(("look", "act", "off"))}


# --- units that lack compensation ------------------------------------------------------------------------


def _hot(
    count: int, seed: int, follows: tuple[float, float], found: tuple[float, float], kept: Any
) -> tuple[Floats, Floats]:
    """Channels whose sensor follows the heatsink too little, with the highest ratio that `kept` accepts.

    `found`: what they show in the first second, of the target. Levels (k, count) and targets (count,).
    """
    rng = np.random.default_rng([seed, 52])
    levels: list[Floats] = []
    targets: list[Floats] = []
    while sum(len(t) for t in targets) < count:
        units, amperes = _drawn(150, follows, rng)
        units = _cold_at(units, amperes * rng.uniform(*found, amperes.shape))
        made = simulate(units, UNTIL_S, seed=[int(rng.integers(2**31)), 5])
        volts = made.reading_volts.reshape(len(made.time_s), -1)
        target = (amperes * units.measured_ohm).reshape(-1)
        good = kept((volts / target).max(axis=0)) & np.all(np.isfinite(volts), axis=0)
        levels.append(volts[:, good])
        targets.append(target[good])
    return np.concatenate(levels, axis=1)[:, :count], np.concatenate(targets)[:count]


def _drawn(n: int, follows: tuple[float, float], rng: np.random.Generator) -> tuple[UnitParameters, Floats]:
    drawn = [traces.random_units(n // 3, family, rng) for family in traces.FAMILIES]
    units, amperes = stacked([d[0] for d in drawn]), np.concatenate([d[1] for d in drawn])
    both = amperes.shape
    less = rng.uniform(0.3, 1.0, len(units))  # a sink that cools less well than it should
    return (
        units.changed(
            sensor_sink_fraction=rng.uniform(*follows, both),
            sensor_s=np.exp(rng.uniform(np.log(25.0), np.log(300.0), both)),
            sink_w_per_k=units.sink_w_per_k * less,
            case_sink_k_per_w=rng.uniform(0.5, 1.6, both),
            fuse_amperes=np.full(len(units), 60.0),
        ),
        amperes,
    )


def _cold_at(units: UnitParameters, amperes: Floats) -> UnitParameters:
    """The units with trimmers, at mid travel, so that `amperes` flow in the first second."""
    quiet = units.changed(mains_sd=0.0, draught_lid_on=0.0)
    model = Amplifiers(quiet)
    model.advance(1.0)
    position = model.wiper_for_amperes(amperes)
    forward = np.where(units.trimmer_reversed > 0.0, 1.0 - position, position)
    lower = units.lower_ohm + units.trimmer_ohm * (1.0 - forward) - 0.5 * units.trimmer_ohm
    return units.changed(lower_ohm=lower, wiper=0.5)
