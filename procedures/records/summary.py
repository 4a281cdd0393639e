"""What a session came to, folded from its facts: as found, as left, verdicts, alarms, how it ended."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from procedures.events import (
    Alarm,
    Answer,
    ChannelGap,
    ChannelReading,
    Note,
    RecordedValue,
    RunEnded,
    SegmentOpened,
    Supply,
    SupplyChanged,
    Verdict,
)
from procedures.observed import Inspected
from procedures.records.codec import Fact


@dataclass(frozen=True, slots=True)
class SessionSummary:
    """The newest word on everything. `outcome` is the verdict on the whole; None when there was none.

    `words` are the answers that a person gave in words, each with its question's id. `alarms` holds each
    alarm once, at its highest; `on_s` is how long the amplifier was declared on.
    """

    lasted_s: float = 0.0
    on_s: float = 0.0
    readings: int = 0
    gaps: int = 0
    recorded: tuple[RecordedValue, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    outcome: Verdict | None = None
    alarms: tuple[Alarm, ...] = ()
    notes: tuple[Note, ...] = ()
    words: tuple[Answer, ...] = ()
    inspected: tuple[Inspected, ...] = ()
    supply: Supply = Supply.OFF
    ended: RunEnded | None = None

    def value(self, name: str, channel: str | None) -> RecordedValue | None:
        """The newest value under a name, or None."""
        return next((r for r in reversed(self.recorded) if (r.name, r.channel) == (name, channel)), None)

    def verdict(self, channel: str) -> Verdict | None:
        """The newest verdict on a channel, or None."""
        return next((v for v in reversed(self.verdicts) if v.channel == channel), None)


def summarise(facts: Iterable[Fact]) -> SessionSummary:
    """Fold the facts of a session, in their order."""
    kept = list(facts)
    verdicts = tuple(fact for fact in kept if isinstance(fact, Verdict))
    alarms = {fact.id: fact for fact in kept if isinstance(fact, Alarm)}
    ended = [fact for fact in kept if isinstance(fact, RunEnded)]
    lasted_s = max((fact.at_s for fact in kept), default=0.0)
    supply, on_s = _power(kept, lasted_s)
    return SessionSummary(
        lasted_s=lasted_s,
        on_s=on_s,
        readings=sum(isinstance(fact, ChannelReading) for fact in kept),
        gaps=sum(isinstance(fact, ChannelGap) for fact in kept),
        recorded=tuple(fact for fact in kept if isinstance(fact, RecordedValue)),
        verdicts=verdicts,
        outcome=next((v for v in reversed(verdicts) if v.channel is None and not v.subject), None),
        alarms=tuple(alarms.values()),
        notes=tuple(fact for fact in kept if isinstance(fact, Note)),
        words=tuple(fact for fact in kept if isinstance(fact, Answer) and fact.text.strip()),
        inspected=tuple(fact for fact in kept if isinstance(fact, Inspected)),
        supply=supply,
        ended=ended[-1] if ended else None,
    )


def _power(facts: Iterable[Fact], end_s: float) -> tuple[Supply, float]:
    """What the amplifier is fed from at the end, and how long it was on in all.

    Whoever takes a session up again says what feeds it then; what was on before counts as on until then.
    """
    supply, since_s, on_s = Supply.OFF, 0.0, 0.0
    for fact in facts:
        if isinstance(fact, SupplyChanged | SegmentOpened) and fact.supply is not supply:
            on_s += fact.at_s - since_s if supply is not Supply.OFF else 0.0
            supply, since_s = fact.supply, fact.at_s
    return supply, on_s + (end_s - since_s if supply is not Supply.OFF else 0.0)
