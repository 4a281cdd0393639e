"""The simulated amplifier written a second time, plainly, for a tight stiff solver.

One unit, scalars, straight from the equations; nothing of `drivers.simulated` but the numbers is used, so
that a slip in its matrices shows. Without wander.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from scipy.integrate import solve_ivp
from scipy.special import wrightomega

from drivers.simulated.parameters import UnitParameters

Floats = npt.NDArray[np.float64]

K_OVER_Q = 1.380649e-23 / 1.602176634e-19  # CODATA 2018, exact
T0 = 298.15


def _vbe(kelvin: float, at_reference: float) -> float:
    return (
        1.12 * (1 - kelvin / T0) + at_reference * kelvin / T0 - 3 * K_OVER_Q * kelvin * math.log(kelvin / T0)
    )


class PlainUnit:
    """One unit: x = sink, box, then junction, case, sensor, driver of each channel (degC)."""

    def __init__(self, units: UnitParameters, index: int = 0, lid_on: bool = True) -> None:
        self._u = {name: getattr(units, name)[index] for name in units.__dataclass_fields__}
        self._lid_on = lid_on
        self.wiper = np.array(self._u["wiper"])

    def amperes(self, x: Floats) -> Floats:
        u, result = self._u, np.empty(2)
        for c in range(2):
            sensor, driver, junction = (x[k + c] + 273.15 for k in (6, 8, 2))
            at = 1 - self.wiper[c] if u["trimmer_reversed"][c] else self.wiper[c]
            gain = 1 + u["upper_ohm"][c] / (u["lower_ohm"][c] + u["trimmer_ohm"][c] * (1 - at))
            v_b = gain * _vbe(sensor, u["sensor_vbe_volts"][c]) + u["fixed_volts"][c]
            v = v_b / 2 - u["driver_stages"][c] * _vbe(driver, u["driver_vbe_volts"][c])
            v -= _vbe(junction, u["output_vbe_volts"][c])
            vt, re = K_OVER_Q * junction, u["emitter_ohm"][c]
            result[c] = vt / re * wrightomega(v / vt + math.log(re * u["reference_amperes"][c] / vt))
        return result

    def slope(self, t: float, x: Floats) -> Floats:
        """Rates of the ten temperatures, K/s."""
        u, dx = self._u, np.empty(10)
        current = self.amperes(x)
        carrying = [u["pairs"] - dead for dead in u["dead_pairs"]]
        rail = u["rail_volts"] - u["supply_ohm"] * sum(n * i for n, i in zip(carrying, current, strict=True))
        room = u["ambient_c"] + u["ambient_rise_k"] * (1 - math.exp(-t / u["ambient_rise_s"]))
        sink, box = x[0], x[1]
        into_sink = 0.0
        for c in range(2):
            junction, case, sensor, driver = x[2 + c], x[4 + c], x[6 + c], x[8 + c]
            power = max(rail - current[c] * u["emitter_ohm"][c], 0.0) * current[c]
            to_case = (junction - case) / u["junction_case_k_per_w"][c]
            to_sink = (case - sink) / u["case_sink_k_per_w"][c]
            into_sink += 2 * carrying[c] * to_sink
            dx[2 + c] = (power - to_case) / u["junction_j_per_k"][c]
            dx[4 + c] = (to_case - to_sink) / u["case_j_per_k"][c]
            kappa, beta, kb = (u[f"sensor_{k}_fraction"][c] for k in ("sink", "case", "box"))
            felt = kappa * (beta * case + (1 - beta) * sink) + (1 - kappa) * (kb * box + (1 - kb) * room)
            dx[6 + c] = (felt - sensor) / u["sensor_s"][c]
            kd = u["driver_sink_fraction"][c]
            felt = kd * sink + (1 - kd) * box + u["driver_k_per_w"][c] * u["driver_watts"][c]
            dx[8 + c] = (felt - driver) / u["driver_s"][c]
        cooling = u["sink_w_per_k"] * (1.0 if self._lid_on else u["lid_off_sink_factor"])
        rise = sink - room
        cooling *= (abs(rise) / u["convection_reference_k"]) ** u["convection_exponent"]
        across = u["sink_box_w_per_k"] * (sink - box)
        lid = u["lid_on_w_per_k"] if self._lid_on else u["lid_off_w_per_k"]
        dx[0] = (into_sink - across - cooling * rise) / u["sink_j_per_k"]
        dx[1] = (across + u["box_heat_watts"] - lid * (box - room)) / u["box_j_per_k"]
        return dx

    def solve(self, moments_s: Floats, method: str = "BDF") -> Floats:
        """Amperes (k, 2) at the moments, from cold, powered at 0. Fuse ignored."""
        start = np.full(10, self._u["ambient_c"])
        done = solve_ivp(
            self.slope,
            (0.0, float(moments_s[-1])),
            start,
            method=method,
            t_eval=moments_s,
            rtol=1e-9,
            atol=1e-9,
        )
        if not done.success:
            raise RuntimeError(done.message)
        return np.array([self.amperes(x) for x in done.y.T])
