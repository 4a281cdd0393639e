"""What an edit in the target form makes of a known amplifier: what the form does not show stays as it was.

Here: which known amplifier can be begun with, what the form shows of it, and how an entry is put back. Not
here: the arithmetic (`procedures.target`) and the form itself (`target_form`).
"""

from __future__ import annotations

from dataclasses import dataclass

from procedures.amplifier import EMITTER_POINTS, Amplifier, AmplifierChannel, OutputStage, TestPoint
from procedures.analysis.figures import figure
from procedures.target import amperes_for, intended_amperes, target_of

POINTS = (
    TestPoint.ONE_RESISTOR,
    TestPoint.PAIR_IN_SERIES,
    TestPoint.ONE_OF_SEVERAL,
    TestPoint.PAIR_OF_SEVERAL,
)


@dataclass(frozen=True, slots=True)
class TargetEntry:
    """What stands in the form, taken literally."""

    maker: str
    model: str
    stage: OutputStage
    pairs: int
    point: TestPoint
    resistor: str
    milliamperes: float
    tolerance_percent: float
    rail_volts: float | None


UNKNOWN = TargetEntry(
    "Unnamed",
    "amplifier",
    OutputStage.EMITTER_FOLLOWER,
    1,
    TestPoint.PAIR_IN_SERIES,
    "0R27",
    25.0,
    10.0,
    None,
)


def begun_with(known: Amplifier | None) -> Amplifier | None:
    """The amplifier, if its first channel is read across emitter resistors; else nothing could be shown."""
    if known is None or shown_of(known) is None:
        return None
    return known


def shown_amperes(known: Amplifier) -> float | None:
    """The current in one output pair that the first channel's target means; None where that is unknown."""
    channel = known.channel[0]
    ohm, target = known.emitter_resistor_ohm(channel), target_of(known, channel)
    if channel.test_point not in EMITTER_POINTS or ohm is None or target is None:
        return None
    return intended_amperes(known, channel) or amperes_for(channel.test_point, target.volts, ohm)


def shown_of(known: Amplifier) -> TargetEntry | None:
    """What the form shows of an amplifier; None where its target is no current through emitter resistors."""
    channel = known.channel[0]
    target, amperes = target_of(known, channel), shown_amperes(known)
    if target is None or amperes is None or channel.test_point is None:
        return None
    width = max(target.high_volts - target.volts, target.volts - target.low_volts) / target.volts
    return TargetEntry(
        maker=known.maker,
        model=known.model,
        stage=known.output_stage,
        pairs=known.pairs,
        point=channel.test_point,
        resistor=channel.emitter_resistor or known.emitter_resistor or "",
        milliamperes=float(f"{amperes * 1e3:.4g}"),
        tolerance_percent=float(f"{width * 1e2:.3g}"),
        rail_volts=known.rail_volts,
    )


def described(entry: TargetEntry, known: Amplifier | None) -> Amplifier:
    """The amplifier as entered; of a known one, all that the form does not show.

    A channel whose target was not touched stays as it was. One whose target was changed loses the words about
    where the old one came from, because they would be false; its condition and notes stay.

    Raises:
        ValueError: (pydantic's included) for what cannot be.
    """
    shown = None if known is None else shown_of(known)
    if known is None or shown is None:
        fresh = {"name": "left bias"} | _target(entry), {"name": "right bias"} | _target(entry)
        return Amplifier.model_validate(
            {
                "format": 1,
                **_model(entry),
                "channel": tuple(AmplifierChannel.model_validate(c) for c in fresh),
            }
        )
    data = known.model_dump(exclude_unset=True) | _model(entry)
    if _is_retargeted(entry, known, shown):
        data["channel"] = tuple(_retargeted(channel, entry) for channel in known.channel)
    else:
        data["channel"] = known.channel
        data["emitter_resistor"] = known.emitter_resistor
    return Amplifier.model_validate(data)


def _model(entry: TargetEntry) -> dict[str, object]:
    return {
        "maker": entry.maker,
        "model": entry.model,
        "output_stage": entry.stage,
        "pairs": entry.pairs,
        "emitter_resistor": entry.resistor,
        "rail_volts": entry.rail_volts,
    }


def _is_retargeted(entry: TargetEntry, known: Amplifier, shown: TargetEntry) -> bool:
    total = known.channel[0].target_total_milliamperes is not None
    return _aim(entry) != _aim(shown) or (total and entry.pairs != shown.pairs)


def _aim(entry: TargetEntry) -> tuple[object, ...]:
    return entry.point, entry.resistor, entry.milliamperes, entry.tolerance_percent


def _target(entry: TargetEntry) -> dict[str, object]:
    return {
        "test_point": entry.point,
        "target_milliamperes": entry.milliamperes,
        "tolerance_percent": entry.tolerance_percent,
    }


_OF_THE_TARGET = ("target_", "tolerance_", "low_", "high_", "residual_")
_WORDS_OF_THE_TARGET = ("source", "chosen_by", "reason", "intended_milliamperes", "emitter_resistor")


def _retargeted(channel: AmplifierChannel, entry: TargetEntry) -> AmplifierChannel:
    """A bias channel with the target as entered; a channel that is read elsewhere as it was."""
    if channel.test_point not in EMITTER_POINTS:
        return channel
    kept = {
        key: value
        for key, value in channel.model_dump(exclude_unset=True).items()
        if not key.startswith(_OF_THE_TARGET) and key not in _WORDS_OF_THE_TARGET
    }
    return AmplifierChannel.model_validate(kept | _target(entry))


def changed_words(entry: TargetEntry, known: Amplifier | None) -> str:
    """What an edit does to a known target, in one sentence; empty where it does nothing."""
    shown = None if known is None else shown_of(known)
    if known is None or shown is None or not _is_retargeted(entry, known, shown):
        return ""
    target = target_of(known, known.channel[0])
    source = known.channel[0].source or "no source given"
    before = "" if target is None else f"{figure(target.volts)}, {source}"
    return f"This replaces the known target ({before}); everything else about the amplifier stays."
