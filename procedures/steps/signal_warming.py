"""Preconditioning before a power measurement: all outputs at one eighth of the rated power, for a time.

Source: 16 CFR 432.3 as of 2006: 1000 Hz, one-eighth of rated power output, one hour, all rated channels at
once; the amendment of 2024 was not read (check before quoting). The class-B stage dissipates far more at this
level than at idle.
"""

from __future__ import annotations

import math

from procedures.steps.signal_setting import Ask, Plan, Play, Setting, input_volts
from procedures.steps.sitting import Sitting

SHARE_OF_RATED = 1.0 / 8.0
STRETCH_S = 10.0
"""Played at a time; between two stretches an alarm or a person can end it at the latest."""


def preconditioning(setting: Setting, sitting: Sitting, load_caution: str) -> Plan:
    """Play for `warm_minutes` in stretches; nothing is judged."""
    yield Ask(
        f"Connect the {setting.nominal_ohm:g} Ω loads, rated for continuous power, to all outputs. The "
        "heatsink gets hotter than in any other part of this work: stay with it.",
        f"{load_caution} Speakers disconnected; the amplifier gets hot enough to burn.",
    )
    volts = yield from input_volts(setting, sitting, setting.full_volts * math.sqrt(SHARE_OF_RATED))
    left_s = total_s = 60.0 * setting.warm_minutes
    while left_s > 0.0:
        seconds = min(STRETCH_S, left_s)
        order = setting.tone(1000.0, volts, setting.outputs, seconds)
        says = f"One eighth of rated power, {math.ceil(left_s / 60.0):g} min to go"
        yield Play(order, says, 1.0 - left_s / total_s)
        left_s -= seconds
    of = "rated power" if setting.rated_watts else "10 W (no rating into this load)"
    return "recorded", f"{setting.warm_minutes:g} min at one eighth of {of}, 1 kHz, all outputs"
