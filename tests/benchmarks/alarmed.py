"""Channels fed through the alarms and disturbances of every run, many at a time."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from drivers.meter import MeterAccuracy
from procedures.analysis.bench import Bench
from procedures.analysis.blocks import BlockBuilder
from procedures.analysis.channel import ChannelSetup
from procedures.analysis.incidents import Incidents
from procedures.events import Alarm, Supply, SupplyChanged, Tier

Floats = npt.NDArray[np.float64]

CHANNEL = "left bias"
NEVER = float("inf")


def first_alarms(part: tuple[Floats, Floats, float, int]) -> list[tuple[float, float, float]]:
    """When each channel of a part first raised *look or more*, *act or more* and *off*; NEVER for never.

    `part` is readings (k, n), targets (n,), the display's step and the time between readings.
    """
    shown, target, step, every_s = part
    return [_watch_one(shown[:, k].tolist(), float(target[k]), step, every_s) for k in range(shown.shape[1])]


def _watch_one(shown: list[float], target: float, step: float, every_s: int) -> tuple[float, float, float]:
    bench = Bench()
    bench.take(SupplyChanged(0.0, Supply.MAINS))
    setup = ChannelSetup(CHANNEL, target_volts=target, accuracy=MeterAccuracy(resolution=step))
    incidents, builder = Incidents([setup], bench), BlockBuilder()
    first = {Tier.LOOK: NEVER, Tier.ACT: NEVER, Tier.OFF: NEVER}
    for k, value in enumerate(shown[1:], start=1):
        at_s = float(k * every_s)
        found = list(incidents.reading(at_s, CHANNEL, value))
        for block in builder.add(at_s, value):
            found += incidents.block(CHANNEL, block, since_on_s=block.at_s, step=step, forecast=None)
        for one in found:
            if isinstance(one, Alarm) and one.tier in first:
                first[one.tier] = min(first[one.tier], at_s)
        if first[Tier.OFF] < NEVER or value > 20.0 * target:
            break
    act = min(first[Tier.ACT], first[Tier.OFF])
    return min(first[Tier.LOOK], act), act, first[Tier.OFF]
