"""Where a simulated unit comes to rest: its truth, worked out ahead and free of every chance.

For what is said after practice, never for what is said during it. Not here: the unit that lives on a clock.
"""

from __future__ import annotations

from typing import Final

from drivers.simulated.amplifiers import Amplifiers
from drivers.simulated.parameters import Floats, UnitParameters

_LONG_S: Final = 3.0 * 3600.0
_STEP_S: Final = 5.0  # the end is the same as in steps of 0.1 s; only the way there is coarser
_CHANCE: Final = (
    "mains_sd",
    "draught_lid_on",
    "draught_lid_off",
    "joint_volts",
    "wiper_step",
    "wiper_crackle",
)


def resting_volts(units: UnitParameters, wiper: Floats | None = None) -> tuple[float | None, float | None]:
    """What left and right of one unit read at rest, lid on, on full mains; volts across the test points.

    `wiper` of shape (2,) or (1, 2) replaces the positions as found. None where there is no rest: the current
    grows until the rail fuse opens.
    """
    model = Amplifiers(units.changed(**dict.fromkeys(_CHANCE, 0.0)), dt_s=_STEP_S)
    if wiper is not None:
        model.set_wiper(wiper)
    model.advance(_LONG_S)
    if bool(model.fuse_blown[0]):
        return None, None
    left, right = model.reading_volts[0]
    return float(left), float(right)
