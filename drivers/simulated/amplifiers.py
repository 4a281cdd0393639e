"""Amplifiers warming up: many units at once, stepped in time.

Here: the state of n units, actions on them, steps of 0.1 s. Each unit has two channels on one heatsink. The
equations are in `electrical` and `thermal`, the numbers in `parameters`, chance in `wander`. Not here: runs
planned ahead (`physics`), clocks, meters, hands (`bench`).

Accuracy: within 0.2 % of a stiff solver from one second after power-on (tests/benchmarks/bench_simulation).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from drivers.simulated import thermal
from drivers.simulated.electrical import KELVIN, Closure
from drivers.simulated.parameters import Floats, UnitParameters
from drivers.simulated.wander import OrnsteinUhlenbeck, Telegraph, White

STEP_S: Final = 0.1

Where = npt.ArrayLike | None


class Amplifiers:
    """The state of n units with their powers, wipers, lids and mains; powered at time 0 unless told not to.

    Arrays are of shape (n,) a unit and (n, 2) a channel. Reading a property never advances time.
    """

    def __init__(
        self,
        units: UnitParameters,
        *,
        seed: int | Sequence[int] = 0,
        dt_s: float = STEP_S,
        powered: bool = True,
    ) -> None:
        n = len(units)
        self.units = units
        self.dt_s = dt_s
        self._steps = 0
        self._closure = Closure(units)
        self._conducting = units.conducting_pairs
        self._temperatures: Floats = np.repeat(units.ambient_c[:, None], thermal.STATES, axis=1)
        self._wiper: Floats = units.wiper.copy()
        self._lid_on = np.ones(n, dtype=bool)
        self._mains = np.full(n, 1.0 if powered else 0.0)
        self._rail = self._mains.copy()
        self._blown = np.zeros(n, dtype=bool)
        self._dead = np.zeros((n, 2), dtype=bool)
        self._broken = False  # whether any fuse is blown or any channel dead
        self._rail_moving = False
        self._driven_now = False
        self._drive_peak: Floats = np.zeros((n, 2))
        self._load_ohm = 8.0
        self._watts: Floats = np.zeros((n, 2))
        self._amperes: Floats | None = None
        self._rail_now: Floats = self._rail
        self._gain = self._closure.gain(self._wiper)
        self._driven = np.zeros((n, thermal.STATES + 2 * thermal.INPUTS))
        self._have_inputs = False
        self._step_lid_on = thermal.step_matrix(units, True, dt_s)
        self._step_lid_off: Floats | None = None
        self._step_matrix = self._step_lid_on
        self._to_room = thermal.sink_conductance(units, True)
        self._to_room_on = self._to_room
        self._to_room_off = thermal.sink_conductance(units, False)
        self._start_chance(seed)

    def _start_chance(self, seed: int | Sequence[int]) -> None:
        p = self.units
        seeds = np.random.SeedSequence(seed).spawn(5)
        wandering = np.any(p.mains_sd > 0.0)
        draughty = np.any(p.draught_lid_on > 0.0) or np.any(p.draught_lid_off > 0.0)
        self._mains_wander = (
            OrnsteinUhlenbeck(seeds[0], p.mains_correlation_s, self.dt_s) if wandering else None
        )
        self._draught = OrnsteinUhlenbeck(seeds[1], p.draught_correlation_s, self.dt_s) if draughty else None
        self._joint = (
            Telegraph(seeds[2], p.joint_good_s, p.joint_bad_s, self.dt_s) if np.any(p.joint_volts) else None
        )
        self._contact = (
            Telegraph(seeds[3], p.wiper_step_s, p.wiper_step_s, self.dt_s) if np.any(p.wiper_step) else None
        )
        self._crackle = White(seeds[4], p.wiper.shape) if np.any(p.wiper_crackle) else None
        processes = (self._mains_wander, self._draught, self._joint, self._contact, self._crackle)
        self._chance = [process for process in processes if process is not None]

    def __len__(self) -> int:
        return len(self.units)

    # -- what can be seen ---------------------------------------------------------------------------------

    @property
    def time_s(self) -> float:
        """Seconds since the start."""
        return self._steps * self.dt_s

    @property
    def amperes(self) -> Floats:
        """Idle current of each output pair that conducts, free of meter noise, (n, 2)."""
        return self._settled_amperes().copy()

    @property
    def reading_volts(self) -> Floats:
        """What lies across the test points, free of meter noise, (n, 2)."""
        result: Floats = self._settled_amperes() * self.units.measured_ohm
        return result

    @property
    def device_watts(self) -> Floats:
        """Dissipation of one output device of each channel, (n, 2)."""
        self._settled_amperes()
        return self._watts.copy()

    @property
    def offset_volts(self) -> Floats:
        """DC at the output, (n, 2); it fades with the rail."""
        p, room = self.units, self.room_c
        x = self._temperatures
        warm = p.offset_volts_per_box_k * (x[:, thermal.BOX] - room)[:, None]
        warm = warm + p.offset_volts_per_sink_k * (x[:, thermal.SINK] - room)[:, None]
        self._settled_amperes()
        result: Floats = (p.offset_volts + warm) * np.clip(self._rail_now, 0.0, 1.0)[:, None]
        return np.where(self._dead, 0.0, result)

    @property
    def temperatures_c(self) -> Floats:
        """All ten temperatures a unit, (n, 10), in the order of `thermal`."""
        return self._temperatures.copy()

    @property
    def sink_c(self) -> Floats:
        """Heatsink, (n,)."""
        return self._temperatures[:, thermal.SINK].copy()

    @property
    def junction_c(self) -> Floats:
        """Output junctions, (n, 2)."""
        return self._temperatures[:, thermal.JUNCTION].copy()

    @property
    def room_c(self) -> Floats:
        """The room, (n,)."""
        p = self.units
        result: Floats = p.ambient_c + p.ambient_rise_k * -np.expm1(-self.time_s / p.ambient_rise_s)
        return result

    @property
    def rail(self) -> Floats:
        """Rail as a fraction of nominal, mains wander included, before the sag under load, (n,)."""
        self._settled_amperes()
        return self._rail_now.copy()

    @property
    def rail_amperes(self) -> Floats:
        """Total current out of one rail into both output stages, (n,)."""
        result: Floats = (self._settled_amperes() * self.units.conducting_pairs).sum(axis=1)
        return result

    @property
    def wiper(self) -> Floats:
        """Wiper positions, 0 to 1, (n, 2)."""
        return self._wiper.copy()

    @property
    def bias_gain(self) -> Floats:
        """Vbe multiplication of each bias generator, free of contact noise, (n, 2)."""
        return self._gain.copy()

    @property
    def lid_on(self) -> npt.NDArray[np.bool_]:
        """(n,)."""
        return self._lid_on.copy()

    @property
    def mains(self) -> Floats:
        """Mains as a fraction of nominal, as set, (n,)."""
        return self._mains.copy()

    @property
    def fuse_blown(self) -> npt.NDArray[np.bool_]:
        """(n,)."""
        self._settled_amperes()
        return self._blown.copy()

    @property
    def dead(self) -> npt.NDArray[np.bool_]:
        """Channels whose output stage is damaged, (n, 2)."""
        return self._dead.copy()

    def wiper_for_amperes(self, amperes: npt.ArrayLike) -> Floats:
        """Wiper at which `amperes` a pair (spread to (n, 2)) would flow now; outside 0..1 if out of reach."""
        wanted = np.broadcast_to(np.asarray(amperes, dtype=np.float64), self._wiper.shape)
        self._settled_amperes()
        return self._closure.wiper_for(wanted, *self._bias_state(), self._silicon_k())

    # -- actions ------------------------------------------------------------------------------------------

    def set_wiper(self, wiper: npt.ArrayLike, where: Where = None) -> None:
        """Move wipers, clipped to the travel. `where` is a mask or an index into (n, 2), all by default."""
        moved = np.clip(np.asarray(wiper, dtype=np.float64), 0.0, 1.0)
        self._wiper[... if where is None else where] = moved  # type: ignore[index]
        self._gain = self._closure.gain(self._wiper)
        self._disturbed()

    def set_lid(self, on: npt.ArrayLike, where: Where = None) -> None:
        """Put lids on or take them off. `where` is a mask or an index into (n,), all by default."""
        self._lid_on[... if where is None else where] = on  # type: ignore[index]
        if self._step_lid_off is None and not self._lid_on.all():
            self._step_lid_off = thermal.step_matrix(self.units, False, self.dt_s)
        if self._step_lid_off is not None:
            self._step_matrix = np.where(self._lid_on[:, None, None], self._step_lid_on, self._step_lid_off)
        self._to_room = np.where(self._lid_on, self._to_room_on, self._to_room_off)
        self._disturbed()

    def set_mains(self, fraction: npt.ArrayLike, where: Where = None) -> None:
        """Set the mains, 1 nominal, 0 off. The rail follows with the unit's time constants."""
        self._mains[... if where is None else where] = fraction  # type: ignore[index]
        self._rail_moving = True

    def set_drive(self, peak_amperes: npt.ArrayLike, load_ohm: float = 8.0) -> None:
        """Drive the outputs with a sine of this peak current into the load, spread to (n, 2); 0 for none.

        Adds the rectified average to the current of each device and its heat, class B (common practice:
        one half wave a device).
        """
        self._drive_peak = np.broadcast_to(
            np.asarray(peak_amperes, dtype=np.float64), self._wiper.shape
        ).copy()
        self._load_ohm = load_ohm
        self._driven_now = bool(np.any(self._drive_peak > 0.0))
        self._disturbed()

    def damage(self, where: npt.ArrayLike) -> None:
        """Destroy output stages: no current any more. `where` is a mask or an index into (n, 2)."""
        self._dead[where] = True  # type: ignore[index]
        self._broken = True
        self._disturbed()

    def blow_fuse(self, where: Where = None) -> None:
        """Open rail fuses: no current in either channel any more."""
        self._blown[... if where is None else where] = True  # type: ignore[index]
        self._broken = True
        self._disturbed()

    def _disturbed(self) -> None:
        self._amperes = None
        self._have_inputs = False  # a jump is no slope: the next step starts afresh

    # -- time ---------------------------------------------------------------------------------------------

    def step(self) -> None:
        """Advance one step."""
        self._settled_amperes()
        states, size = thermal.STATES, thermal.INPUTS
        driven = self._driven
        before = driven[:, states : states + size].copy()
        self._gather_inputs(driven[:, states : states + size])
        driven[:, :states] = self._temperatures
        if self._have_inputs:
            np.subtract(driven[:, states : states + size], before, out=driven[:, states + size :])
        else:
            driven[:, states + size :] = 0.0
        self._have_inputs = True
        self._temperatures = np.matmul(self._step_matrix, driven[:, :, None])[:, :, 0]
        if self._rail_moving:
            self._move_rail()
        self._steps += 1
        self._amperes = None
        for process in self._chance:
            process.step()

    def _move_rail(self) -> None:
        tau = np.where(self._mains > self._rail, self.units.rail_rise_s, self.units.rail_fall_s)
        self._rail = self._mains + (self._rail - self._mains) * np.exp(-self.dt_s / tau)
        arrived = np.abs(self._rail - self._mains) < 1e-12
        self._rail = np.where(arrived, self._mains, self._rail)
        self._rail_moving = not arrived.all()

    def advance(self, duration_s: float) -> None:
        """Advance by whole steps, as many as are nearest to `duration_s`."""
        for _ in range(round(duration_s / self.dt_s)):
            self.step()

    def _gather_inputs(self, inputs: Floats) -> None:
        p, room = self.units, self.room_c
        rise = self._temperatures[:, thermal.SINK] - room
        growth = (np.abs(rise) / p.convection_reference_k) ** p.convection_exponent
        if self._draught is not None:
            strength = np.where(self._lid_on, p.draught_lid_on, p.draught_lid_off)
            growth = growth * np.exp(strength * self._draught.value)
        inputs[:, thermal.HEAT] = self._watts
        inputs[:, thermal.CONVECTION] = self._to_room * rise * (1.0 - growth)
        inputs[:, thermal.ROOM] = room
        inputs[:, thermal.POWERED] = self._rail**2

    def _silicon_k(self) -> Floats:
        result: Floats = self._temperatures[:, thermal.SILICON] + KELVIN
        return result

    def _bias_state(self) -> tuple[Floats, Floats]:
        """Volts added to V_B, and how far the bias generator has come up; (n, 2) and (n, 1)."""
        p = self.units
        added: Floats = p.fixed_volts + p.rail_gain_volts * (self._rail_now - 1.0)[:, None]
        if self._joint is not None:
            added = added + p.joint_volts * self._joint.value
        return added, np.minimum(self._rail_now / p.bias_from_rail, 1.0)[:, None]

    def _noisy_gain(self) -> Floats:
        if self._contact is None and self._crackle is None:
            return self._gain
        wiper = self._wiper
        if self._contact is not None:
            wiper = wiper + self.units.wiper_step * self._contact.value
        if self._crackle is not None:
            wiper = wiper + self.units.wiper_crackle * self._crackle.value
        return self._closure.gain(np.clip(wiper, 0.0, 1.0))

    def _settled_amperes(self) -> Floats:
        """The current at this moment; worked out once a step."""
        if self._amperes is not None:
            return self._amperes
        p = self.units
        self._rail_now = self._rail
        if self._mains_wander is not None:
            self._rail_now = self._rail * (1.0 + p.mains_sd * self._mains_wander.value)
        amperes = self._closure.amperes(self._noisy_gain(), *self._bias_state(), self._silicon_k())
        if self._broken:
            amperes = np.where(self._dead | self._blown[:, None], 0.0, amperes)
        into_load: Floats | float = 0.0
        if self._driven_now:
            peak = np.where(amperes > 0.0, self._drive_peak * self._rail_now[:, None], 0.0)
            amperes = np.hypot(amperes, peak / (np.pi * self._conducting))
            into_load = peak**2 * self._load_ohm / (4.0 * self._conducting)
        total = (amperes * self._conducting).sum(axis=1)
        over = total > p.fuse_amperes
        if over.any():
            self._blown |= over
            self._broken = True
            amperes = np.where(over[:, None], 0.0, amperes)
            total = np.where(over, 0.0, total)
        volts = (p.rail_volts * self._rail_now - p.supply_ohm * total)[:, None] - amperes * p.emitter_ohm
        self._watts = np.maximum(np.maximum(volts, 0.0) * amperes - into_load, 0.0)
        self._amperes = amperes
        return amperes
