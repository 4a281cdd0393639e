"""Everything that decides how a run goes, in one frozen value: it stands in the journal's header.

A run that is built from the same setup and fed the same inputs says the same things, as long as the rules
have the same version.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from drivers.meter import MeterAccuracy
from drivers.reading import Unit
from procedures.amplifier import EMITTER_POINTS, Amplifier, AmplifierChannel, Condition, OutputStage
from procedures.analysis.channel import AnalysisSettings, ChannelSetup
from procedures.analysis.remembered import RememberedWarmUp
from procedures.checking import nearest
from procedures.earthing import BY_HAND, EarthedInput, Earthing, first_refusal, is_offset
from procedures.leads import Lead
from procedures.procedure import Procedure
from procedures.target import limits_of, target_of, target_questions

RULES_VERSION = "3"
"""Raised whenever the same inputs would lead to other decisions."""


@dataclass(frozen=True, slots=True)
class RunSetup:
    """What a run is told before it starts. `build` makes one from an amplifier, leads and meters.

    `cautions_acknowledged` is true when this unit's cautions were acknowledged earlier in this sitting;
    `cautions_read` says when and in which session, which is enough by itself.
    `after_off` is the recorded cause (or "unknown") of an earlier *off* alarm of this unit: the next
    power-up then has to be on the series lamp.
    """

    procedure: Procedure
    amplifier: Amplifier | None = None
    channels: tuple[ChannelSetup, ...] = ()
    leads: tuple[Lead, ...] = ()
    settings: AnalysisSettings = field(default_factory=AnalysisSettings)
    remembered: tuple[RememberedWarmUp, ...] = ()
    cautions_acknowledged: bool = False
    cautions_read: str = ""
    after_off: str = ""
    lid_fitted: bool = False
    practice: bool = False
    rules: str = RULES_VERSION
    earthing: Earthing = field(default_factory=Earthing)

    def __post_init__(self) -> None:
        """Refuse what cannot be done.

        A stage that this work is not for, a channel that nobody has described (`build` describes all), an
        earthed lead on live test points.
        """
        unsuited = unsuited_for(self.procedure, self.amplifier)
        if unsuited:
            raise ValueError(unsuited)
        known = [channel.channel for channel in self.channels]
        for name in self.procedure.channels:
            if name not in known:
                raise ValueError(f'the procedure works on "{name}", which is no channel of this bench')
        reads = [(lead.meter, lead.channel) for lead in self.leads if lead.channel is not None]
        reads += [(BY_HAND, channel.channel) for channel in self.channels if channel.typed]
        refusal = first_refusal(self.earthing, reads, self.channels)
        if refusal:
            raise EarthedInput(refusal)

    @property
    def remembered_from(self) -> tuple[str, ...]:
        """The days of earlier visits on which the forecast of a channel leans, newest first."""
        channels = {channel.channel for channel in self.channels}
        days = {one.recorded for one in self.remembered if one.channel in channels and one.recorded}
        return tuple(sorted(days, reverse=True))

    def questions(self) -> tuple[str, ...]:
        """What to ask before the run begins: odd entries of the amplifier, and targets that are missing."""
        asked = list(target_questions(self.amplifier)) if self.amplifier else []
        for channel in self.channels:
            if channel.channel in self.procedure.trimmed and not self._has_goal(channel):
                asked.append(self._missing_target(channel.channel))
        return tuple(asked)

    def _has_goal(self, channel: ChannelSetup) -> bool:
        """Whether there is something to trim to: a target, limits of its own unit, or a residual in words."""
        described = self.amplifier.channel_named(channel.channel) if self.amplifier else None
        if self.amplifier is not None and self.amplifier.bias == "fixed":
            return True  # nothing is trimmed
        goal = described is not None and bool(described.target_watts or described.target_residual)
        return goal or channel.target_volts is not None

    def _missing_target(self, channel: str) -> str:
        if self.amplifier is None:
            return f"{channel.capitalize()} has no target: which amplifier is it, or what should it read?"
        described = self.amplifier.channel_named(channel)
        if described is not None and (table := described.target_table) is not None:
            return (
                f"The target of {channel} follows the temperature of the {table.temperature_of}: "
                f"say how warm it is, {table.span}."
            )
        others = [described.name for described in self.amplifier.channel if described.has_target]
        return f"{self.amplifier.name} has no target for {channel}: {nearest(channel, others)}"

    @classmethod
    def build(
        cls,
        procedure: Procedure,
        amplifier: Amplifier | None = None,
        *,
        leads: Iterable[Lead] = (),
        typed: Iterable[str] = (),
        accuracies: Mapping[str, MeterAccuracy] | None = None,
        settings: AnalysisSettings | None = None,
        units: Mapping[str, Unit] | None = None,
        degrees_c: float | None = None,
        **more: object,
    ) -> RunSetup:
        """Put a setup together.

        Args:
            procedure: What is to be done.
            amplifier: The unit's model; without it the channels are watched only.
            leads: Which meter input reads which channel at the start.
            typed: Channels whose readings a person types.
            accuracies: A meter's accuracy by the meter's name, or by the channel's for typed ones.
            settings: The workshop's choices.
            units: What the sources of channels read that no amplifier describes; volts unless given.
            degrees_c: The temperature that targets as tables go by, in degrees Celsius.
            more: The remaining fields of a setup, by name.
        """
        wired = tuple(leads)
        by_hand = tuple(typed)
        known = accuracies or {}
        names = [channel.name for channel in amplifier.channel] if amplifier else []
        names += procedure.channels
        names += [lead.channel for lead in wired if lead.channel is not None] + list(by_hand)
        channels = []
        for name in dict.fromkeys(names):
            meter = next((lead.meter for lead in wired if lead.channel == name), None)
            if meter is None and wired and name not in by_hand:
                meter = wired[0].meter
            accuracy = known.get(name) or (known.get(meter) if meter else None)
            unit = (units or {}).get(name, Unit.VOLT)
            typed_too = name in by_hand
            channels.append(channel_setup(name, amplifier, accuracy, typed_too, unit, degrees_c=degrees_c))
        return cls(
            procedure=procedure,
            amplifier=amplifier,
            channels=tuple(channels),
            leads=wired,
            settings=settings or AnalysisSettings(),
            **more,  # type: ignore[arg-type]
        )


def channel_setup(
    name: str,
    amplifier: Amplifier | None,
    accuracy: MeterAccuracy | None = None,
    typed: bool = False,
    unit: Unit = Unit.VOLT,
    *,
    degrees_c: float | None = None,
) -> ChannelSetup:
    """What the analysis is told about a channel: all that the amplifier's data says about it.

    `unit` counts for a channel that no amplifier describes, `degrees_c` for a target as a table.
    """
    described = amplifier.channel_named(name) if amplifier else None
    if amplifier is None or described is None:
        limit = amplifier.offset_limit_millivolts if amplifier and is_offset(name) else None
        volts = None if limit is None else limit / 1000.0
        return ChannelSetup(
            channel=name,
            unit=unit,
            low_volts=None if volts is None else -volts,
            high_volts=volts,
            stage=OutputStage.UNKNOWN,
            accuracy=accuracy,
            typed=typed,
        )
    return _described(amplifier, described, accuracy, typed, degrees_c)


TUBES = (
    "A tube or hybrid amplifier is beyond this program, except to watch: its anode supply is lethal, also "
    "long after it is switched off, and belongs in licensed hands."
)


def unsuited_for(procedure: Procedure, amplifier: Amplifier | None) -> str:
    """Why a procedure cannot be carried out on this kind of amplifier, in one sentence; empty when it can."""
    stage = amplifier.output_stage if amplifier else OutputStage.UNKNOWN
    if stage in (OutputStage.TUBE, OutputStage.HYBRID) and procedure.needs_hands:
        return TUBES
    if stage is OutputStage.PWM and procedure.sets_bias:
        return "A PWM output stage has no bias to set: choose another procedure, or watch."
    return ""


def _described(
    amplifier: Amplifier,
    channel: AmplifierChannel,
    accuracy: MeterAccuracy | None,
    typed: bool,
    degrees_c: float | None,
) -> ChannelSetup:
    target = target_of(amplifier, channel, degrees_c)
    own = limits_of(amplifier, channel) if target is None else (target.low_volts, target.high_volts)
    at_emitters = channel.test_point in EMITTER_POINTS
    tolerance = amplifier.emitter_resistor_tolerance_percent
    return ChannelSetup(
        channel=channel.name,
        unit=channel.unit,
        target_volts=target.volts if target else None,
        low_volts=own[0],
        high_volts=own[1],
        condition=channel.condition.condition() if target else Condition(),
        stage=amplifier.output_stage,
        # Elsewhere the reading is not the current of one output device.
        resistance_ohm=amplifier.between_probes_ohm(channel) if at_emitters else None,
        emitter_resistor_ohm=amplifier.emitter_resistor_ohm(channel),
        resistor_tolerance=None if tolerance is None else tolerance / 100.0,
        pairs=amplifier.pairs,
        rail_volts=amplifier.rail_volts,
        device_limit_watts=amplifier.device_limit_watts,
        accuracy=accuracy,
        typed=typed,
    )
