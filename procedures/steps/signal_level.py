"""Level and power by a multimeter's AC volts, with the meter's own bandwidth beside every figure.

A frequency outside the declared bandwidth is refused; where nobody has declared one, the figure is kept and
marked, and nothing is judged. A meter of this kind does not tell a clean sine from a clipped one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from drivers.reading import Unit
from procedures.analysis.audio.level import watts
from procedures.analysis.audio.orders import Order, Signal
from procedures.analysis.figures import figure
from procedures.steps.signal_setting import LOAD_UNCERTAINTY, Ask, Plan, Play, Setting, together
from procedures.steps.sitting import Sitting

READ_BY_METER = "ac volts"
READ_S = 8.0  # a tone long enough for a slow meter to find its range and settle
_GUESSED_GAIN_DB = 30.0  # where no gain is known: on the high side, so that the level stays on the low one


def level(setting: Setting, sitting: Sitting, load_caution: str) -> Plan:
    """Read each output at each frequency, 10 dB below rated power, or as a person drives it."""
    words, said = [], []
    for output in setting.outputs:
        yield Ask(
            f"Clip the AC voltmeter to the {output} output, at its terminals, loads connected.", load_caution
        )
        for hz in setting.at_hz:
            if setting.by_hand:
                yield Ask(f"Drive the inputs at {hz:g} Hz from your generator, and wait for the meter.", "")
            got = (yield _play(setting, sitting, output, hz)) or {}
            word, reason = _kept(setting, sitting, output, hz, got.get(output, {}))
            words.append(word)
            said.append(f"{output} {hz:g} Hz {reason}")
    return together(words, "; ".join(said))


def _play(setting: Setting, sitting: Sitting, output: str, hz: float) -> Play:
    says = f"Reading the AC volts of the {output} output at {hz:g} Hz"
    if setting.by_hand:
        return Play(
            Order(Signal.TONE, READ_S, hz, load_ohm=setting.load_ohm), says, read_by=READ_BY_METER, at=output
        )
    gain = sitting.recorded_value(f"gain, {output}", None)
    known = gain.value if gain is not None and gain.value is not None else setting.ratings.gain_db
    gain_db = _GUESSED_GAIN_DB if known is None else known
    volts = setting.full_volts / math.sqrt(10.0) / 10.0 ** (gain_db / 20.0)
    return Play(setting.tone(hz, volts, setting.outputs, READ_S), says, read_by=READ_BY_METER, at=output)


def _kept(
    setting: Setting, sitting: Sitting, output: str, hz: float, seen: Mapping[str, float]
) -> tuple[str, str]:
    """Keep level and power, or the reason why there is none; the outcome word and the figure in words."""
    name, volts = f"level at {hz:g} Hz, {output}", seen.get("ac_volts")
    low, high = seen.get("ac_low_hz"), seen.get("ac_high_hz")
    if volts is None:
        reason = "no figure came from the meter"
    elif (low is not None and hz < low) or (high is not None and hz > high):
        band = f"{f'{low:g}' if low is not None else '?'} to {f'{high:g}' if high is not None else '?'} Hz"
        reason = f"outside the meter's declared bandwidth, {band}"
    else:
        unsure = volts * seen.get("ac_of_reading", 0.0)
        more = {"bandwidth": _band_words(low, high), "responding": _responding(seen)}
        if unsure > 0.0:
            more["uncertainty"] = f"{unsure:.3g}"
        sitting.record(name, None, volts, Unit.VOLT, **more)
        power = watts(volts, setting.load_ohm)
        share = math.hypot(2.0 * unsure / volts if volts > 0.0 else 0.0, LOAD_UNCERTAINTY)
        load = f"{setting.load_ohm:.4g} ohm" + ("" if setting.load_measured else " (nominal, not measured)")
        more |= {"load": load, "uncertainty": f"{share * power:.3g}"}
        sitting.record(f"power at {hz:g} Hz, {output}", None, power, Unit.WATT, **more)
        marked = "" if high is not None else ", the meter's bandwidth is not declared: it may read low"
        return "recorded", f"{figure(volts)}, {figure(power, Unit.WATT)}{marked}"
    sitting.record(name, None, None, Unit.VOLT, reason)
    return "not measured", reason


def _band_words(low: float | None, high: float | None) -> str:
    if high is None:
        return "not declared: above some hundred hertz the meter may read low"
    return f"{low:g} to {high:g} Hz" if low is not None else f"up to {high:g} Hz"


def _responding(seen: Mapping[str, float]) -> str:
    true_rms = seen.get("ac_true_rms")
    if true_rms is None:
        return "not declared"
    return "true RMS" if true_rms > 0.0 else "average: right for a sine alone"
