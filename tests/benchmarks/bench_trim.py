"""How many adjustments a guided technician needs, and how near to the target the channels end.

Units are found at 0.5 to 1.8 times the target (where they would rest). An *adjustment* is one visit to a
trimmer that moved the reading; within a visit the hand moves until the live reading is near what the advice
asks for, and each movement lands with the error of the hand (1 % or 3 % of the reading). Trimmers have play,
a random direction, and one channel in twenty-five cannot reach its target because of an end stop. Errors are
those of the mean of the 45th minute, without meter noise. The naive way sets the reading to the target and
looks again every five minutes, with the same hand.
"""

from __future__ import annotations

import multiprocessing
import os
from typing import Any

import numpy as np
from benchmarks import bounds, traces
from benchmarks.technician import NAMES, Guided, Naive, Trimmer

from drivers.simulated.parameters import UnitParameters, stacked
from drivers.simulated.physics import Amplifiers

UNTIL_S = 2700
PART = 75
STEP_S = 0.2
STUCK_SHARE = 0.04
WANTED_VISITS, WANTED_WITHIN = 2.2, 0.95
HANDS = (0.01, 0.03)


def run(seed: int, units: int = 525) -> dict[str, Any]:
    """All figures for `units` fresh two-channel units of a seed, a hand error each."""
    parts = [(seed, part, hand) for hand in HANDS for part in range(-(-units // PART))]
    context = multiprocessing.get_context("spawn")
    with context.Pool(max(1, min(os.cpu_count() or 1, 8))) as pool:
        found = pool.map(_part, parts, chunksize=1)
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
        "error where it would rest, median and 90 % and 95 %": _quantiles(
            [abs(r["rest_error"]) for r in free]
        ),
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


def _units(seed: int, part: int) -> tuple[UnitParameters, np.ndarray, np.ndarray]:
    """Units as found, their targets in volts and which channels cannot reach them, (n, 2) each."""
    rng = np.random.default_rng([seed, part, 31])
    share = -(-PART // len(traces.FAMILIES))
    drawn = [traces.random_units(share, family, rng) for family in traces.FAMILIES]
    units, amperes = stacked([d[0] for d in drawn]), np.concatenate([d[1] for d in drawn])
    order = rng.permutation(len(units))[:PART]
    units, amperes = units.pick(order), amperes[order]
    found = rng.uniform(0.5, 1.8, amperes.shape)
    stuck = rng.random(amperes.shape) < STUCK_SHARE
    found = np.where(stuck, rng.choice([0.6, 1.6], amperes.shape), found)
    as_found = traces.resting_at(units, amperes * found)
    # At an end stop: move the travel so that the found position is at the end that would be turned past.
    up = (found < 1.0) ^ (units.trimmer_reversed > 0.0)
    at_stop = np.where(up, 0.985, 0.015)
    wiper = np.where(stuck, at_stop, 0.5)
    forward = np.where(units.trimmer_reversed > 0.0, 1.0 - wiper, wiper)
    lower = as_found.lower_ohm + units.trimmer_ohm * (0.5 - (1.0 - forward))
    return as_found.changed(lower_ohm=lower, wiper=wiper), amperes * units.measured_ohm, stuck


def _part(what: tuple[int, int, float]) -> list[dict[str, Any]]:
    seed, part, hand = what
    units, target, stuck = _units(seed, part)
    rng = np.random.default_rng([seed, part, 32])
    chance = [seed, part, 33]
    guided, naive = (Amplifiers(units, seed=chance, dt_s=STEP_S) for _ in range(2))
    trimmer = Trimmer(guided, rng.uniform(0.0, 0.012, target.shape))
    made = traces.HANDHELD
    people = [
        Guided(i, units, target, hand=hand, seed=[seed, part, i, 34], step=made.step)
        for i in range(len(units))
    ]
    plain = Naive(hand, [seed, part, 35], target.shape)
    last = {"guided": np.zeros(target.shape), "naive": np.zeros(target.shape)}
    for second in range(1, UNTIL_S + 1):
        guided.advance(1.0)
        naive.advance(1.0)
        shown = traces.meter(guided.reading_volts, made, rng)
        for person, volts in zip(people, shown.tolist(), strict=True):
            person.read(float(second), 0, volts[0])
            person.read(float(second), 1, volts[1])
            person.act(float(second), guided, trimmer)
        plain.act(second, naive, target, units.measured_ohm)
        if second > UNTIL_S - 60:
            last["guided"] += guided.reading_volts / target / 60.0
            last["naive"] += naive.reading_volts / target / 60.0
    wiper = guided.wiper_for_amperes(target / units.measured_ohm)
    beyond = (wiper < 0.01) | (wiper > 0.99)
    rest = _at_rest(units, guided) / target - 1.0
    return [
        {
            "visits": (outcome := person.outcomes[c]).visits,
            "movements": outcome.movements,
            "wrong_words": outcome.wrong_words,
            "given_up": outcome.given_up,
            "last_s": outcome.last_s,
            "moments": outcome.moments,
            "stuck": bool(stuck[i, c] or beyond[i, c]),
            "fuse": bool(guided.fuse_blown[i] or naive.fuse_blown[i]),
            "error": float(last["guided"][i, c] - 1.0),
            "rest_error": float(rest[i, c]),
            "naive_visits": int(plain.visits[i, c]),
            "naive_error": float(last["naive"][i, c] - 1.0),
        }
        for i, person in enumerate(people)
        for c in range(len(NAMES))
    ]


def _at_rest(units: UnitParameters, model: Amplifiers) -> np.ndarray:
    """Where the readings would rest with the wipers as left, without the wander of mains and draughts."""
    quiet = units.changed(mains_sd=0.0, draught_lid_on=0.0, wiper=model.wiper)
    still = Amplifiers(quiet, dt_s=0.5)
    still.advance(2.0 * 3600.0)
    return np.asarray(still.reading_volts)
