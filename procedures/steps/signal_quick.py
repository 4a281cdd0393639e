"""The quick look at the response: one exponential sweep an output, recorded and never judged.

The answer is the stepped tones (`response`); the sweep says in seconds whether they are worth their time.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from drivers.reading import Unit
from procedures.analysis.audio.orders import Order, Signal
from procedures.steps.signal_setting import Ask, Plan, Play, Setting, input_volts, together
from procedures.steps.sitting import Sitting

SWEEP_S = 3.0
_PREFIX = "db_"


def quick_response(setting: Setting, sitting: Sitting, load_caution: str) -> Plan:
    """Sweep once, 10 dB below rated power, and record each third-octave against 1 kHz."""
    yield Ask(f"Connect the {setting.nominal_ohm:g} Ω loads; tone controls flat or defeated.", load_caution)
    volts = yield from input_volts(setting, sitting, setting.full_volts / math.sqrt(10.0))
    order = Order(Signal.SWEEP, SWEEP_S, volts=volts, drives=setting.outputs, load_ohm=setting.load_ohm)
    got = (yield Play(order, "Sweeping all frequencies once")) or {}
    low, high = setting.ratings.low_hz or 20.0, setting.ratings.high_hz or 20_000.0
    words, said = [], []
    for output in setting.outputs:
        levels = _levels(got.get(output, {}), low, high)
        for hz, db in levels.items():
            sitting.record(f"quick response at {hz:.5g} Hz, {output}", None, db, Unit.DECIBEL)
        if not levels:
            words.append("not measured")
            continue
        worst = max(levels, key=lambda hz: abs(levels[hz]))
        said.append(f"{output} {levels[worst]:+.2f} dB at {worst:.4g} Hz")
        words.append("recorded")
    reason = f"one sweep, no verdict; farthest from 1 kHz: {', '.join(said) or 'no figure came'}"
    return together(words, reason)


def _levels(seen: Mapping[str, float], low: float, high: float) -> dict[float, float]:
    """Decibels relative to 1 kHz by frequency, between the marks of the rating."""
    every = {float(name.removeprefix(_PREFIX)): db for name, db in seen.items() if name.startswith(_PREFIX)}
    if not every:
        return {}
    reference = every[min(every, key=lambda hz: abs(math.log(hz / 1000.0)))]
    return {hz: db - reference for hz, db in every.items() if 0.97 * low <= hz <= 1.03 * high}
