"""Targets where the manual is silent: candidates side by side, for a person to choose from.

Pure arithmetic: a chosen current, the other channel, this model's own history, and theory as a ruler. Each
candidate says how it was worked out and where that comes from. A person chooses one and says why; nothing
here prefers one, and nothing moves a target towards a theoretical figure.

Sources. Oliver: B. M. Oliver, "Distortion in Complementary-Pair Class-B Amplifiers", Hewlett-Packard Journal,
Feb 1971 (formula read on a page citing it; the article was not opened). Self: *Audio Power Amplifier Design*
(book not opened; the 0.22 ohm row is confirmed by a quotation, the rest is recalled - check before quoting).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from statistics import median

from procedures.amplifier import EMITTER_POINTS, Amplifier, AmplifierChannel, OutputStage, TestPoint
from procedures.analysis.figures import figure
from procedures.resistance import ohms
from procedures.target import volts_at

OLIVER_VOLTS = 0.026  # as the formula is quoted: kT/q near 29 degrees Celsius
BOLTZMANN_OVER_CHARGE = 1.380649e-23 / 1.602176634e-19  # V/K, exact by the SI
# Vq across both emitter resistors by their value, followers: recalled - check before quoting, except 0.22.
_SELF_FOLLOWER = ((0.10, 0.0426), (0.22, 0.0462), (0.47, 0.0506))
_SELF_CFP = ((0.22, 0.0086),)
_FOLLOWERS = (OutputStage.EMITTER_FOLLOWER, OutputStage.TRIPLE)


class Origin(StrEnum):
    """Where a candidate comes from."""

    CHOSEN_CURRENT = "chosen current"
    OTHER_CHANNEL = "the other channel"
    HISTORY = "this model's own history"
    OLIVER = "theory, thermal voltage"
    SELF = "theory, tabulated"


@dataclass(frozen=True, slots=True)
class Candidate:
    """A possible target: volts at the test points, amperes in one pair where known, and how it came about.

    `ruler` marks a theoretical figure, which is there to compare with and not the default.
    """

    origin: Origin
    volts: float
    amperes: float | None
    how: str
    ruler: bool = False


@dataclass(frozen=True, slots=True)
class IdleHeat:
    """What a current means in heat: watts in one device, one pair, one channel; kelvin of the heatsink."""

    device_watts: float
    pair_watts: float
    channel_watts: float
    sink_rise_k: float | None
    over_limit: bool | None


# --- candidates ---------------------------------------------------------------------------------------------


def from_current(point: TestPoint, amperes: float, emitter_ohm: float) -> Candidate:
    """A current that a person chose, in one pair.

    Raises:
        ValueError: when the current or the resistor is not above zero, or the point is no emitter resistor.
    """
    _needs_emitter_point(point)
    if not (amperes > 0.0 and emitter_ohm > 0.0):
        raise ValueError("a current and a resistor above zero are needed, such as 25 mA and 0R22")
    volts = volts_at(point, amperes, emitter_ohm)
    between = volts / amperes
    how = f"{amperes * 1e3:.3g} mA x {between:.3g} ohm"
    return Candidate(Origin.CHOSEN_CURRENT, volts, amperes, how)


def from_other_channel(channel: str, volts: float, between_ohm: float | None = None) -> Candidate:
    """What the other, untouched channel reads."""
    amperes = None if between_ohm is None else volts / between_ohm
    return Candidate(Origin.OTHER_CHANNEL, volts, amperes, f"{channel} reads {figure(volts)}")


def from_history(left_at_volts: Sequence[float], between_ohm: float | None = None) -> Candidate | None:
    """What units of this model were left at before, by the median; None without any."""
    if not left_at_volts:
        return None
    volts = median(left_at_volts)
    span = f", {figure(min(left_at_volts))} to {figure(max(left_at_volts))}" if len(left_at_volts) > 1 else ""
    count = f"{len(left_at_volts)} channels were" if len(left_at_volts) > 1 else "one channel was"
    amperes = None if between_ohm is None else volts / between_ohm
    return Candidate(Origin.HISTORY, volts, amperes, f"{count} left at {figure(volts)}{span}")


def oliver_amperes(
    emitter_ohm: float, internal_ohm: float = 0.0, base_ohm: float = 0.0, gain: float = 80.0
) -> float:
    """`Iq = 0.026 V / (RE + re + rb / hFE)`: the whole series resistance counts, not RE alone."""
    return OLIVER_VOLTS / (emitter_ohm + internal_ohm + base_ohm / gain)


def oliver(
    point: TestPoint, emitter_ohm: float, internal_ohm: float = 0.0, base_ohm: float = 0.0, gain: float = 80.0
) -> Candidate:
    """Oliver's figure for a follower, as a ruler; the internal resistance counts where it is known."""
    _needs_emitter_point(point)
    amperes = oliver_amperes(emitter_ohm, internal_ohm, base_ohm, gain)
    inside = internal_ohm + base_ohm / gain
    known = f"with {inside:.3g} ohm inside the device" if inside > 0.0 else "resistance inside left out"
    how = f"26 mV / ({emitter_ohm:g} ohm and what is inside), {known}"
    return Candidate(Origin.OLIVER, volts_at(point, amperes, emitter_ohm), amperes, how, ruler=True)


def self_volts(stage: OutputStage, emitter_ohm: float) -> float | None:
    """Self's voltage across both emitter resistors, in between on the logarithm; None where none is known."""
    rows = _SELF_CFP if stage is OutputStage.CFP else _SELF_FOLLOWER if stage in _FOLLOWERS else ()
    if not rows or not rows[0][0] * 0.99 <= emitter_ohm <= rows[-1][0] * 1.01:
        return None
    for (low, one), (high, two) in pairwise(rows):
        if emitter_ohm <= high * 1.01:
            share = math.log(emitter_ohm / low) / math.log(high / low)
            return one + share * (two - one)
    return rows[0][1]


