"""How good the forecast of the resting value is, and whether its 95 % interval keeps its promise.

The truth is the noise-free level 30 minutes after power-on, or 15 minutes ahead when that is later. "Changed"
are generators that no constant was chosen on. Beside it, on the same readings: the last reading as the
forecast, and the usual single-exponential fit with the interval that its covariance claims.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from benchmarks import bounds, traces, watched
from benchmarks.traces import HANDHELD, TraceSet
from benchmarks.watched import Floats

MINUTES = (3, 5, 7, 10, 12, 15, 20, 25)
REST_S, AHEAD_S = 1800, 900
_TAUS_S = np.geomspace(20.0, 6000.0, 60)


def run(seed: int, count: int = 1000) -> dict[str, Any]:
    """All figures for fresh traces of a seed."""
    clean = traces.warm_ups(count, seed, duration_s=2700.0)
    fast_and_slow = traces.warm_ups(
        count, seed + 1, families=("small fast sink", "slow big sink"), duration_s=2700.0
    )
    foreign = traces.joined(
        [traces.curves(count // 2, seed + 2, duration_s=2700.0)]
        + [
            traces.warm_ups(count // 6, seed + 3, families=(f,), duration_s=2700.0)
            for f in traces.CHANGED[2:]
        ]
    )
    before, after = traces.repeated(count, seed + 4)
    groups = (clean, fast_and_slow, foreign, after)
    rng = np.random.default_rng([seed, 22])
    seen = [traces.meter(group.levels, HANDHELD, rng) for group in groups]
    moments = tuple(60.0 * minute for minute in MINUTES)
    remembered = _remembered(before, traces.meter(before.levels, HANDHELD, rng))
    jobs = [
        watched.job_of(
            group, readings, HANDHELD.step, at_s=moments, remembered=remembered if group is after else ()
        )
        for group, readings in zip(groups, seen, strict=True)
    ]
    said = [np.array(one) for one in watched.on_all_processors(watched.forecasts, jobs)]
    found: dict[str, Any] = {}
    for name, group, readings, told, least in zip(
        ("clean", "small fast and slow big sinks", "curves, restless, calm, swinging", "remembered warm-up"),
        groups,
        seen,
        said,
        (0.93, 0.90, 0.90, 0.93),
        strict=True,
    ):
        found[name] = _figures(group, readings, told, least, early=name.startswith("remembered"))
    _add_wanted(found, said)
    return found


def _remembered(
    before: TraceSet, readings: Floats
) -> tuple[tuple[tuple[float, ...], tuple[float, ...]], ...]:
    """What a record keeps of an earlier warm-up: a level every ten seconds."""
    rows = (len(readings) - 1) // 10
    levels = readings[: rows * 10].reshape(rows, 10, -1).mean(axis=1)
    elapsed = tuple(float(t) for t in np.arange(rows) * 10.0 + 4.5)
    return tuple((elapsed, tuple(levels[:, column].tolist())) for column in range(len(before)))


def _figures(group: TraceSet, readings: Floats, told: Floats, least: float, *, early: bool) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for place, minute in enumerate(MINUTES):
        truth = group.levels[max(REST_S, 60 * minute + AHEAD_S)]
        mean, low, high, spoken = (told[:, place, k] for k in (1, 2, 3, 4))
        covered = (low <= truth) & (truth <= high)
        wanted = least if minute >= 5 or early else 0.0
        half = 50.0 * (high - low) / np.abs(mean)
        error = 100.0 * np.abs(mean - truth) / truth
        says = spoken > 0.5
        found[f"{minute} min"] = {
            "covered": bounds.at_least(int(covered.sum()), len(truth), wanted),
            "covered when spoken": bounds.at_least(int((covered & says).sum()), int(says.sum()), 0.0),
            "spoken": round(float(says.mean()), 3),
            "half width % (25-50-75 %)": _quarters(half),
            "error % (50-90-95 %)": _quarters(error, (50, 90, 95)),
            "last reading, error % (50-90-95 %)": _quarters(
                100.0 * np.abs(readings[60 * minute] - truth) / truth, (50, 90, 95)
            ),
        }
        if minute in (5, 12, 20):
            found[f"{minute} min"]["single exponential fit"] = _fitted(readings, truth, 60 * minute)
    return found


def _add_wanted(found: dict[str, Any], said: list[Floats]) -> None:
    def within(told: Floats, minute: int, limit: float) -> int:
        place = MINUTES.index(minute)
        mean, low, high = (told[:, place, k] for k in (1, 2, 3))
        says = told[:, place, 4] > 0.5
        return int((says & (0.5 * (high - low) <= limit * np.abs(mean))).sum())

    clean, again = said[0], said[3]
    found["clean"]["+-5 % spoken by 12 min"] = bounds.at_least(within(clean, 12, 0.05), len(clean), 0.60)
    found["clean"]["+-2 % spoken by 20 min"] = bounds.at_least(within(clean, 20, 0.02), len(clean), 0.50)
    found["remembered warm-up"]["+-5 % spoken by 3 min"] = bounds.at_least(
        within(again, 3, 0.05), len(again), 0.80
    )


def _fitted(readings: Floats, truth: Floats, until_s: int) -> dict[str, Any]:
    """Offset plus one exponential by least squares, its interval from the covariance as fitters print it."""
    rows = until_s // 5
    levels = readings[10 : 10 + (rows - 2) * 5].reshape(rows - 2, 5, -1).mean(axis=1)
    at = 12.0 + 5.0 * np.arange(rows - 2)
    lead = float(max(REST_S, until_s + AHEAD_S))
    best = np.full(levels.shape[1], np.inf)
    covered = np.zeros(levels.shape[1], dtype=bool)
    error = np.zeros(levels.shape[1])
    for tau in _TAUS_S:
        decay = np.exp(-at / tau)
        basis = np.stack([np.ones_like(at), decay], axis=1)
        found, *_ = np.linalg.lstsq(basis, levels, rcond=None)
        rest = ((levels - basis @ found) ** 2).sum(axis=0)
        better = rest < best
        if not better.any():
            continue
        bend = found[1] * 1.0
        slope = decay * at / tau**2
        ahead = np.exp(-lead / tau)
        guess = found[0] + found[1] * ahead
        for column in np.flatnonzero(better):
            jacobian = np.column_stack([basis, bend[column] * slope])
            view = np.array([1.0, ahead, bend[column] * ahead * lead / tau**2])
            normal = jacobian.T @ jacobian + 1e-18 * np.eye(3)
            sd = np.sqrt(abs(view @ np.linalg.solve(normal, view)) * rest[column] / (len(at) - 3))
            covered[column] = abs(guess[column] - truth[column]) <= 1.96 * sd
            error[column] = 100.0 * abs(guess[column] - truth[column]) / truth[column]
        best = np.where(better, rest, best)
    return {
        "covered": round(float(covered.mean()), 3),
        "error % (50-90-95 %)": _quarters(error, (50, 90, 95)),
    }


def _quarters(values: Floats, at: tuple[int, ...] = (25, 50, 75)) -> list[float]:
    return [round(float(q), 2) for q in np.nanpercentile(values, at)]
