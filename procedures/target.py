"""From a current and resistors to the millivolts at the test points, and back; and what to doubt about it.

`V = I_q R` with R as it lies between the probes (variants A to D of a test point: one resistor, the pair in
series, one of several pairs, emitter to emitter of one of several pairs). Not here: the guard band inside
the window (`procedures.analysis.window`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from procedures.amplifier import Amplifier, AmplifierChannel, OutputStage, TestPoint
from procedures.analysis.figures import figure
from procedures.resistance import question as resistor_question

FOLLOWERS = frozenset({OutputStage.EMITTER_FOLLOWER, OutputStage.TRIPLE})
# Plausible idle current of one output device of a follower stage. Common practice, no source.
LEAST_AMPERES, MOST_AMPERES = 0.002, 0.300
_RESISTORS_SPANNED = {
    TestPoint.ONE_RESISTOR: 1,
    TestPoint.ONE_OF_SEVERAL: 1,
    TestPoint.PAIR_IN_SERIES: 2,
    TestPoint.PAIR_OF_SEVERAL: 2,
}
_NEAR = 0.12  # how close to twice or half the expected a reading must be for the question about the probes


@dataclass(frozen=True, slots=True)
class TargetVolts:
    """A target and its limits at the test points, in volts."""

    volts: float
    low_volts: float
    high_volts: float


def in_series(resistances_ohm: Iterable[float]) -> float:
    """The resistance of resistors one after the other, in ohms."""
    return sum(resistances_ohm)


def in_parallel(resistances_ohm: Iterable[float]) -> float:
    """The resistance of resistors side by side, in ohms."""
    return 1.0 / sum(1.0 / resistance for resistance in resistances_ohm)


def spanned_ohm(test_point: TestPoint, emitter_resistor_ohm: float) -> float:
    """What lies between the probes, in ohms: one emitter resistor, or both of a pair."""
    return in_series([emitter_resistor_ohm] * _RESISTORS_SPANNED[test_point])


def volts_at(test_point: TestPoint, amperes_per_pair: float, emitter_resistor_ohm: float) -> float:
    """The reading that a quiescent current in one output pair makes, in volts."""
    return amperes_per_pair * spanned_ohm(test_point, emitter_resistor_ohm)


def amperes_for(test_point: TestPoint, volts: float, emitter_resistor_ohm: float) -> float:
    """The quiescent current in one output pair behind a reading, in amperes."""
    return volts / spanned_ohm(test_point, emitter_resistor_ohm)


def target_of(amplifier: Amplifier, channel: AmplifierChannel) -> TargetVolts | None:
    """The target of a channel in volts with its limits; None where it is only watched."""
    volts = _target_volts(amplifier, channel)
    if volts is None:
        return None
    if channel.tolerance_percent is not None:
        spread = volts * channel.tolerance_percent / 100.0
        return TargetVolts(volts, volts - spread, volts + spread)
    if channel.tolerance_millivolts is not None:
        spread = channel.tolerance_millivolts / 1000.0
        return TargetVolts(volts, volts - spread, volts + spread)
    low, high = channel.low_millivolts, channel.high_millivolts
    if low is None or high is None:
        raise ValueError(f'channel "{channel.name}" has a target without a tolerance')
    return TargetVolts(volts, low / 1000.0, high / 1000.0)


def _target_volts(amplifier: Amplifier, channel: AmplifierChannel) -> float | None:
    if channel.target_millivolts is not None:
        return channel.target_millivolts / 1000.0
    per_pair = channel.target_milliamperes
    if per_pair is None and channel.target_total_milliamperes is not None:
        per_pair = channel.target_total_milliamperes / amplifier.pairs
    resistor = amplifier.emitter_resistor_ohm(channel)
    if per_pair is None or resistor is None or channel.test_point is None:
        return None
    return volts_at(channel.test_point, per_pair / 1000.0, resistor)


def target_questions(amplifier: Amplifier) -> tuple[str, ...]:
    """What to ask about an amplifier's entries that are possible but unlikely, one sentence each."""
    asked: list[str] = []
    for channel in amplifier.channel:
        resistor = amplifier.emitter_resistor_ohm(channel)
        target = target_of(amplifier, channel)
        if resistor is not None and (doubt := resistor_question(resistor)) and doubt not in asked:
            asked.append(doubt)
        if target is None:
            continue
        if not target.low_volts <= target.volts <= target.high_volts:
            asked.append(
                f"The target of {channel.name}, {figure(target.volts)}, is outside its own limits, "
                f"{figure(target.low_volts)} to {figure(target.high_volts)}: is a figure misprinted?"
            )
        if resistor is not None and channel.test_point is not None:
            asked.extend(_current_questions(amplifier, channel, target.volts, resistor))
    return tuple(asked)


def _current_questions(
    amplifier: Amplifier, channel: AmplifierChannel, volts: float, resistor: float
) -> list[str]:
    if channel.test_point is None or amplifier.output_stage not in FOLLOWERS:
        return []
    amperes = amperes_for(channel.test_point, volts, resistor)
    if LEAST_AMPERES <= amperes <= MOST_AMPERES:
        return []
    size = "little" if amperes < LEAST_AMPERES else "much"
    return [
        f"{figure(volts)} across {spanned_ohm(channel.test_point, resistor):g} ohm is {amperes * 1e3:.3g} mA "
        f"in one device of {channel.name}, very {size} for a follower: are target, resistor and test point "
        "right?"
    ]


def span_question(volts: float, expected_volts: float, test_point: TestPoint) -> str:
    """What to ask when a reading is near twice or half the expected; empty otherwise."""
    if expected_volts <= 0.0:
        return ""
    ratio = abs(volts) / expected_volts
    read, expected = figure(volts), figure(expected_volts)
    one = _RESISTORS_SPANNED[test_point] == 1
    if one and abs(ratio / 2.0 - 1.0) <= _NEAR:
        return f"{read} is about twice {expected}: do the probes span two resistors instead of one?"
    if not one and abs(ratio / 0.5 - 1.0) <= _NEAR:
        return f"{read} is about half of {expected}: do the probes span one resistor instead of two?"
    return ""
