"""Where a simulated unit comes to rest: its truth, worked out ahead and free of every chance.

For what is said after practice, never for what is said during it. Not here: the unit that lives on a clock.
"""

from __future__ import annotations

from typing import Final

from drivers.simulated.amplifiers import Amplifiers
from drivers.simulated.parameters import Floats, UnitParameters, stacked

Pair = tuple[float | None, float | None]

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


def resting_volts(unit: UnitParameters, wiper: Floats) -> tuple[Pair, Pair]:
    """What left and right of one unit read at rest, lid on, on full mains; volts across the test points.

    First with the trimmers as found, then with them at `wiper`, shape (2,) or (1, 2): both at once, because
    a step of two units takes no longer than one of a single unit, and a person waits. None where there is no
    rest: the current grows until the rail fuse opens.
    """
    both = stacked([unit, unit]).changed(**dict.fromkeys(_CHANCE, 0.0))
    model = Amplifiers(both, dt_s=_STEP_S)
    wipers = model.wiper.copy()
    wipers[1] = wiper
    model.set_wiper(wipers)
    model.advance(_LONG_S)
    found, now = (
        (None, None) if bool(blown) else (float(left), float(right))
        for blown, (left, right) in zip(model.fuse_blown, model.reading_volts, strict=True)
    )
    return found, now
