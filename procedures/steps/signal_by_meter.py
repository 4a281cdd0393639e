"""Gain, response and power by a multimeter's AC volts, step by step, where a generator plays alone.

Each output is read in its turn, all of them driven. Only frequencies within the meter's declared bandwidth
are played. A meter does not tell a clean sine from a clipped one: the power is the last at which the output
still follows the input. Its distortion stays unknown, so it may miss a rating and never confirms one.
"""

from __future__ import annotations

import math
from collections.abc import Generator, Mapping
from typing import Final

from drivers.reading import Unit
from procedures.analysis.audio.clipping import LevelSearch
from procedures.analysis.audio.level import decibels, watts
from procedures.analysis.audio.response import third_octaves
from procedures.analysis.figures import figure
from procedures.steps.signal_level import READ_BY_METER, READ_S
from procedures.steps.signal_setting import (
    HIGHEST_DB,
    LOAD_UNCERTAINTY,
    Ask,
    Figures,
    Plan,
    Play,
    Setting,
    Wish,
    rest_after,
    together,
    verdict,
)
from procedures.steps.sitting import Sitting

SHORT: Final = 0.01
"""Of the level that would follow. Closed form: a sine clipped until its rms is 1 % short has 1.6 % THD."""
_TAKES_S: Final = 2.0  # a tone of the response, switching and reading; for the time left
_LEAST_DB: Final = 0.02  # of a difference of two readings, where the meter states nothing

Seen = Mapping[str, float]
Reading = Generator[Wish, Figures | None, Seen]


def gain_by_meter(setting: Setting, sitting: Sitting, load_caution: str) -> Plan:
    """The gain of each output at 1 kHz."""
    words, said = [], []
    for output in setting.outputs:
        yield _clipped(setting, output, load_caution)
        gain, seen = yield from _gain(setting, output)
        value = decibels(gain, 1.0) if gain is not None else None
        rated = setting.ratings.gain_db
        at_least = None if rated is None else rated - 1.0
        name = f"gain, {output}"
        words.append(
            verdict(
                setting,
                sitting,
                name,
                value,
                Unit.DECIBEL,
                at_least=at_least,
                unsure=0.12 + _unsure_db(seen),
                reason=_NOTHING,
            )
        )
        said.append(f"{output} {figure(value, Unit.DECIBEL)}" if value is not None else f"{output} nothing")
    return together(words, f"by AC volts: {', '.join(said)}")


def response_by_meter(setting: Setting, sitting: Sitting, load_caution: str) -> Plan:
    """Third octaves within the meter's bandwidth, 10 dB below rated power, against 1 kHz."""
    low, high = setting.ratings.low_hz or 20.0, setting.ratings.high_hz or 20_000.0
    words = []
    for output in setting.outputs:
        yield _clipped(setting, output, f"{load_caution} Tone controls flat or defeated.")
        gain, seen = yield from _gain(setting, output)
        name = f"response {low:g} to {high:g} Hz, {output}"
        if gain is None:
            words.append(verdict(setting, sitting, name, None, Unit.DECIBEL, reason=_NOTHING))
            continue
        volts_in = setting.full_volts / math.sqrt(10.0) / gain
        thirds = third_octaves(low, high)
        covered = [hz for hz in thirds if _covers(seen, hz)]
        levels: dict[float, float] = {}
        for index, hz in enumerate(covered):
            says = f"Reading the response of the {output} output, {hz:.4g} Hz"
            left_s = _TAKES_S * (len(covered) - index)
            got = yield from _read(
                setting, output, hz, volts_in, says=says, progress=index / len(covered), left_s=left_s
            )
            if got.get("ac_volts"):
                levels[hz] = got["ac_volts"]
        words.append(_response_found(setting, sitting, output, seen, levels=levels, wanted=len(thirds)))
    return together(words, "stepped tones by AC volts, 10 dB below rated power")


def _response_found(
    setting: Setting, sitting: Sitting, output: str, seen: Seen, *, levels: Mapping[float, float], wanted: int
) -> str:
    """Keep every tone against 1 kHz; judged only where the meter covers all that is rated."""
    low, high = setting.ratings.low_hz or 20.0, setting.ratings.high_hz or 20_000.0
    name = f"response {low:g} to {high:g} Hz, {output}"
    if not levels:
        return verdict(setting, sitting, name, None, Unit.DECIBEL, reason="the meter covers none of it")
    reference = levels[min(levels, key=lambda hz: abs(math.log(hz / 1000.0)))]
    relative = {hz: decibels(volts, reference) for hz, volts in levels.items()}
    for hz, db in relative.items():
        sitting.record(f"response at {hz:.5g} Hz, {output}", None, db, Unit.DECIBEL, bandwidth=_band(seen))
    worst_hz = max(relative, key=lambda hz: abs(relative[hz]))
    worst, limit = abs(relative[worst_hz]), setting.ratings.response_db
    unsure = _unsure_db(seen)
    more = f" from 1 kHz at the most, at {worst_hz:.4g} Hz ({relative[worst_hz]:+.2f} dB), by AC volts"
    exceeded = limit is not None and worst - unsure > limit
    if seen.get("ac_high_hz") is None:
        found = (
            f"{worst:.2f} dB at {worst_hz:.4g} Hz, but the meter's bandwidth is not declared: it may read low"
        )
        return verdict(setting, sitting, name, None, Unit.DECIBEL, reason=found)
    if len(levels) < wanted and not exceeded:
        tones = f"{min(levels):.4g} to {max(levels):.4g} Hz"
        found = f"the meter covers {tones} alone; {worst:.2f} dB at the most there, at {worst_hz:.4g} Hz"
        return verdict(setting, sitting, name, None, Unit.DECIBEL, reason=found)
    return verdict(setting, sitting, name, worst, Unit.DECIBEL, at_most=limit, unsure=unsure, more=more)


