"""The numbers that make one amplifier behave as it does, as arrays over many amplifiers.

Here: the parameter record, its defaults (a healthy unit of an invented maker) and how records are built,
stacked and picked. Not here: what the numbers do (`physics`) and the files they are kept in (`units`).
Magnitudes are engineering judgement, not measurements of any product.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

CHANNELS: Final = 2

PER_UNIT: Final[Mapping[str, float]] = {
    "rail_volts": 42.0,
    "supply_ohm": 0.35,
    "pairs": 1.0,
    "fuse_amperes": 4.0,
    "bias_from_rail": 0.25,
    "rail_rise_s": 0.15,
    "rail_fall_s": 6.0,
    "sink_j_per_k": 480.0,
    "sink_w_per_k": 0.68,
    "convection_exponent": 0.21,
    "convection_reference_k": 25.0,
    "sink_box_w_per_k": 0.22,
    "box_j_per_k": 620.0,
    "box_heat_watts": 5.0,
    "lid_on_w_per_k": 0.55,
    "lid_off_w_per_k": 1.8,
    "lid_off_sink_factor": 1.45,
    "ambient_c": 22.0,
    "ambient_rise_k": 0.0,
    "ambient_rise_s": 1800.0,
    "mains_sd": 0.0,
    "mains_correlation_s": 140.0,
    "draught_lid_on": 0.0,
    "draught_lid_off": 0.0,
    "draught_correlation_s": 25.0,
}

PER_CHANNEL: Final[Mapping[str, float]] = {
    "dead_pairs": 0.0,
    "emitter_ohm": 0.27,
    "measured_ohm": 0.54,
    "reference_amperes": 0.025,
    "output_vbe_volts": 0.560,
    "driver_vbe_volts": 0.605,
    "sensor_vbe_volts": 0.585,
    "driver_stages": 1.0,
    "upper_ohm": 2200.0,
    "lower_ohm": 640.0,
    "trimmer_ohm": 200.0,
    "trimmer_reversed": 0.0,
    "wiper": 0.5,
    "fixed_volts": 0.0,
    "rail_gain_volts": 0.035,
    "junction_j_per_k": 0.09,
    "junction_case_k_per_w": 1.1,
    "case_j_per_k": 6.2,
    "case_sink_k_per_w": 0.65,
    "sensor_sink_fraction": 1.02,
    "sensor_case_fraction": 0.12,
    "sensor_box_fraction": 0.4,
    "sensor_s": 38.0,
    "driver_sink_fraction": 0.88,
    "driver_k_per_w": 9.0,
    "driver_watts": 0.35,
    "driver_s": 48.0,
    "joint_volts": 0.0,
    "joint_good_s": 240.0,
    "joint_bad_s": 60.0,
    "wiper_step": 0.0,
    "wiper_step_s": 40.0,
    "wiper_crackle": 0.0,
    "offset_volts": 0.0,
    "offset_volts_per_box_k": 0.0,
    "offset_volts_per_sink_k": 0.0,
}


@dataclass(frozen=True, slots=True)
class UnitParameters:
    """Amplifiers as arrays: fields of one number a unit have shape (n,), of one a channel (n, 2).

    Supply
        rail_volts: one rail at rest under nominal mains. supply_ohm: how much the rail sags, ohm.
        pairs: output pairs that share a channel's current (1.0, 2.0, ...).
        fuse_amperes: total rail current that opens the rail fuse.
        bias_from_rail: fraction of the nominal rail from which the bias generator works in full.
        rail_rise_s, rail_fall_s: time constants of the reservoirs on switching on and off.
    Heatsink, enclosure, room
        sink_j_per_k, sink_w_per_k: heat capacity; conductance to the room at `convection_reference_k` above
        it, growing with (rise / reference) ** `convection_exponent`.
        sink_box_w_per_k, box_j_per_k, box_heat_watts: coupling to the air inside, its heat capacity
        (with the chassis), heat put into it by transformer and small parts.
        lid_on_w_per_k, lid_off_w_per_k: air inside to room. lid_off_sink_factor: sink cooling, lid off.
        ambient_c, ambient_rise_k, ambient_rise_s: the room warms by rise x (1 - exp(-t / rise_s)).
    Wander (stationary Ornstein-Uhlenbeck: standard deviation as a fraction, correlation time)
        mains_sd, mains_correlation_s: mains voltage.
        draught_lid_on, draught_lid_off, draught_correlation_s: conductance of the sink to the room.
    Output stage, per channel
        dead_pairs: how many of the pairs carry nothing. All bases hang on the one voltage of the bias
        generator, which sets z = I Re + Vt ln I of each pair by itself: the others do not take over the
        current. They feel it only through the heat, which is less by that pair, and take over its share of
        the current into a load. (What the drivers save in base current moves V_B by far less than a
        millivolt, and is left out.)
        emitter_ohm: one emitter resistor. measured_ohm: what lies between the test points.
        reference_amperes: current at which output_vbe_volts is stated (all Vbe at 25 degC).
        output_vbe_volts, driver_vbe_volts, sensor_vbe_volts; driver_stages: junctions before the output.
        junction_j_per_k, junction_case_k_per_w, case_j_per_k, case_sink_k_per_w: one output device.
    Bias generator, per channel: V_B = (1 + upper / (lower + trimmer (1 - x))) Vbe_sensor + fixed + ...
        upper_ohm, lower_ohm, trimmer_ohm; trimmer_reversed: 1.0 where turning up lowers the current.
        wiper: position as found, 0 to 1. fixed_volts: part of V_B without temperature coefficient.
        rail_gain_volts: change of V_B for a rail 100 % higher.
    Heat paths of the sensing junction and the drivers, per channel
        sensor_sink_fraction: kappa, how far the sensor follows the outputs (1 = fully; above 1 stands for a
        sensor whose own coefficient is larger); sensor_case_fraction: beta, case rather than sink;
        sensor_box_fraction: air inside rather than room; sensor_s: its lag.
        driver_sink_fraction, driver_k_per_w, driver_watts, driver_s.
    Faults, per channel
        joint_volts: step of V_B while an intermittent joint is bad; mean stays joint_good_s, joint_bad_s.
        wiper_step, wiper_step_s: slow random telegraph of the wiper contact, fraction of the travel, mean
        stay. wiper_crackle: standard deviation of the contact's fast noise, fraction of the travel.
    DC offset at the output, per channel
        offset_volts, offset_volts_per_box_k, offset_volts_per_sink_k (rise above the room).
    """

    rail_volts: Floats
    supply_ohm: Floats
    pairs: Floats
    fuse_amperes: Floats
    bias_from_rail: Floats
    rail_rise_s: Floats
    rail_fall_s: Floats
    sink_j_per_k: Floats
    sink_w_per_k: Floats
    convection_exponent: Floats
    convection_reference_k: Floats
    sink_box_w_per_k: Floats
    box_j_per_k: Floats
    box_heat_watts: Floats
    lid_on_w_per_k: Floats
    lid_off_w_per_k: Floats
    lid_off_sink_factor: Floats
    ambient_c: Floats
    ambient_rise_k: Floats
    ambient_rise_s: Floats
    mains_sd: Floats
    mains_correlation_s: Floats
    draught_lid_on: Floats
    draught_lid_off: Floats
    draught_correlation_s: Floats
    dead_pairs: Floats
    emitter_ohm: Floats
    measured_ohm: Floats
    reference_amperes: Floats
    output_vbe_volts: Floats
    driver_vbe_volts: Floats
    sensor_vbe_volts: Floats
    driver_stages: Floats
    upper_ohm: Floats
    lower_ohm: Floats
    trimmer_ohm: Floats
    trimmer_reversed: Floats
    wiper: Floats
    fixed_volts: Floats
    rail_gain_volts: Floats
    junction_j_per_k: Floats
    junction_case_k_per_w: Floats
    case_j_per_k: Floats
    case_sink_k_per_w: Floats
    sensor_sink_fraction: Floats
    sensor_case_fraction: Floats
    sensor_box_fraction: Floats
    sensor_s: Floats
    driver_sink_fraction: Floats
    driver_k_per_w: Floats
    driver_watts: Floats
    driver_s: Floats
    joint_volts: Floats
    joint_good_s: Floats
    joint_bad_s: Floats
    wiper_step: Floats
    wiper_step_s: Floats
    wiper_crackle: Floats
    offset_volts: Floats
    offset_volts_per_box_k: Floats
    offset_volts_per_sink_k: Floats

    def __len__(self) -> int:
        return int(self.rail_volts.shape[0])

    @property
    def conducting_pairs(self) -> Floats:
        """How many pairs carry a channel's current, (n, 2)."""
        result: Floats = self.pairs[:, None] - self.dead_pairs
        return result

    def pick(self, which: npt.ArrayLike) -> UnitParameters:
        """The units that an index array or a mask picks, as a record of their own."""
        index = np.atleast_1d(np.asarray(which))
        return UnitParameters(**{f.name: getattr(self, f.name)[index].copy() for f in fields(self)})

    def changed(self, **values: npt.ArrayLike) -> UnitParameters:
        """The same units with some fields replaced; scalars and (n,) values are spread as in `parameters`."""
        return parameters(len(self), **{f.name: getattr(self, f.name) for f in fields(self)} | values)


