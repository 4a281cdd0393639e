"""From a current and resistors to the millivolts at the test points, and back; and what to doubt about it.

`V = I_q R` with R as it lies between the probes: one emitter resistor, the pair in series, the same of one of
several pairs, or a sense resistor in the supply. What is plausible follows the kind of output stage. Not
here: the guard band inside the window (`procedures.analysis.window`), and targets that no manual gives
(`procedures.derived_target`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from procedures.amplifier import EMITTER_POINTS, Amplifier, AmplifierChannel, OutputStage, TestPoint
from procedures.analysis.figures import figure
from procedures.resistance import question as resistor_question

# Plausible idle current of one output device, in amperes, by the kind of stage. Common practice, no source;
# 0 A is normal in the outputs of AB+B stages. PWM, tube and hybrid stages have no bias job here.
PLAUSIBLE: Mapping[OutputStage, tuple[float, float]] = {
    OutputStage.EMITTER_FOLLOWER: (0.002, 0.300),
    OutputStage.TRIPLE: (0.002, 0.300),
    OutputStage.CLASS_GH: (0.002, 0.300),
    OutputStage.CFP: (0.001, 0.150),
    OutputStage.LATERAL_MOSFET: (0.010, 0.500),
    OutputStage.VERTICAL_MOSFET: (0.010, 0.500),
    OutputStage.CLASS_AB_B: (0.0, 0.050),
}
_CALLED = {
    OutputStage.EMITTER_FOLLOWER: "a follower",
    OutputStage.TRIPLE: "a follower",
    OutputStage.CLASS_GH: "a class G or H stage",
    OutputStage.CFP: "a complementary feedback pair",
    OutputStage.LATERAL_MOSFET: "a lateral MOSFET",
    OutputStage.VERTICAL_MOSFET: "a vertical MOSFET",
    OutputStage.CLASS_AB_B: "an AB+B output, which idles at 0 mA",
}
# Across a base-emitter junction or the resistor beside it, in volts. Common practice, no source.
JUNCTION_LEAST_VOLTS, JUNCTION_MOST_VOLTS = 0.15, 0.75
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


def spanned_ohm(test_point: TestPoint, emitter_resistor_ohm: float) -> float:
    """What lies between the probes of an emitter test point, in ohms: one resistor, or both of a pair."""
    return in_series([emitter_resistor_ohm] * _RESISTORS_SPANNED[test_point])


def volts_at(test_point: TestPoint, amperes_per_pair: float, emitter_resistor_ohm: float) -> float:
    """The reading that a quiescent current in one output pair makes, in volts."""
    return amperes_per_pair * spanned_ohm(test_point, emitter_resistor_ohm)


def amperes_for(test_point: TestPoint, volts: float, emitter_resistor_ohm: float) -> float:
    """The quiescent current in one output pair behind a reading, in amperes."""
    return volts / spanned_ohm(test_point, emitter_resistor_ohm)


def target_of(
    amplifier: Amplifier, channel: AmplifierChannel, degrees_c: float | None = None
) -> TargetVolts | None:
    """The target of a channel in volts with its limits; None where it has none in volts.

    `degrees_c` is the temperature that a target as a table goes by; without it, or outside the table, such
    a channel has no target.
    """
    volts = _target_volts(amplifier, channel, degrees_c)
    if volts is None:
        return None
    if channel.tolerance_percent is not None:
        spread = volts * channel.tolerance_percent / 100.0
        return TargetVolts(volts, volts - spread, volts + spread)
    if channel.tolerance_millivolts is not None:
        spread = channel.tolerance_millivolts / 1000.0
        return TargetVolts(volts, volts - spread, volts + spread)
    low, high = channel.own_limits
    if low is None or high is None:
        raise ValueError(f'channel "{channel.name}" has a target without a tolerance')
    return TargetVolts(volts, low, high)


def _target_volts(amplifier: Amplifier, channel: AmplifierChannel, degrees_c: float | None) -> float | None:
    if channel.target_millivolts is not None:
        return channel.target_millivolts / 1000.0
    if channel.target_table is not None:
        found = None if degrees_c is None else channel.target_table.millivolts(degrees_c)
        return None if found is None else found / 1000.0
    amperes = intended_amperes(amplifier, channel)
    between = amplifier.between_probes_ohm(channel)
    return None if amperes is None or between is None else amperes * between


def intended_amperes(amplifier: Amplifier, channel: AmplifierChannel) -> float | None:
    """The current that a target is meant to give, in amperes of one pair (or of the sense resistor)."""
    if channel.target_milliamperes is not None:
        return channel.target_milliamperes / 1000.0
    if channel.target_total_milliamperes is not None:
        # A link in the supply rail carries what all pairs draw; an emitter resistor its own pair's share.
        sharing = 1 if channel.test_point is TestPoint.SUPPLY_RAIL else amplifier.pairs
        return channel.target_total_milliamperes / sharing / 1000.0
    return None if channel.intended_milliamperes is None else channel.intended_milliamperes / 1000.0


def limits_of(amplifier: Amplifier, channel: AmplifierChannel) -> tuple[float | None, float | None]:
    """Low and high limit in the channel's own unit (volts, watts, amperes); None where there is none."""
    target = target_of(amplifier, channel)
    if target is not None:
        return target.low_volts, target.high_volts
    if channel.target_watts is not None and channel.tolerance_percent is not None:
        spread = channel.target_watts * channel.tolerance_percent / 100.0
        return channel.target_watts - spread, channel.target_watts + spread
    return channel.own_limits