def power_by_meter(setting: Setting, sitting: Sitting, load_caution: str) -> Plan:
    """Raise the level at 1 kHz until an output no longer follows the input, or the ramp's end."""
    most = 10.0 ** (HIGHEST_DB / 10.0) * setting.full_volts**2 / setting.nominal_ohm
    words = []
    for output in setting.outputs:
        yield _clipped(
            setting,
            output,
            f"{load_caution} All outputs are driven, up to {most:.0f} W each, some seconds at a time.",
        )
        gain, seen = yield from _gain(setting, output)
        name = f"power into {setting.nominal_ohm:g} Ω by AC volts, {output}"
        if gain is None:
            words.append(verdict(setting, sitting, name, None, Unit.WATT, reason=_NOTHING))
            continue
        search = LevelSearch(SHORT, -6.0, HIGHEST_DB)
        while (level_db := search.next_db) is not None:
            volts_in = setting.full_volts / gain * 10.0 ** (level_db / 20.0)
            says = f"Raising the level of the {output} output until it no longer follows, {level_db:+.1f} dB"
            left_s = search.most_left * (_TAKES_S + setting.rest_s)
            got = yield from _read(setting, output, 1000.0, volts_in, says=says, left_s=left_s)
            volts = got.get("ac_volts", 0.0)
            search.feed(volts, max(1e-6, 1.0 - volts / (volts_in * gain)))
            yield from rest_after(setting, volts)
        words.append(_power_found(setting, sitting, name, search, seen))
    return together(words, "1 kHz by AC volts, to where the output follows; the distortion was not measured")


def _power_found(setting: Setting, sitting: Sitting, name: str, search: LevelSearch, seen: Seen) -> str:
    """Below the rating is judged; at or above it is kept, because nobody has looked at the distortion."""
    follows = [point.volts for point in search.points if point.distortion < SHORT]
    reached = search.volts_at_limit or max(follows, default=0.0)
    if reached <= 0.0 or search.fell_away:
        reason = search.stopped_because if search.fell_away else "the output followed the input at no level"
        return verdict(setting, sitting, name, None, Unit.WATT, reason=reason)
    found = watts(reached, setting.load_ohm)
    share = math.hypot(2.0 * max(seen.get("ac_of_reading", 0.0), SHORT), LOAD_UNCERTAINTY)
    rated = setting.rated_watts
    missed = rated is not None and found * (1.0 + share) < rated
    more = (
        ", where the output no longer follows" if search.volts_at_limit else " and more: the ramp ends there"
    )
    return verdict(
        setting,
        sitting,
        name,
        found,
        Unit.WATT,
        at_least=rated if missed else None,
        unsure=share * found,
        more=f"{more}; the distortion was not measured",
    )


# --- reading ------------------------------------------------------------------------------------------------

_NOTHING = "no figure came from the meter"


def _clipped(setting: Setting, output: str, caution: str) -> Ask:
    loads = f"{setting.nominal_ohm:g} Ω loads connected"
    return Ask(f"Clip the AC voltmeter to the {output} output, at its terminals, {loads}.", caution)


def _read(
    setting: Setting,
    output: str,
    hz: float,
    volts: float,
    *,
    says: str,
    progress: float | None = None,
    left_s: float | None = None,
) -> Reading:
    order = setting.tone(hz, volts, setting.outputs, READ_S)
    got = (yield Play(order, says, progress, READ_BY_METER, output, left_s)) or {}
    return got.get(output, {})


def _gain(setting: Setting, output: str) -> Generator[Wish, Figures | None, tuple[float | None, Seen]]:
    """The gain at 1 kHz from a small level upwards, and what came with the last reading."""
    volts = 0.005
    while True:
        says = f"Reading the gain of the {output} output at {figure(volts)} in"
        seen = yield from _read(setting, output, 1000.0, volts, says=says)
        level = seen.get("ac_volts", 0.0)
        if not _covers(seen, 1000.0) or not level:
            return None, seen
        if level >= min(0.5, setting.full_volts / 10.0) or volts > 1.0:
            return level / volts, seen
        volts *= 3.0


def _covers(seen: Seen, hz: float) -> bool:
    """Whether the meter is right there, as far as anything is declared."""
    return seen.get("ac_low_hz", 0.0) <= hz <= seen.get("ac_high_hz", math.inf)


def _band(seen: Seen) -> str:
    high = seen.get("ac_high_hz")
    return "not declared" if high is None else f"{seen.get('ac_low_hz', 0.0):g} to {high:g} Hz"


def _unsure_db(seen: Seen) -> float:
    """Of a difference of two readings."""
    return _LEAST_DB + math.sqrt(2.0) * decibels(1.0 + seen.get("ac_of_reading", 0.0), 1.0)