def self_ruler(point: TestPoint, stage: OutputStage, emitter_ohm: float) -> Candidate | None:
    """Self's figure as a ruler; None where the stage or the resistor is beyond what is known."""
    _needs_emitter_point(point)
    across_both = self_volts(stage, emitter_ohm)
    if across_both is None:
        return None
    amperes = across_both / (2.0 * emitter_ohm)
    how = f"{figure(across_both)} across both resistors of {emitter_ohm:g} ohm"
    return Candidate(Origin.SELF, volts_at(point, amperes, emitter_ohm), amperes, how, ruler=True)


def candidates(
    amplifier: Amplifier,
    channel: AmplifierChannel,
    *,
    chosen_amperes: float | None = None,
    others: Sequence[tuple[str, float]] = (),
    history_volts: Sequence[float] = (),
    internal_ohm: float = 0.0,
) -> tuple[Candidate, ...]:
    """All that can be set side by side for a channel, in a fixed order that is no recommendation.

    Args:
        amplifier: Its stage and resistors.
        channel: The channel without a target.
        chosen_amperes: A current that a person has in mind, in one pair.
        others: Untouched channels by name, with what they read in volts.
        history_volts: What channels of this model were left at before, in volts.
        internal_ohm: Series resistance inside an output device, for Oliver's figure.
    """
    between = amplifier.between_probes_ohm(channel)
    resistor = amplifier.emitter_resistor_ohm(channel)
    point = channel.test_point
    found: list[Candidate | None] = []
    if chosen_amperes is not None and point in EMITTER_POINTS and resistor is not None:
        found.append(from_current(point, chosen_amperes, resistor))
    found.extend(from_other_channel(name, volts, between) for name, volts in others)
    found.append(from_history(history_volts, between))
    if point in EMITTER_POINTS and resistor is not None:
        if amplifier.output_stage in _FOLLOWERS:
            found.append(oliver(point, resistor, internal_ohm))
        found.append(self_ruler(point, amplifier.output_stage, resistor))
    return tuple(candidate for candidate in found if candidate is not None)


def _needs_emitter_point(point: TestPoint) -> None:
    if point not in EMITTER_POINTS:
        raise ValueError(f'"{point.value}" is not read across emitter resistors; no current follows from it')


# --- choosing -----------------------------------------------------------------------------------------------


def with_chosen_target(
    amplifier: Amplifier,
    channel: str,
    candidate: Candidate,
    *,
    chosen_by: str,
    reason: str,
    tolerance_percent: float = 10.0,
) -> Amplifier:
    """The amplifier with a candidate as a channel's target, who chose it and why.

    Raises:
        ValueError: without a name or a reason, or for a channel that is not there.
    """
    described = amplifier.channel_named(channel)
    if described is None:
        raise ValueError(f'{amplifier.name} has no channel "{channel}"')
    if not chosen_by.strip() or not reason.strip():
        raise ValueError("say who chose this target, and why: both are kept with it")
    entry = described.model_dump(exclude_defaults=True)
    for key in tuple(entry):
        if key.startswith(("target_", "tolerance_", "low_", "high_", "intended_")):
            del entry[key]
    entry |= {
        "target_millivolts": candidate.volts * 1e3,
        "tolerance_percent": tolerance_percent,
        "source": f"{candidate.origin.value}: {candidate.how}",
        "chosen_by": chosen_by.strip(),
        "reason": reason.strip(),
    }
    if candidate.amperes is not None:
        entry["intended_milliamperes"] = candidate.amperes * 1e3
    return _with_channel(amplifier, AmplifierChannel.model_validate(entry))


def _with_channel(amplifier: Amplifier, channel: AmplifierChannel) -> Amplifier:
    channels = tuple(channel if one.name == channel.name else one for one in amplifier.channel)
    return amplifier.model_copy(update={"channel": channels})


# --- what it means ------------------------------------------------------------------------------------------


def idle_heat(amplifier: Amplifier, amperes: float) -> IdleHeat | None:
    """The heat of an idle current in one pair; None while the rail voltage is not known.

    The heatsink's rise is an estimate for one channel by itself, and is given only where its kelvin per watt
    are.
    """
    if amplifier.rail_volts is None:
        return None
    printed = amplifier.emitter_resistor
    drop = 0.0 if printed is None else amperes * ohms(printed)
    device = (amplifier.rail_volts - drop) * amperes
    pair = 2.0 * amplifier.rail_volts * amperes
    channel = pair * amplifier.pairs
    per_watt, limit = amplifier.sink_kelvin_per_watt, amplifier.device_limit_watts
    return IdleHeat(
        device_watts=device,
        pair_watts=pair,
        channel_watts=channel,
        sink_rise_k=None if per_watt is None else channel * per_watt,
        over_limit=None if limit is None else device > limit,
    )


def class_a_watts(amperes: float, load_ohm: float) -> float:
    """Up to which power a stage stays in class A: `P = 2 Iq^2 R`."""
    return 2.0 * amperes * amperes * load_ohm


def thermal_volts(celsius: float) -> float:
    """`kT/q` at a junction temperature, in volts."""
    return BOLTZMANN_OVER_CHARGE * (celsius + 273.15)


def agree(one_volts: float, other_volts: float, within: float = 0.10) -> bool:
    """Whether two channels lie within a share of each other (of the larger; common practice: 10 %)."""
    larger = max(abs(one_volts), abs(other_volts))
    return larger == 0.0 or abs(one_volts - other_volts) <= within * larger
