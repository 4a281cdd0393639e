"""Random amplifiers for the statistics of the benchmarks: several kinds, every draw decided by its seed.

Ranges are engineering judgement; no record of a real amplifier stands behind them. What a benchmark finds
holds for these populations only. 25 mA through two 0.27 ohm (13.5 mV) is every unit's target.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

import numpy as np
import numpy.typing as npt

from drivers.simulated.parameters import UnitParameters, parameters
from drivers.simulated.physics import Amplifiers

Floats = npt.NDArray[np.float64]
Generator = np.random.Generator

TARGET_AMPERES: Final = 0.025
TARGET_VOLTS: Final = TARGET_AMPERES * 0.54
_COARSE_S: Final = 0.5  # step for finding wipers; a per cent does not matter there


def draw_units(
    kind: str, n: int, seed: int, rest_of_target: tuple[float, float] = (0.97, 1.03)
) -> UnitParameters:
    """Draw `n` units of a kind, trimmed so that they would show `rest_of_target` x target at 30 minutes.

    Kinds: "clean" (well, under- and over-compensated units with mains and draught wander), "calm" (the same
    without wander), "small sinks" and "big sinks" (other heatsinks, same otherwise), "changed" (other heat
    paths and other noise), "scratchy", "joint" (faults on top of clean), "runaway" (compensation nearly
    absent, sink poorly coupled: most run away). The fraction of the target is drawn evenly per channel; for
    "runaway" it applies to the first second instead, because there is no rest.
    """
    random = np.random.default_rng([seed, sorted(KINDS).index(kind)])
    units = parameters(n, **KINDS[kind](random, n))
    low, high = rest_of_target
    wanted = TARGET_AMPERES * random.uniform(low, high, (n, 2))
    return found_at(units, wanted, 1.0 if kind == "runaway" else 1800.0)


def found_at(units: UnitParameters, amperes: Floats, at_s: float) -> UnitParameters:
    """The units with wipers at which `amperes` (n, 2) flow at `at_s` after power-on, without wander.

    A wiper that would have to go beyond its travel stays at the end stop.
    """
    still = units.changed(mains_sd=0.0, draught_lid_on=0.0, draught_lid_off=0.0, joint_volts=0.0)
    still = still.changed(wiper_step=0.0, wiper_crackle=0.0, fuse_amperes=np.inf)
    wiper = np.clip(Amplifiers(still).wiper_for_amperes(amperes * 0.8), 0.0, 1.0)
    for _ in range(4):
        model = Amplifiers(still.changed(wiper=wiper), dt_s=_COARSE_S)
        model.advance(at_s)
        # In the z domain the step is exact but for the warming it brings with it; that converges quickly.
        wiper = np.clip(wiper + 0.9 * (model.wiper_for_amperes(amperes) - wiper), 0.0, 1.0)
    return units.changed(wiper=wiper)


def _clean(random: Generator, n: int) -> dict[str, Floats]:
    fit = random.choice(3, n, p=(0.5, 0.3, 0.2))  # well, under, over
    kappa = np.choose(
        fit, (random.normal(1.02, 0.025, n), random.uniform(0.7, 0.92, n), random.uniform(1.05, 1.25, n))
    )
    on_sink = np.choose(
        fit, (random.normal(0.88, 0.04, n), random.normal(0.88, 0.04, n), random.uniform(0.5, 0.75, n))
    )

    def spread(value: float, sd: float) -> Floats:
        return value * np.exp(random.normal(0.0, sd, n))

    def parts(value: Floats | float, sd: float = 0.04) -> Floats:
        each: Floats = np.reshape(value, (-1, 1)) * np.exp(random.normal(0.0, sd, (n, 2)))
        return each

    return {
        "rail_volts": random.uniform(30.0, 58.0, n),
        "supply_ohm": random.uniform(0.15, 0.6, n),
        "sink_j_per_k": spread(520.0, 0.35),
        "sink_w_per_k": spread(0.75, 0.25),
        "sink_box_w_per_k": spread(0.22, 0.3),
        "box_j_per_k": spread(620.0, 0.3),
        "box_heat_watts": random.uniform(2.0, 8.0, n),
        "ambient_c": random.uniform(17.0, 28.0, n),
        "ambient_rise_k": random.normal(0.0, 0.8, n),
        "mains_sd": spread(0.003, 0.5),
        "draught_lid_on": spread(0.02, 0.5),
        "draught_lid_off": spread(0.10, 0.5),
        "sensor_sink_fraction": kappa[:, None] + random.normal(0.0, 0.01, (n, 2)),
        "sensor_case_fraction": random.uniform(0.0, 0.25, (n, 1)) + random.uniform(0.0, 0.05, (n, 2)),
        "sensor_s": parts(random.uniform(20.0, 80.0, n)),
        "driver_sink_fraction": np.clip(on_sink, 0.3, 1.0)[:, None] + random.normal(0.0, 0.01, (n, 2)),
        "driver_k_per_w": parts(random.uniform(5.0, 14.0, n)),
        "driver_watts": parts(random.uniform(0.2, 0.5, n)),
        "driver_s": parts(random.uniform(25.0, 80.0, n)),
        "junction_j_per_k": parts(random.uniform(0.05, 0.14, n)),
        "junction_case_k_per_w": parts(random.uniform(0.7, 1.6, n)),
        "case_j_per_k": parts(random.uniform(4.0, 9.0, n)),
        "case_sink_k_per_w": parts(random.uniform(0.4, 1.0, n)),
        "fixed_volts": parts(random.normal(0.0, 0.05, n), 0.0),
        "rail_gain_volts": parts(random.uniform(0.0, 0.08, n)),
        "offset_volts": random.normal(0.0, 0.008, (n, 2)),
    }


def _calm(random: Generator, n: int) -> dict[str, Floats]:
    still = np.zeros(n)
    return _clean(random, n) | {"mains_sd": still, "draught_lid_on": still, "draught_lid_off": still}


def _small_sinks(random: Generator, n: int) -> dict[str, Floats]:
    return _clean(random, n) | {"sink_j_per_k": random.uniform(80.0, 200.0, n)}


def _big_sinks(random: Generator, n: int) -> dict[str, Floats]:
    return _clean(random, n) | {"sink_j_per_k": random.uniform(1200.0, 2500.0, n)}


def _changed(random: Generator, n: int) -> dict[str, Floats]:
    return _clean(random, n) | {
        "sensor_s": random.uniform(60.0, 160.0, (n, 2)),
        "driver_s": random.uniform(80.0, 160.0, (n, 2)),
        "lid_on_w_per_k": random.uniform(0.25, 1.2, n),
        "mains_sd": random.uniform(0.003, 0.009, n),
        "mains_correlation_s": random.uniform(30.0, 500.0, n),
        "ambient_rise_k": random.normal(0.0, 2.0, n),
    }


def _one_channel(random: Generator, n: int, value: Floats) -> Floats:
    chosen = np.zeros((n, 2))
    chosen[np.arange(n), random.integers(0, 2, n)] = value
    return chosen


def _scratchy(random: Generator, n: int) -> dict[str, Floats]:
    return _clean(random, n) | {
        "wiper_step": _one_channel(random, n, random.uniform(0.01, 0.05, n)),
        "wiper_crackle": _one_channel(random, n, random.uniform(0.0005, 0.004, n)),
        "wiper_step_s": random.uniform(20.0, 120.0, (n, 2)),
    }


def _joint(random: Generator, n: int) -> dict[str, Floats]:
    return _clean(random, n) | {
        "joint_volts": _one_channel(
            random, n, random.choice((-1.0, 1.0), n) * random.uniform(0.002, 0.012, n)
        ),
        "joint_good_s": random.uniform(100.0, 500.0, (n, 2)),
        "joint_bad_s": random.uniform(20.0, 200.0, (n, 2)),
    }


def _runaway(random: Generator, n: int) -> dict[str, Floats]:
    return _clean(random, n) | {
        "rail_volts": random.uniform(45.0, 65.0, n),
        "emitter_ohm": np.full((n, 2), 0.22),
        "measured_ohm": np.full((n, 2), 0.44),
        "sensor_sink_fraction": random.uniform(0.25, 0.6, (n, 1)) + random.normal(0.0, 0.03, (n, 2)),
        "sensor_s": random.uniform(100.0, 300.0, (n, 2)),
        "sink_w_per_k": random.uniform(0.45, 0.75, n),
        "case_sink_k_per_w": random.uniform(0.6, 1.2, (n, 2)),
    }


KINDS: Final[Mapping[str, Callable[[Generator, int], dict[str, Floats]]]] = {
    "clean": _clean,
    "calm": _calm,
    "small sinks": _small_sinks,
    "big sinks": _big_sinks,
    "changed": _changed,
    "scratchy": _scratchy,
    "joint": _joint,
    "runaway": _runaway,
}
