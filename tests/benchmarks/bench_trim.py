"""How many adjustments a guided technician needs, and how near to the target the channels end.

Units are found at 0.5 to 1.8 times the target (where they would rest). An *adjustment* is one visit to a
trimmer that moved the reading; within a visit the hand moves until the live reading is near what the advice
asks for, and each movement lands with the error of the hand (1 % or 3 % of the reading). Trimmers have play,
a random direction, and one channel in twenty-five cannot reach its target because of an end stop.

What counts is what is left: hands go off at 45 minutes at the latest, and the error is that of the resting
value then, by the definition that holds everywhere: a quarter of an hour ahead (the mean of the minutes 55 to
60, without meter noise). Where the reading stood when the hands went off, and where it would end in hours,
are shown beside it. The naive way sets the reading to the target and looks again every five minutes, with the
same hand, and is judged alike.
"""

from __future__ import annotations

import multiprocessing
import os
from typing import Any

import numpy as np
from benchmarks import bounds, guided_trim

WANTED_VISITS, WANTED_WITHIN = 2.2, 0.95
HANDS = (0.01, 0.03)


def run(seed: int, units: int = 525) -> dict[str, Any]:
    """All figures for `units` fresh two-channel units of a seed, a hand error each."""
    parts = [(seed, part, hand) for hand in HANDS for part in range(-(-units // guided_trim.PART))]
    context = multiprocessing.get_context("spawn")
    with context.Pool(max(1, min(os.cpu_count() or 1, 8))) as pool:
        found = pool.map(guided_trim.part, parts, chunksize=1)
    result: dict[str, Any] = {}
    for hand in HANDS:
        rows = [row for (_, _, h), part in zip(parts, found, strict=True) if h == hand for row in part]
        result[f"hand error {hand * 100:.0f} %"] = _figures(rows)
    return result


def _figures(rows: list[dict[str, Any]]) -> dict[str, Any]:
    alive = [row for row in rows if not row["fuse"]]
    free = [row for row in alive if not row["stuck"]]
    stuck = [row for row in alive if row["stuck"]]
    return {
        "adjustments": _mean([row["visits"] for row in free], WANTED_VISITS),
        "adjustments, distribution": _counts([row["visits"] for row in free]),
        "movements of the hand an adjustment": round(
            sum(row["movements"] for row in free) / max(1, sum(row["visits"] for row in free)), 2
        ),
        "within 2 %": _within(free, "error", 0.02, WANTED_WITHIN),
        "within 5 %": _within(free, "error", 0.05, 0.0),
        "error, median and 90 % and 95 %": _quantiles([abs(row["error"]) for row in free]),
        "moves by less than 2 % after the hands are off": bounds.at_least(
            sum(abs(r["error"] - r["let_go_error"]) <= 0.02 for r in free), len(free), 0.0
        ),
        "within 2 % when the hands go off": _within(free, "let_go_error", 0.02, 0.0),
        "within 2 % in hours": _within(free, "for_ever_error", 0.02, 0.0),
        "last adjustment at, median and 90 % s": _quantiles([row["last_s"] for row in free], (50, 90)),
        "given up though within reach": bounds.at_most(
            sum(bool(r["given_up"]) for r in free), len(free), 0.01
        ),
        "wrong direction said": bounds.at_most(sum(row["wrong_words"] > 0 for row in free), len(free), 0.01),
        "left out: the unit ran away as found": len(rows) - len(alive),
        "end stop recognised": bounds.at_least(sum(bool(r["given_up"]) for r in stuck), len(stuck), 0.9),
        "naive: adjustments": _mean([row["naive_visits"] for row in free], None),
        "naive: within 2 %": _within(free, "naive_error", 0.02, 0.0),
        "naive: error, median and 90 % and 95 %": _quantiles([abs(row["naive_error"]) for row in free]),
    }


def _mean(values: list[int], wanted: float | None) -> dict[str, Any]:
    mean, sd = float(np.mean(values)), float(np.std(values, ddof=1))
    found: dict[str, Any] = {
        "value": round(mean, 3),
        "bound": round(mean + 1.645 * sd / len(values) ** 0.5, 3),
    }
    found["of"] = len(values)
    return found if wanted is None else found | {"wanted": wanted, "met": mean <= wanted}


def _counts(values: list[int]) -> dict[str, float]:
    return {str(n): round(float(np.mean(np.array(values) == n)), 4) for n in range(max(values) + 1)}


def _quantiles(values: list[float], which: tuple[int, ...] = (50, 90, 95)) -> list[float]:
    return [round(float(q), 5) for q in np.percentile(values, which)]


def _within(rows: list[dict[str, Any]], key: str, limit: float, wanted: float) -> dict[str, Any]:
    return dict(bounds.at_least(sum(abs(row[key]) <= limit for row in rows), len(rows), wanted))