def spread_limits_volts(amplifier: Amplifier, channel: AmplifierChannel) -> tuple[float, float] | None:
    """Between which voltages the other pairs of a stage may lie; None where nobody has said."""
    target = target_of(amplifier, channel)
    if target is None or channel.spread_millivolts is None:
        return None
    spread = channel.spread_millivolts / 1000.0
    return target.volts - spread, target.volts + spread


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
        asked.extend(_size_questions(amplifier, channel, target.volts))
    return tuple(asked)


def _size_questions(amplifier: Amplifier, channel: AmplifierChannel, volts: float) -> list[str]:
    """What to ask about a target that is very small or very large for its stage and test point."""
    if channel.test_point is TestPoint.BASE_EMITTER:
        if JUNCTION_LEAST_VOLTS <= volts <= JUNCTION_MOST_VOLTS:
            return []
        return [
            f"{figure(volts)} is unusual across a base-emitter junction or a driver resistor, where 0.3 V to "
            f"0.7 V is expected: are the target of {channel.name} and its test point right?"
        ]
    between = amplifier.between_probes_ohm(channel)
    plausible = PLAUSIBLE.get(amplifier.output_stage)
    if between is None or plausible is None or channel.test_point not in EMITTER_POINTS:
        return []
    amperes = volts / between
    if plausible[0] <= amperes <= plausible[1]:
        return []
    size = "little" if amperes < plausible[0] else "much"
    return [
        f"{figure(volts)} across {between:g} ohm is {amperes * 1e3:.3g} mA in one device of {channel.name}, "
        f"very {size} for {_CALLED[amplifier.output_stage]}: are target, resistor and test point right?"
    ]


def span_question(volts: float, expected_volts: float, test_point: TestPoint) -> str:
    """What to ask when a reading is near twice or half the expected; empty otherwise."""
    if expected_volts <= 0.0 or test_point not in EMITTER_POINTS:
        return ""
    ratio = abs(volts) / expected_volts
    read, expected = figure(volts), figure(expected_volts)
    one = _RESISTORS_SPANNED[test_point] == 1
    if one and abs(ratio / 2.0 - 1.0) <= _NEAR:
        return f"{read} is about twice {expected}: do the probes span two resistors instead of one?"
    if not one and abs(ratio / 0.5 - 1.0) <= _NEAR:
        return f"{read} is about half of {expected}: do the probes span one resistor instead of two?"
    return ""
