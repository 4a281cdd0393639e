"""Simulated runs with actions planned ahead: what benchmarks and regenerated samples need.

Here: `simulate` and its actions; `Amplifiers` is offered from here too. Not here: the model itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from drivers.simulated.amplifiers import STEP_S, Amplifiers, Where
from drivers.simulated.parameters import Floats, UnitParameters

__all__ = [
    "STEP_S",
    "Action",
    "Amplifiers",
    "LidMoved",
    "MainsSet",
    "Traces",
    "WiperMoved",
    "simulate",
]


@dataclass(frozen=True, slots=True)
class WiperMoved:
    """At `at_s` the wipers picked by `where` (mask or index into (n, 2)) go to `wiper`."""

    at_s: float
    wiper: npt.ArrayLike
    where: Where = None


@dataclass(frozen=True, slots=True)
class LidMoved:
    """At `at_s` the lids picked by `where` (mask or index into (n,)) go on or come off."""

    at_s: float
    on: npt.ArrayLike
    where: Where = None


@dataclass(frozen=True, slots=True)
class MainsSet:
    """At `at_s` the mains of the units picked by `where` becomes `fraction` of nominal."""

    at_s: float
    fraction: npt.ArrayLike
    where: Where = None


Action = WiperMoved | LidMoved | MainsSet


@dataclass(frozen=True, slots=True)
class Traces:
    """A recorded run, free of meter noise. time_s (k,); the others (k, n, 2), sink_c and rail (k, n)."""

    time_s: Floats
    amperes: Floats
    reading_volts: Floats
    sink_c: Floats
    rail: Floats


def simulate(
    units: UnitParameters,
    duration_s: float,
    *,
    actions: Sequence[Action] = (),
    seed: int | Sequence[int] = 0,
    every_s: float = 1.0,
    dt_s: float = STEP_S,
) -> Traces:
    """Power the units on from cold at time 0 and record them every `every_s`, first at 0, last at the end.

    Actions take effect at the step nearest to their time, before that moment is recorded.
    """
    model = Amplifiers(units, seed=seed, dt_s=dt_s)
    stride = max(1, round(every_s / dt_s))
    steps = round(duration_s / dt_s)
    rows = steps // stride + 1
    n = len(units)
    per_channel = (rows, n, 2)
    traces = Traces(
        np.empty(rows), np.empty(per_channel), np.empty(per_channel), np.empty((rows, n)), np.empty((rows, n))
    )
    waiting = sorted(actions, key=lambda action: action.at_s, reverse=True)
    for step in range(steps + 1):
        while waiting and round(waiting[-1].at_s / dt_s) <= step:
            _carry_out(model, waiting.pop())
        if step % stride == 0:
            row = step // stride
            traces.time_s[row] = model.time_s
            traces.amperes[row] = model.amperes
            traces.reading_volts[row] = model.reading_volts
            traces.sink_c[row] = model.sink_c
            traces.rail[row] = model.rail
        if step < steps:
            model.step()
    return traces


def _carry_out(model: Amplifiers, action: Action) -> None:
    if isinstance(action, WiperMoved):
        model.set_wiper(action.wiper, action.where)
    elif isinstance(action, LidMoved):
        model.set_lid(action.on, action.where)
    else:
        model.set_mains(action.fraction, action.where)
