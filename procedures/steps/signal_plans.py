"""The measurements of the verification as plans: what is played, in which order, and what follows from it.

A plan is a generator. It yields what it wishes (play, rest, a hand) and is sent the figures of each output;
it returns the outcome word of its step and a reason. It keeps and judges through the sitting.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Generator, Mapping

from drivers.reading import Unit
from procedures.analysis.audio.clipping import LevelSearch
from procedures.analysis.audio.level import decibels, output_impedance, watts
from procedures.analysis.audio.orders import Order, Signal
from procedures.analysis.audio.response import third_octaves
from procedures.analysis.figures import figure
from procedures.steps.signal_by_meter import gain_by_meter, power_by_meter, response_by_meter
from procedures.steps.signal_level import level
from procedures.steps.signal_quick import quick_response
from procedures.steps.signal_setting import (
    HIGHEST_DB,
    LEVEL_UNCERTAINTY,
    LOAD_UNCERTAINTY,
    NO_FIGURE,
    Ask,
    Figures,
    Plan,
    Play,
    Setting,
    Wish,
    gains_of,
    input_volts,
    rest_after,
    together,
    verdict,
)
from procedures.steps.signal_warming import preconditioning
from procedures.steps.signal_words import hum_words, shape_words
from procedures.steps.sitting import Sitting


def plan(measure: str, setting: Setting, sitting: Sitting) -> Plan:
    """The plan of one measurement."""
    if setting.by_meter and measure in _BY_METER:
        return _BY_METER[measure](setting, sitting, _LOAD)
    return _PLANS[measure](setting, sitting)


def _gain(setting: Setting, sitting: Sitting) -> Plan:
    yield Ask(
        f"Connect {setting.nominal_ohm:g} Ω to each output, generator and recorder to both channels.", _LOAD
    )
    gains = yield from gains_of(setting)
    words = []
    for output, gain in gains.items():
        level = decibels(gain, 1.0)
        rated = setting.ratings.gain_db
        at_least = None if rated is None else rated - 1.0
        words.append(
            verdict(setting, sitting, f"gain, {output}", level, Unit.DECIBEL, at_least=at_least, unsure=0.12)
        )
        words.append(_sensitivity(setting, sitting, output, setting.full_volts / gain))
    if len(gains) > 1:
        spread = decibels(max(gains.values()), min(gains.values()))
        # Common practice, no source: half a decibel between channels at full volume.
        words.append(
            verdict(setting, sitting, "balance of channels", spread, Unit.DECIBEL, at_most=0.5, unsure=0.05)
        )
    return together(
        words, ", ".join(f"{o} {figure(decibels(g, 1.0), Unit.DECIBEL)}" for o, g in gains.items())
    )


def _sensitivity(setting: Setting, sitting: Sitting, output: str, volts_in: float) -> str:
    """The input for the rated power; judged where it is rated, for the first power that is listed."""
    powers, rated = setting.ratings.power, setting.ratings.sensitivity_millivolts
    listed = rated is not None and bool(powers) and powers[0].load_ohm == setting.nominal_ohm
    # Common practice, no source: within one decibel of the rating.
    at_most = 1e-3 * rated * 10.0 ** (1.0 / 20.0) if listed and rated is not None else None
    name = f"input for rated power, {output}"
    return verdict(setting, sitting, name, volts_in, Unit.VOLT, at_most=at_most, unsure=0.015 * volts_in)


BELOW_FLOOR = "below the floor of this set-up"
NOISE_TELLS = math.sqrt(2.0)  # of the recorder's own noise: as much again from the amplifier
_LOAD = "The load gets hot: see that it is rated for the power, and keep it off anything that burns."


def _power(setting: Setting, sitting: Sitting) -> Plan:
    most = 10.0 ** (HIGHEST_DB / 10.0) * setting.full_volts**2 / setting.nominal_ohm
    yield Ask(
        f"Connect the {setting.nominal_ohm:g} Ω loads to all outputs, each rated for {most:.0f} W: so far "
        "the ramp may go, a second at a time.",
        _LOAD,
    )
    full_in = yield from input_volts(setting, sitting, setting.full_volts)
    searches = {output: LevelSearch(setting.limit, -6.0, HIGHEST_DB) for output in setting.outputs}
    while wanted := [search.next_db for search in searches.values() if search.next_db is not None]:
        level_db = min(wanted)
        volts_in = full_in * 10.0 ** (level_db / 20.0)
        order = setting.tone(1000.0, volts_in, setting.outputs, 0.5)
        says = f"Raising the level until {100 * setting.limit:g} % are reached, {level_db:+.1f} dB of full"
        each_s = order.seconds + order.settle_s + setting.rest_s
        got = (yield Play(order, says, left_s=each_s * max(one.most_left for one in searches.values()))) or {}
        for output, search in searches.items():
            seen = got.get(output, {})
            if search.next_db != level_db:  # what one asks for often serves the others too
                continue
            if "total_volts" in seen and "thd_plus_noise" in seen:
                search.feed(seen["total_volts"], seen["thd_plus_noise"])
            else:
                search.stop(NO_FIGURE)
        if fallen := [search for search in searches.values() if search.fell_away]:
            for search in searches.values():
                search.stop(fallen[0].stopped_because)
            break
        yield from rest_after(
            setting, max((one.get("total_volts", 0.0) for one in got.values()), default=0.0)
        )
    words = [_power_found(setting, sitting, output, search) for output, search in searches.items()]
    return together(words, f"all outputs driven, {100 * setting.limit:g} % THD+N")


def _power_found(setting: Setting, sitting: Sitting, output: str, search: LevelSearch) -> str:
    name = f"power into {setting.nominal_ohm:g} Ω, {output}"
    rated = setting.rated_watts
    reached = search.volts_at_limit
    more = f" at {100 * setting.limit:g} % THD+N, 1 kHz"
    if reached is None:
        below = [p.volts for p in search.points if p.distortion < search.limit]
        if not below:
            return verdict(setting, sitting, name, None, Unit.WATT, reason=search.stopped_because)
        and_more = "" if search.fell_away else " and more"
        reached, more = max(below), f"{and_more}: {search.stopped_because}"
    found = watts(reached, setting.load_ohm)
    unsure = found * math.hypot(2.0 * LEVEL_UNCERTAINTY, LOAD_UNCERTAINTY)
    return verdict(setting, sitting, name, found, Unit.WATT, at_least=rated, unsure=unsure, more=more)


def _distortion(setting: Setting, sitting: Sitting) -> Plan:
    yield Ask(f"Connect the {setting.nominal_ohm:g} Ω loads to all outputs.", _LOAD)
    words: list[str] = []
    limit = setting.ratings.distortion_percent
    # Half the rated power, and 1 W, where crossover distortion shows; common practice, no source.
    for said, volts in (
        ("half power", setting.full_volts / math.sqrt(2.0)),
        ("1 W", math.sqrt(setting.nominal_ohm)),
    ):
        volts_in = yield from input_volts(setting, sitting, volts)
        order = setting.tone(1000.0, volts_in, setting.outputs, 2.0)
        got = (yield Play(order, f"Measuring the distortion at {said}")) or {}
        yield from rest_after(setting, volts)
        for output in setting.outputs:
            seen = got.get(output, {})
            value = 100.0 * seen.get("thd", math.nan)
            floor = 100.0 * max(seen.get("thd_floor", 0.0), seen.get("setup_thd", 0.0))
            below = value <= floor
            more = f" THD at 1 kHz, {said}" + (f" ({BELOW_FLOOR})" if below else "")
            shape = shape_words(seen)
            more += f"; {shape}" if shape else ""
            for share in ("crossing_share", "peaks_share"):
                if share in seen:
                    what = f"residual {share.split('_')[0]} share at {said}, {output}"
                    sitting.record(what, None, 100.0 * seen[share], Unit.PERCENT, shape=shape)
            name = f"distortion at {said}, {output}"
            words.append(
                verdict(
                    setting,
                    sitting,
                    name,
                    max(value, floor),
                    Unit.PERCENT,
                    at_most=limit,
                    unsure=floor,
                    more=more,
                )
            )
            noisy = 100.0 * seen.get("thd_plus_noise", math.nan)
            sitting.record(f"THD+N at {said}, {output}", None, noisy, Unit.PERCENT)
    return together(words, "1 kHz, half power and 1 W")


def _response(setting: Setting, sitting: Sitting) -> Plan:
    yield Ask(f"Connect the {setting.nominal_ohm:g} Ω loads; tone controls flat or defeated.", _LOAD)
    volts_in = yield from input_volts(setting, sitting, setting.full_volts / math.sqrt(10.0))
    low, high = setting.ratings.low_hz or 20.0, setting.ratings.high_hz or 20_000.0
    thirds = third_octaves(low, high)
    levels: dict[str, dict[float, float]] = {output: {} for output in setting.outputs}
    for index, hz in enumerate(thirds):
        order = setting.tone(hz, volts_in, setting.outputs, max(0.4, 25.0 / hz))
        says = f"Measuring the response, {hz:.4g} Hz"
        left_s = sum(order.settle_s + max(0.4, 25.0 / later) for later in thirds[index:])
        got = (yield Play(order, says, index / len(thirds), left_s=left_s)) or {}
        for output in setting.outputs:
            levels[output][hz] = got.get(output, {}).get("volts", 0.0)
    words = []
    for output, by_hz in levels.items():
        reference = by_hz[min(by_hz, key=lambda hz: abs(math.log(hz / 1000.0)))]
        relative = {hz: decibels(volts, reference) for hz, volts in by_hz.items()}
        for hz, db in relative.items():
            sitting.record(f"response at {hz:.5g} Hz, {output}", None, db, Unit.DECIBEL)
        worst_hz = max(relative, key=lambda hz: abs(relative[hz]))
        name = f"response {low:g} to {high:g} Hz, {output}"
        more = f" from 1 kHz at the most, at {worst_hz:.4g} Hz ({relative[worst_hz]:+.2f} dB)"
        worst = abs(relative[worst_hz])
        limit = setting.ratings.response_db
        words.append(
            verdict(setting, sitting, name, worst, Unit.DECIBEL, at_most=limit, unsure=0.05, more=more)
        )
    return together(words, f"{len(thirds)} tones, 10 dB below rated power")


def _noise(setting: Setting, sitting: Sitting) -> Plan:
    yield Ask("Short the inputs (or terminate them with 1 kΩ), volume full up, loads connected.", "")
    order = Order(Signal.SILENCE, 4.0, load_ohm=setting.load_ohm)
    got = (yield Play(order, "Listening to noise and hum")) or {}
    words = []
    for output in setting.outputs:
        seen = got.get(output, {})
        hum = hum_words(seen)
        words.append(_signal_to_noise(setting, sitting, output, seen, hum))
        sitting.record(f"noise, {output}", None, seen.get("noise_volts"), Unit.VOLT)
        by_468 = seen.get("noise_468_volts")
        sitting.record(f"noise by the curve of BS.468, rms, {output}", None, by_468, Unit.VOLT)
        sitting.record(f"hum, {output}", None, seen.get("hum_volts"), Unit.VOLT, may_mean=hum)
        for multiple in range(1, 11):
            if f"hum_{multiple}" in seen:
                sitting.record(f"hum line {multiple}, {output}", None, seen[f"hum_{multiple}"], Unit.VOLT)
        offset_limit = sitting.amplifier.offset_limit_millivolts if sitting.amplifier is not None else None
        at_most = offset_limit / 1000.0 if offset_limit is not None else None
        offset = seen.get("offset_volts", math.nan)
        words.append(
            verdict(
                setting, sitting, f"DC offset, {output}", abs(offset), Unit.VOLT, at_most=at_most, unsure=5e-4
            )
        )
    return together(words, "inputs shorted, 22 Hz to 22 kHz")


def _signal_to_noise(
    setting: Setting, sitting: Sitting, output: str, seen: Mapping[str, float], hum: str
) -> str:
    weighted = seen.get("noise_a_volts", math.nan)
    ratio = decibels(setting.full_volts, weighted) if weighted > 0.0 else math.nan
    limit = setting.ratings.signal_to_noise_db
    name = f"signal to noise, {output}"
    more = " A-weighted, re rated power" if setting.rated_watts else " A-weighted, re 10 W"
    if weighted <= NOISE_TELLS * seen.get("setup_noise_a_volts", 0.0):
        if limit is not None and ratio < limit:
            reason = f"the recorder's own noise hides it; {figure(ratio, Unit.DECIBEL)} at the least"
            return verdict(setting, sitting, name, None, Unit.DECIBEL, reason=reason)
        more += f" ({BELOW_FLOOR}: it may be quieter)"
    more += f"; {hum}" if hum else ""
    return verdict(setting, sitting, name, ratio, Unit.DECIBEL, at_least=limit, unsure=0.3, more=more)


def _crosstalk(setting: Setting, sitting: Sitting) -> Plan:
    yield Ask("Connect the loads; terminate the input of the channel that is not driven with 1 kΩ.", _LOAD)
    volts = setting.full_volts / math.sqrt(10.0)
    volts_in = yield from input_volts(setting, sitting, volts)
    words = []
    for driven in setting.outputs:
        for hz in (1000.0, 10_000.0):
            order = setting.tone(hz, volts_in, (driven,), 2.0)
            got = (yield Play(order, f"Driving {driven} only, {hz:g} Hz")) or {}
            reference = got.get(driven, {}).get("volts", 0.0)
            for other in setting.outputs:
                if other == driven:
                    continue
                name = f"crosstalk {driven} to {other}, {hz / 1000:g} kHz"
                seen = got.get(other, {})
                if reference <= 0.0 or not seen:
                    words.append(verdict(setting, sitting, name, None, Unit.DECIBEL, reason=NO_FIGURE))
                    continue
                leaked = max(seen.get("volts", 0.0), seen.get("floor_volts", 0.0), 1e-9)
                hidden = seen.get("volts", 0.0) <= seen.get("floor_volts", 0.0)
                more = f" ({BELOW_FLOOR})" if hidden else ""
                limit = setting.ratings.crosstalk_db if hz == 1000.0 else None
                level = decibels(leaked, reference)
                words.append(
                    verdict(setting, sitting, name, level, Unit.DECIBEL, at_most=limit, unsure=0.5, more=more)
                )
    return together(words, "one driven at a time, 10 dB below rated power")


def _modulation(setting: Setting, sitting: Sitting) -> Plan:
    got, words = (yield from _two_tones(setting, sitting, 60.0, 7000.0, 0.25)), []
    for output in setting.outputs:
        seen = got.get(output, {})
        name = f"modulation distortion 60 Hz + 7 kHz, {output}"
        more = " by the root of the sidebands' squares, 4:1"
        value = 100 * seen.get("by_lines", math.nan)
        words.append(verdict(setting, sitting, name, value, Unit.PERCENT, more=more))
        paired = 100 * seen.get("by_order", math.nan)
        sitting.record(f"{name}, sideband pairs added", None, paired, Unit.PERCENT)
    return together(words, "60 Hz and 7 kHz, 4:1, half power")


def _difference(setting: Setting, sitting: Sitting) -> Plan:
    got, words = (yield from _two_tones(setting, sitting, 19_000.0, 20_000.0, 1.0)), []
    for output in setting.outputs:
        seen = got.get(output, {})
        for key, said in (("second", "1 kHz"), ("third", "18 and 21 kHz")):
            name = f"difference tones {said}, {output}"
            value = 100 * seen.get(key, math.nan)
            more = " of the sum of 19 and 20 kHz"
            words.append(verdict(setting, sitting, name, value, Unit.PERCENT, more=more))
    return together(words, "19 and 20 kHz, 1:1, half power")


def _two_tones(
    setting: Setting, sitting: Sitting, low_hz: float, high_hz: float, ratio: float
) -> Generator[Wish, Figures | None, Figures]:
    """Two tones whose peak is that of a sine of half the rated power."""
    yield Ask(f"Connect the {setting.nominal_ohm:g} Ω loads to all outputs.", _LOAD)
    peak_in = yield from input_volts(setting, sitting, setting.full_volts / math.sqrt(2.0))
    # A sine of rms u peaks at 1.414 u; two tones of rms w together peak at (1 + r) sqrt(2 / (1 + r²)) w.
    volts = peak_in * math.sqrt(1.0 + ratio**2) / (1.0 + ratio)
    order = Order(Signal.TWO_TONES, 2.0, low_hz, volts, high_hz, ratio, setting.outputs, setting.load_ohm)
    got = (yield Play(order, f"Playing {low_hz:g} and {high_hz:g} Hz together")) or {}
    yield from rest_after(setting, setting.full_volts / 2.0)
    return got


def _damping(setting: Setting, sitting: Sitting) -> Plan:
    volts_in = yield from input_volts(setting, sitting, math.sqrt(setting.nominal_ohm))
    yield Ask("Take the loads off; keep the recorder on the output terminals themselves.", "")
    free = Order(Signal.TONE, 2.0, 1000.0, volts_in, drives=setting.outputs)
    light = (yield Play(free, "Measuring without load")) or {}
    yield Ask(f"Connect the {setting.nominal_ohm:g} Ω loads at the output terminals.", _LOAD)
    heavy = (yield Play(setting.tone(1000.0, volts_in, setting.outputs, 2.0), "Measuring with load")) or {}
    words = []
    for output in setting.outputs:
        found = output_impedance(
            light.get(output, {}).get("volts", 0.0),
            math.inf,
            heavy.get(output, {}).get("volts", 0.0),
            setting.load_ohm,
            nominal_ohm=setting.nominal_ohm,
        )
        factor = setting.ratings.damping_factor
        at_most = setting.nominal_ohm / factor if factor is not None else None
        more = f" (damping factor {found.damping_factor:.3g} into {setting.nominal_ohm:g} Ω)"
        if not found.resolved:
            most = setting.nominal_ohm / found.uncertainty_ohm
            more = f", which these voltages do not resolve (damping factor above about {most:.2g})"
        name, ohm = f"output impedance, {output}", max(0.0, found.ohm)
        if found.resolved and found.ohm < 0.0:
            reason = "the output read more with the load than without: measure both again with the same drive"
            words.append(verdict(setting, sitting, name, None, Unit.OHM, reason=reason))
            continue
        words.append(
            verdict(
                setting,
                sitting,
                name,
                ohm,
                Unit.OHM,
                at_most=at_most,
                unsure=found.uncertainty_ohm,
                more=more,
            )
        )
    return together(words, "1 kHz, about 1 W, no load against load")


_PLANS: dict[str, Callable[[Setting, Sitting], Plan]] = {
    "gain": _gain,
    "power": _power,
    "distortion": _distortion,
    "response": _response,
    "quick response": lambda setting, sitting: quick_response(setting, sitting, _LOAD),
    "preconditioning": lambda setting, sitting: preconditioning(setting, sitting, _LOAD),
    "noise": _noise,
    "crosstalk": _crosstalk,
    "modulation": _modulation,
    "difference tones": _difference,
    "damping": _damping,
    "level": lambda setting, sitting: level(setting, sitting, _LOAD),
}
_BY_METER: dict[str, Callable[[Setting, Sitting, str], Plan]] = {
    "gain": gain_by_meter,
    "response": response_by_meter,
    "power": power_by_meter,
    "level": level,
}
