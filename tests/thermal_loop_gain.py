"""How strongly heat feeds back on itself: the thermal loop gain of units in their present state."""

from __future__ import annotations

import numpy as np

from drivers.simulated import thermal
from drivers.simulated.electrical import KELVIN, VOLTS_PER_KELVIN, junction_volts
from drivers.simulated.parameters import Floats
from drivers.simulated.physics import Amplifiers


def loop_gain(model: Amplifiers) -> Floats:
    """Largest eigenvalue of d(power caused) / d(power) in the steady state, shape (n,).

    Linearised about the present temperatures and currents: above 1 the unit runs away from here, below 1 a
    disturbance ends up 1 / (1 - gain) times as large as it began. Negative feedback gives values below 0.
    """
    units, x = model.units, model.temperatures_c
    warming = _kelvin_per_watt(model)
    kelvin = x + KELVIN
    feels = _volts_per_kelvin(model, kelvin)
    thermal_volts = VOLTS_PER_KELVIN * kelvin[:, thermal.JUNCTION]
    amperes = model.amperes
    conductance = 1.0 / (units.emitter_ohm + thermal_volts / np.maximum(amperes, 1e-12))
    volts = units.rail_volts * model.rail - units.supply_ohm * model.rail_amperes
    effect = np.einsum("ncs,nsd->ncd", feels, warming) * (conductance * volts[:, None])[:, :, None]
    eigenvalues = np.linalg.eigvals(effect)
    result: Floats = eigenvalues.real.max(axis=1)
    return result


def _kelvin_per_watt(model: Amplifiers) -> Floats:
    """Steady rise of each temperature for a watt in each channel's devices, (n, 10, 2)."""
    units = model.units
    on, off = (thermal.network(units, lid_on)[0] for lid_on in (True, False))
    a = np.where(model.lid_on[:, None, None], on, off)
    b = thermal.network(units, True)[1]
    cooling = np.where(
        model.lid_on, thermal.sink_conductance(units, True), thermal.sink_conductance(units, False)
    )
    rise = np.maximum(np.abs(model.sink_c - model.room_c), 1e-6) / units.convection_reference_k
    exponent = units.convection_exponent
    growing = (1.0 + exponent) * rise**exponent - 1.0
    a[:, thermal.SINK, thermal.SINK] -= cooling * growing / units.sink_j_per_k
    result: Floats = np.asarray(-np.linalg.solve(a, b[:, :, thermal.HEAT]), dtype=np.float64)
    return result


def _volts_per_kelvin(model: Amplifiers, kelvin: Floats) -> Floats:
    """Change of each channel's drive for a kelvin at each temperature, (n, 2, 10)."""
    units = model.units
    gain = model.bias_gain
    feels = np.zeros((len(units), 2, thermal.STATES))
    small = 0.01

    def coefficient(where: slice, at_reference: Floats) -> Floats:
        t = kelvin[:, where]
        slope: Floats = (
            junction_volts(t + small, at_reference) - junction_volts(t - small, at_reference)
        ) / (2.0 * small)
        return slope

    sensor = 0.5 * gain * coefficient(thermal.SENSOR, units.sensor_vbe_volts)
    driver = -units.driver_stages * coefficient(thermal.DRIVER, units.driver_vbe_volts)
    # z = Vt ln(I / I0) + I Re: the junction acts through its Vbe and through Vt itself.
    vt_part = VOLTS_PER_KELVIN * np.log(np.maximum(model.amperes, 1e-12) / units.reference_amperes)
    junction = -coefficient(thermal.JUNCTION, units.output_vbe_volts) - vt_part
    for channel in range(2):
        feels[:, channel, thermal.SENSOR.start + channel] = sensor[:, channel]
        feels[:, channel, thermal.DRIVER.start + channel] = driver[:, channel]
        feels[:, channel, thermal.JUNCTION.start + channel] = junction[:, channel]
    return feels