def parameters(n: int = 1, **values: npt.ArrayLike) -> UnitParameters:
    """Build the record of `n` units from the defaults and the given values.

    A value of a field of one number a unit is a scalar or has shape (n,); of one a channel it is a scalar,
    has shape (2,) (both channels, every unit alike), (n, 1) or (n, 2). Raises ValueError for a name that is
    no field or a shape that fits neither.
    """
    unknown = sorted(set(values) - set(PER_UNIT) - set(PER_CHANNEL))
    if unknown:
        raise ValueError(f"no such parameter of a unit: {', '.join(unknown)}")
    made: dict[str, Floats] = {}
    for name, default in PER_UNIT.items():
        made[name] = _spread(name, values.get(name, default), (n,))
    for name, default in PER_CHANNEL.items():
        made[name] = _spread(name, values.get(name, default), (n, CHANNELS))
    return UnitParameters(**made)


def stacked(records: Sequence[UnitParameters]) -> UnitParameters:
    """Many records as one, in order."""
    return UnitParameters(
        **{f.name: np.concatenate([getattr(r, f.name) for r in records]) for f in fields(UnitParameters)}
    )


def _spread(name: str, value: npt.ArrayLike, shape: tuple[int, ...]) -> Floats:
    given = np.asarray(value, dtype=np.float64)
    try:
        return np.broadcast_to(given, shape).copy()
    except ValueError:
        raise ValueError(f"{name} has shape {given.shape}; {shape} is needed") from None
