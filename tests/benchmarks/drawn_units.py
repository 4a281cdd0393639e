"""Random amplifiers: the parameters of the simulated bench drawn from wide ranges, by family and seed.

Ranges are engineering judgement; no record of a real amplifier stands behind them. Not here: the warm-ups
that they make (`traces`).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from drivers.simulated.parameters import UnitParameters, parameters
from drivers.simulated.physics import Amplifiers

Floats = npt.NDArray[np.float64]


def log_uniform(rng: np.random.Generator, low: float, high: float, size: int | tuple[int, ...]) -> Floats:
    """Draws whose logarithms are uniform."""
    return np.exp(rng.uniform(np.log(low), np.log(high), size))


def random_units(count: int, family: str, rng: np.random.Generator) -> tuple[UnitParameters, Floats]:
    """`count` units of a family, and the resting current that each channel is to have, (count, 2) amperes."""
    n, both = count, (count, 2)
    rail = rng.uniform(22.0, 62.0, n)
    emitter = rng.choice([0.1, 0.15, 0.22, 0.27, 0.33, 0.47], n)
    pairs = rng.choice([1.0, 1.0, 1.0, 2.0, 3.0], n)
    amperes = np.minimum(log_uniform(rng, 0.012, 0.09, n), (2.5 if family == "swinging" else 1.5) / rail)
    watts = 4.0 * rail * amperes * pairs
    conductance = np.maximum(watts / rng.uniform(6.0, 32.0, n), 0.12)
    sink_s = log_uniform(rng, 450.0, 1800.0, n)
    lid = rng.uniform(0.3, 1.0, n)
    values: dict[str, Floats] = {
        "sink_s": sink_s,
        "rail_volts": rail,
        "supply_ohm": rng.uniform(0.1, 0.6, n),
        "pairs": pairs,
        "sink_w_per_k": conductance,
        "sink_box_w_per_k": conductance * rng.uniform(0.1, 0.5, n),
        "convection_exponent": rng.uniform(0.12, 0.28, n),
        "box_j_per_k": log_uniform(rng, 350.0, 2000.0, n),
        "box_heat_watts": lid * rng.uniform(2.0, 14.0, n),
        "lid_on_w_per_k": lid,
        "lid_off_w_per_k": lid * rng.uniform(2.5, 4.5, n),
        "ambient_c": rng.uniform(16.0, 30.0, n),
        "ambient_rise_k": rng.normal(0.0, 0.8, n),
        "ambient_rise_s": rng.uniform(900.0, 3600.0, n),
        "mains_sd": log_uniform(rng, 0.0008, 0.006, n),
        "mains_correlation_s": log_uniform(rng, 60.0, 400.0, n),
        "draught_lid_on": rng.uniform(0.0, 0.06, n),
        "draught_lid_off": rng.uniform(0.05, 0.3, n),
        "draught_correlation_s": rng.uniform(15.0, 60.0, n),
        "emitter_ohm": emitter[:, None],
        "measured_ohm": (emitter * rng.choice([1.0, 2.0], n))[:, None],
        "reference_amperes": amperes[:, None],
        "trimmer_reversed": rng.choice([0.0, 1.0], both),
        "rail_gain_volts": rng.uniform(0.005, 0.05, both),
        "junction_j_per_k": log_uniform(rng, 0.04, 0.2, both),
        "junction_case_k_per_w": rng.uniform(0.7, 1.8, both),
        "case_j_per_k": log_uniform(rng, 3.0, 14.0, both),
        "case_sink_k_per_w": rng.uniform(0.4, 1.3, both),
        "sensor_sink_fraction": rng.normal(0.96, 0.04, both),
        "sensor_case_fraction": rng.uniform(0.0, 0.3, both),
        "sensor_box_fraction": rng.uniform(0.3, 1.0, both),
        "sensor_s": log_uniform(rng, 15.0, 110.0, both),
        "driver_sink_fraction": rng.uniform(0.65, 1.0, both),
        "driver_k_per_w": rng.uniform(3.0, 14.0, both),
        "driver_s": log_uniform(rng, 20.0, 90.0, both),
    }
    _change_for_family(values, family, rng, n)
    values["sink_j_per_k"] = values.pop("sink_s") * conductance
    return parameters(n, **values), np.broadcast_to(amperes[:, None], both).copy()


def _change_for_family(values: dict[str, Floats], family: str, rng: np.random.Generator, n: int) -> None:
    """What makes a unit of a family: replaces some of the usual draws."""
    both = (n, 2)
    if family == "under":
        values["sensor_sink_fraction"] = rng.uniform(0.87, 0.97, both)
        values["sensor_s"] = log_uniform(rng, 30.0, 160.0, both)
        values["fixed_volts"] = rng.uniform(0.0, 0.4, both)
    elif family == "over":
        values["fixed_volts"] = rng.uniform(-0.3, 0.0, both)
        values["driver_sink_fraction"] = rng.uniform(0.5, 0.95, both)
        values["sensor_case_fraction"] = rng.uniform(0.05, 0.4, both)
    elif family == "swinging":
        values["fixed_volts"] = rng.uniform(-0.4, 0.0, both)
        values["driver_sink_fraction"] = rng.uniform(0.45, 0.9, both)
        values["ambient_rise_k"] = rng.normal(0.0, 1.5, n)
    elif family == "small fast sink":
        values["sink_s"] = log_uniform(rng, 90.0, 280.0, n)
    elif family == "slow big sink":
        values["sink_s"] = log_uniform(rng, 1500.0, 3500.0, n)
    elif family == "restless":
        values["mains_sd"] = rng.uniform(0.008, 0.02, n)
        values["mains_correlation_s"] = log_uniform(rng, 20.0, 900.0, n)
        values["draught_lid_on"] = rng.uniform(0.05, 0.25, n)
    elif family == "calm":
        values["mains_sd"] = np.zeros(n)
        values["draught_lid_on"] = np.zeros(n)
        values["ambient_rise_k"] = np.zeros(n)


def resting_at(units: UnitParameters, amperes: Floats) -> UnitParameters:
    """The units with their trimmers set, at mid travel, so that the warm channels carry `amperes`."""
    quiet = units.changed(
        mains_sd=0.0, draught_lid_on=0.0, joint_volts=0.0, wiper_step=0.0, wiper_crackle=0.0
    )
    model = Amplifiers(quiet, dt_s=0.5)
    for _ in range(8):
        model.set_wiper(model.wiper_for_amperes(amperes))
        model.advance(300.0)
    position = model.wiper_for_amperes(amperes)
    forward = np.where(units.trimmer_reversed > 0.0, 1.0 - position, position)
    lower = units.lower_ohm + units.trimmer_ohm * (1.0 - forward) - 0.5 * units.trimmer_ohm
    return units.changed(lower_ohm=lower, wiper=0.5)


def with_fault(units: UnitParameters, fault: str, rng: np.random.Generator) -> UnitParameters:
    """The units with an intermittent joint or a scratchy wiper in both channels; as they are without one."""
    both = (len(units), 2)
    if fault == "joint":
        return units.changed(
            joint_volts=rng.choice([-1.0, 1.0], both) * rng.uniform(1e-3, 8e-3, both),
            joint_good_s=log_uniform(rng, 60.0, 360.0, both),
            joint_bad_s=log_uniform(rng, 15.0, 240.0, both),
        )
    if fault == "scratchy":
        return units.changed(
            wiper_step=rng.uniform(0.004, 0.05, both),
            wiper_step_s=log_uniform(rng, 15.0, 120.0, both),
            wiper_crackle=rng.uniform(0.0, 0.01, both),
        )
    return units
