"""Lots of units found off their targets, trimmed by a guided technician and by a naive one."""

from __future__ import annotations

from typing import Any

import numpy as np
from benchmarks import traces
from benchmarks.technician import NAMES, Guided, Naive, Trimmer

from drivers.simulated.parameters import UnitParameters, stacked
from drivers.simulated.physics import Amplifiers

HANDS_OFF_S = 2700
RESTS_S = HANDS_OFF_S + 900  # the resting value, as everywhere: a quarter of an hour ahead
SEEN_FOR_S = 300  # averaged, so that a gust or the mains of a moment does not count
PART = 75
STEP_S = 0.2
STUCK_SHARE = 0.04


def found_units(seed: int, number: int) -> tuple[UnitParameters, np.ndarray, np.ndarray]:
    """Units as found, their targets in volts and which channels cannot reach them, (n, 2) each."""
    rng = np.random.default_rng([seed, number, 31])
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


def part(what: tuple[int, int, float]) -> list[dict[str, Any]]:
    """One lot of units, guided and naive, hands on to the 45th minute and off to the 60th: a row a channel.

    `what` is the seed, the number of the lot and the error of the hand.
    """
    seed, number, hand = what
    units, target, stuck = found_units(seed, number)
    rng = np.random.default_rng([seed, number, 32])
    chance = [seed, number, 33]
    guided, naive = (Amplifiers(units, seed=chance, dt_s=STEP_S) for _ in range(2))
    trimmer = Trimmer(guided, rng.uniform(0.0, 0.012, target.shape))
    made = traces.HANDHELD
    people = [
        Guided(i, units, target, hand=hand, seed=[seed, number, i, 34], step=made.step)
        for i in range(len(units))
    ]
    plain = Naive(hand, [seed, number, 35], target.shape)
    for second in range(1, HANDS_OFF_S + 1):
        guided.advance(1.0)
        naive.advance(1.0)
        shown = traces.meter(guided.reading_volts, made, rng)
        for person, volts in zip(people, shown.tolist(), strict=True):
            person.read(float(second), 0, volts[0])
            person.read(float(second), 1, volts[1])
            person.act(float(second), guided, trimmer)
        plain.act(second, naive, target, units.measured_ohm)
    let_go, rests = _left_alone(guided, target)
    _, naive_rests = _left_alone(naive, target)
    wiper = guided.wiper_for_amperes(target / units.measured_ohm)
    beyond = (wiper < 0.01) | (wiper > 0.99)
    for_ever = _for_ever(units, guided) / target - 1.0
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
            "error": float(rests[i, c]),
            "let_go_error": float(let_go[i, c]),
            "for_ever_error": float(for_ever[i, c]),
            "naive_visits": int(plain.visits[i, c]),
            "naive_error": float(naive_rests[i, c]),
        }
        for i, person in enumerate(people)
        for c in range(len(NAMES))
    ]


def _left_alone(model: Amplifiers, target: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How far off the readings are when the hands go off, and where they rest, as fractions of the target."""
    let_go = model.reading_volts / target - 1.0
    model.advance(float(RESTS_S - SEEN_FOR_S - HANDS_OFF_S))
    total = np.zeros(target.shape)
    for _ in range(SEEN_FOR_S):
        model.advance(1.0)
        total += model.reading_volts / target
    return let_go, total / SEEN_FOR_S - 1.0


def _for_ever(units: UnitParameters, model: Amplifiers) -> np.ndarray:
    """Where the readings would end in hours, without the wander of mains and draughts."""
    quiet = units.changed(mains_sd=0.0, draught_lid_on=0.0, wiper=model.wiper)
    still = Amplifiers(quiet, dt_s=0.5)
    still.advance(2.0 * 3600.0)
    return np.asarray(still.reading_volts)
