"""The heat network of the units as matrices, and its exact step over a short time.

Ten temperatures a unit (degC): heatsink, air inside, and of both channels case, output junction, sensing
junction, driver. The network is linear but for the powers and the growth of convection, which enter as
inputs; those are carried over a step as straight lines through their last two values (exponential
Adams-Bashforth, second order), everything linear is exact. Not here: where the powers come from
(`electrical`, `physics`).
"""

from __future__ import annotations

from typing import Final

import numpy as np
import scipy

from drivers.simulated.parameters import Floats, UnitParameters

STATES: Final = 10
SINK: Final = 0
BOX: Final = 1
CASE: Final = slice(2, 4)
JUNCTION: Final = slice(4, 6)
SENSOR: Final = slice(6, 8)
DRIVER: Final = slice(8, 10)
SILICON: Final = slice(4, 10)  # the three that decide the current, together

# Inputs: watts of one device of each channel, watts of convection beyond the linear part (minus), room
# temperature, and the powered fraction that heats air and drivers.
INPUTS: Final = 5
HEAT: Final = slice(0, 2)
CONVECTION: Final = 2
ROOM: Final = 3
POWERED: Final = 4


def sink_conductance(units: UnitParameters, lid_on: bool) -> Floats:
    """Conductance of the sink to the room at the reference rise, W/K, shape (n,)."""
    return units.sink_w_per_k * (1.0 if lid_on else units.lid_off_sink_factor)


def network(units: UnitParameters, lid_on: bool) -> tuple[Floats, Floats]:
    """Matrices A (n, 10, 10) and B (n, 10, 5) of x' = A x + B u with the lid on or off."""
    n = len(units)
    a = np.zeros((n, STATES, STATES))
    b = np.zeros((n, STATES, INPUTS))
    lid = units.lid_on_w_per_k if lid_on else units.lid_off_w_per_k
    to_room = sink_conductance(units, lid_on)
    to_box = units.sink_box_w_per_k
    a[:, SINK, SINK] = -(to_box + to_room) / units.sink_j_per_k
    a[:, SINK, BOX] = to_box / units.sink_j_per_k
    b[:, SINK, CONVECTION] = 1.0 / units.sink_j_per_k
    b[:, SINK, ROOM] = to_room / units.sink_j_per_k
    a[:, BOX, SINK] = to_box / units.box_j_per_k
    a[:, BOX, BOX] = -(to_box + lid) / units.box_j_per_k
    b[:, BOX, ROOM] = lid / units.box_j_per_k
    b[:, BOX, POWERED] = units.box_heat_watts / units.box_j_per_k
    for channel in range(2):
        _add_channel(units, channel, a, b)
    return a, b


def _add_channel(units: UnitParameters, channel: int, a: Floats, b: Floats) -> None:
    junction, case, sensor, driver = (s.start + channel for s in (JUNCTION, CASE, SENSOR, DRIVER))
    devices = 2.0 * units.conducting_pairs[:, channel]
    to_case = 1.0 / units.junction_case_k_per_w[:, channel]
    to_sink = 1.0 / units.case_sink_k_per_w[:, channel]
    cj, cc = units.junction_j_per_k[:, channel], units.case_j_per_k[:, channel]
    a[:, junction, junction] = -to_case / cj
    a[:, junction, case] = to_case / cj
    b[:, junction, HEAT.start + channel] = 1.0 / cj
    a[:, case, junction] = to_case / cc
    a[:, case, case] = -(to_case + to_sink) / cc
    a[:, case, SINK] = to_sink / cc
    a[:, SINK, case] += devices * to_sink / units.sink_j_per_k
    a[:, SINK, SINK] -= devices * to_sink / units.sink_j_per_k

    follows, lag = units.sensor_sink_fraction[:, channel], units.sensor_s[:, channel]
    at_case, in_box = units.sensor_case_fraction[:, channel], units.sensor_box_fraction[:, channel]
    a[:, sensor, sensor] = -1.0 / lag
    a[:, sensor, case] = follows * at_case / lag
    a[:, sensor, SINK] = follows * (1.0 - at_case) / lag
    a[:, sensor, BOX] = (1.0 - follows) * in_box / lag
    b[:, sensor, ROOM] = (1.0 - follows) * (1.0 - in_box) / lag

    on_sink, slow = units.driver_sink_fraction[:, channel], units.driver_s[:, channel]
    a[:, driver, driver] = -1.0 / slow
    a[:, driver, SINK] = on_sink / slow
    a[:, driver, BOX] = (1.0 - on_sink) / slow
    rise_k = units.driver_k_per_w[:, channel] * units.driver_watts[:, channel]
    b[:, driver, POWERED] = rise_k / slow


def step_matrix(units: UnitParameters, lid_on: bool, dt_s: float) -> Floats:
    """Matrix (n, 10, 20) that takes (x, u, change of u since the last step) to x one step later.

    The three blocks are E = exp(A dt) and the responses to a held and to a rising input, read off one
    matrix exponential of the network augmented by its inputs, so that A is never inverted.
    """
    a, b = network(units, lid_on)
    size = STATES + 2 * INPUTS
    augmented = np.zeros((len(units), size, size))
    augmented[:, :STATES, :STATES] = a * dt_s
    augmented[:, :STATES, STATES : STATES + INPUTS] = b * dt_s
    held = np.arange(INPUTS)
    augmented[:, STATES + held, STATES + INPUTS + held] = 1.0
    result: Floats = np.ascontiguousarray(scipy.linalg.expm(augmented)[:, :STATES, :])
    return result
