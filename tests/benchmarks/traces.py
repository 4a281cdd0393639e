"""Warm-ups to try the analysis on: random amplifiers of the simulated bench, and curves that are not ours.

Every set is drawn from a seed. The families of `warm_ups` are amplifiers of `drivers.simulated.physics`
with wide random parameters, those in CHANGED the same physics outside that range; those of `curves` never
touch our physics: sums of exponentials, stretched exponentials, power laws, random walks. Magnitudes are
engineering judgement. Levels are free of meter noise; `meter` adds a meter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from benchmarks.drawn_units import log_uniform, random_units, resting_at, with_fault
from scipy.signal import lfilter

from drivers.simulated.parameters import UnitParameters, stacked
from drivers.simulated.physics import Action, LidMoved, WiperMoved, simulate

Floats = npt.NDArray[np.float64]

FAMILIES = ("well", "under", "over")
CHANGED = ("small fast sink", "slow big sink", "swinging", "restless", "calm")
CURVES = ("exponentials", "stretched", "power law", "drifting")


@dataclass(frozen=True, slots=True)
class TraceSet:
    """Warm-ups from power-on. time_s (k,), levels (k, n) volts, target (n,) volts, family (n,).

    `events` holds, a trace, the known moments at which somebody did something (lid, trim), seconds.
    """

    time_s: Floats
    levels: Floats
    target: Floats
    family: tuple[str, ...]
    events: tuple[tuple[float, ...], ...]
    resistance: Floats
    emitter: Floats

    def __len__(self) -> int:
        return self.levels.shape[1]

    def pick(self, which: npt.ArrayLike) -> TraceSet:
        """The traces that an index array or mask picks."""
        index = np.flatnonzero(which) if np.asarray(which).dtype == bool else np.asarray(which)
        return TraceSet(
            self.time_s,
            self.levels[:, index],
            self.target[index],
            tuple(self.family[i] for i in index),
            tuple(self.events[i] for i in index),
            self.resistance[index],
            self.emitter[index],
        )


@dataclass(frozen=True, slots=True)
class Meter:
    """A meter: white noise of one reading (volts rms) and the step of its display (volts)."""

    noise: float
    step: float


HANDHELD = Meter(5e-6, 10e-6)
POOR = Meter(5e-6, 0.1e-3)
BENCH = Meter(1e-6, 0.1e-6)


def meter(levels: Floats, made: Meter, rng: np.random.Generator) -> Floats:
    """What a meter shows of `levels` (any shape)."""
    noisy = levels + made.noise * rng.standard_normal(levels.shape)
    return np.round(noisy / made.step) * made.step if made.step > 0.0 else noisy


def joined(sets: Sequence[TraceSet]) -> TraceSet:
    """Several sets as one."""
    return TraceSet(
        sets[0].time_s,
        np.concatenate([s.levels for s in sets], axis=1),
        np.concatenate([s.target for s in sets]),
        tuple(f for s in sets for f in s.family),
        tuple(e for s in sets for e in s.events),
        np.concatenate([s.resistance for s in sets]),
        np.concatenate([s.emitter for s in sets]),
    )


# --- amplifiers -----------------------------------------------------------------------------------------


def warm_ups(
    count: int,
    seed: int,
    *,
    families: Sequence[str] = FAMILIES,
    duration_s: float = 3600.0,
    off_target: float = 0.06,
    fault: str = "",
    handled: str = "",
) -> TraceSet:
    """`count` channels of random units, powered on cold at 0, in equal parts from `families`.

    `off_target` is the greatest distance of the resting reading from the target (fraction, uniform).
    `fault`: "joint" or "scratchy". `handled`: "lid" (off for minutes) or "trim" (one to three moves).
    Units that run away, or swing far above or below where they rest, are drawn again.
    """
    rng = np.random.default_rng([seed, 11])
    sets: list[TraceSet] = []
    while sum(len(s) for s in sets) < count:
        draw = max(24, (count - sum(len(s) for s in sets)) // 2 + 8)
        sets.append(
            _batch(
                draw,
                families,
                rng,
                duration_s=duration_s,
                off_target=off_target,
                fault=fault,
                handled=handled,
            )
        )
    everything = joined(sets)
    return everything.pick(np.arange(count))


def _batch(
    draw: int,
    families: Sequence[str],
    rng: np.random.Generator,
    *,
    duration_s: float,
    off_target: float,
    fault: str,
    handled: str,
) -> TraceSet:
    parts = [random_units(-(-draw // len(families)), f, rng) for f in families]
    units = stacked([p[0] for p in parts])
    names = [f for f in families for _ in range(-(-draw // len(families)))]
    amperes = np.concatenate([p[1] for p in parts])
    order = rng.permutation(len(units))
    units, amperes, names = units.pick(order), amperes[order], [names[i] for i in order]
    target = amperes * units.measured_ohm
    units = resting_at(units, amperes * (1.0 + rng.uniform(-off_target, off_target, amperes.shape)))
    units = with_fault(units, fault, rng)
    actions, events = _handling(units, handled, rng)
    run = simulate(
        units, duration_s, actions=actions, seed=[int(rng.integers(2**31)), 3], every_s=1.0, dt_s=0.1
    )
    levels = run.reading_volts.reshape(len(run.time_s), -1)
    limit = np.where([name == "swinging" for name in names for _ in range(2)], 1.6, 1.3)
    keep = _sane(levels, target.reshape(-1), limit) if not fault else np.all(np.isfinite(levels), axis=0)
    doubled = [name for name in names for _ in range(2)]
    found = TraceSet(
        run.time_s,
        levels,
        target.reshape(-1),
        tuple(doubled),
        tuple(e for e in events for _ in range(2)),
        units.measured_ohm.reshape(-1).copy(),
        units.emitter_ohm.reshape(-1).copy(),
    )
    shuffled = rng.permutation(np.flatnonzero(keep))
    return found.pick(shuffled)


def repeated(count: int, seed: int, duration_s: float = 2700.0) -> tuple[TraceSet, TraceSet]:
    """Two cold warm-ups of the same channels: another trim, ambient, mains and weather the second time."""
    rng = np.random.default_rng([seed, 13])
    first, second = [], []
    while sum(len(s) for s in first) < count:
        draw = max(24, (count - sum(len(s) for s in first)) // 2 + 8)
        parts = [random_units(-(-draw // len(FAMILIES)), family, rng) for family in FAMILIES]
        units, amperes = stacked([p[0] for p in parts]), np.concatenate([p[1] for p in parts])
        names = tuple(f for f in FAMILIES for _ in range(2 * -(-draw // len(FAMILIES))))
        n = len(units)
        before = resting_at(units, amperes * rng.uniform(0.7, 1.35, amperes.shape))
        later = units.changed(
            ambient_c=units.ambient_c + rng.uniform(-3.0, 3.0, n),
            ambient_rise_k=rng.normal(0.0, 0.8, n),
            rail_volts=units.rail_volts * rng.uniform(0.97, 1.03, n),
        )
        after = resting_at(later, amperes * rng.uniform(0.94, 1.06, amperes.shape))
        runs = [simulate(u, duration_s, seed=[int(rng.integers(2**31)), 4]) for u in (before, after)]
        target = (amperes * units.measured_ohm).reshape(-1)
        made = [
            TraceSet(
                run.time_s, run.reading_volts.reshape(len(run.time_s), -1), target, names,
                ((),) * (2 * n), units.measured_ohm.reshape(-1).copy(), units.emitter_ohm.reshape(-1).copy(),
            )
            for run in runs
        ]  # fmt: skip
        keep = np.flatnonzero(_sane(made[0].levels, target, np.full(2 * n, 1.3)))
        keep = keep[_sane(made[1].levels[:, keep], target[keep], np.full(len(keep), 1.3))]
        first.append(made[0].pick(keep))
        second.append(made[1].pick(keep))
    chosen = np.arange(count)
    return joined(first).pick(chosen), joined(second).pick(chosen)


def _sane(levels: Floats, target: Floats, limit: Floats) -> npt.NDArray[np.bool_]:
    """Warm-ups that a technician would call normal: they stay within a factor of where they rest."""
    rest = levels[min(1800, len(levels) - 1)]
    rest = np.where(rest > 0.0, rest, np.nan)  # a blown fuse rests at nothing
    shape = levels[10:] / rest
    fine: npt.NDArray[np.bool_] = (
        np.all(np.isfinite(shape), axis=0)
        & (shape.max(axis=0) < limit)
        & (shape.min(axis=0) > 0.45)
        & (np.abs(rest / target - 1.0) < 0.5)
    )
    return fine


def _handling(
    units: UnitParameters, handled: str, rng: np.random.Generator
) -> tuple[list[Action], list[tuple[float, ...]]]:
    actions: list[Action] = []
    events: list[tuple[float, ...]] = []
    for unit in range(len(units)):
        moments: list[float] = []
        if handled == "lid":
            off_s = rng.uniform(360.0, 1500.0)
            on_s = off_s + rng.uniform(120.0, 420.0)
            actions += [LidMoved(off_s, False, [unit]), LidMoved(on_s, True, [unit])]
            moments = [off_s, on_s]
        elif handled == "trim":
            at_s = rng.uniform(120.0, 500.0)
            for _ in range(int(rng.integers(1, 4))):
                where = np.zeros((len(units), 2), dtype=bool)
                where[unit] = True
                actions.append(WiperMoved(at_s, float(0.5 + rng.normal(0.0, 0.02)), where))
                moments.append(at_s)
                at_s += rng.uniform(180.0, 400.0)
        events.append(tuple(moments))
    return actions, events


# --- curves that no physics of ours made ------------------------------------------------------------------


def curves(
    count: int, seed: int, *, families: Sequence[str] = CURVES, duration_s: float = 3600.0
) -> TraceSet:
    """`count` warm-ups from closed formulas, in equal parts from `families`."""
    rng = np.random.default_rng([seed, 12])
    time_s = np.arange(0.0, duration_s + 0.5)
    levels, names, targets = [], [], []
    for i in range(count):
        family = families[i % len(families)]
        target = float(log_uniform(rng, 4e-3, 40e-3, 1)[0])
        shape = 1.0 + _curve(family, time_s, rng)
        wander = _ornstein_uhlenbeck(time_s, float(log_uniform(rng, 30.0, 500.0, 1)[0]), rng)
        shape = shape + float(log_uniform(rng, 2e-4, 4e-3, 1)[0]) * wander
        at_rest = shape[min(1800, len(shape) - 1)]
        levels.append(target * (1.0 + rng.uniform(-0.06, 0.06)) * shape / at_rest)
        names.append(family)
        targets.append(target)
    return TraceSet(
        time_s,
        np.array(levels).T,
        np.array(targets),
        tuple(names),
        ((),) * count,
        np.full(count, 0.5),
        np.full(count, 0.25),
    )


def _curve(family: str, time_s: Floats, rng: np.random.Generator) -> Floats:
    if family == "stretched":
        return rng.normal(0.0, 0.2) * np.exp(
            -((time_s / log_uniform(rng, 60.0, 900.0, 1)) ** rng.uniform(0.4, 0.95))
        )
    if family == "power law":
        return rng.normal(0.0, 0.25) * (1.0 + time_s / log_uniform(rng, 20.0, 300.0, 1)) ** -rng.uniform(
            0.4, 1.5
        )
    total = np.zeros_like(time_s)
    for _ in range(int(rng.integers(2, 5))):
        total = total + rng.normal(0.0, 0.12) * np.exp(-time_s / log_uniform(rng, 5.0, 1500.0, 1))
    if family == "drifting":
        walk = np.cumsum(rng.standard_normal(time_s.shape)) / np.sqrt(1800.0)
        total = total + float(log_uniform(rng, 0.003, 0.02, 1)[0]) * walk
    return total


def _ornstein_uhlenbeck(time_s: Floats, tau_s: float, rng: np.random.Generator) -> Floats:
    rho = np.exp(-1.0 / tau_s)
    push = np.sqrt(1.0 - rho**2) * rng.standard_normal(time_s.shape)
    push[0] = rng.standard_normal()
    return np.asarray(lfilter([1.0], [1.0, -rho], push))
