"""How an alarm stands: raised, escalated, acknowledged, re-armed 10 % higher, cleared.

Not here: the conditions (`alarms`, `runaway`) and the words (`alarm_words`).
"""

from __future__ import annotations

from typing import Final

from procedures.events import Alarm, AlarmCleared, Tier

REARM: Final = 1.10
CLEAR_FOR_S: Final = 15.0
AGAIN_S: Final = 120.0  # common practice, no source: "switch off" was seen, and nobody has
RANK: Final = {Tier.LOOK: 1, Tier.ACT: 2, Tier.OFF: 3}


class Since:
    """How long a condition has held without a break."""

    def __init__(self) -> None:
        self._from_s: float | None = None
        self._count = 0

    def update(self, at_s: float, holds: bool) -> float:
        """Seconds for which the condition has held; -1 while it does not."""
        if not holds:
            self._from_s, self._count = None, 0
            return -1.0
        if self._from_s is None:
            self._from_s = at_s
        self._count += 1
        return at_s - self._from_s

    @property
    def count(self) -> int:
        """How many times in a row it has been seen to hold."""
        return self._count


class Standing:
    """One alarm id: raised, acknowledged, re-armed, cleared."""

    def __init__(self, alarm_id: str, channel: str) -> None:
        self.id = alarm_id
        self._channel = channel
        self.tier: Tier | None = None
        self._acknowledged: tuple[int, float] | None = None  # rank and ratio when it was seen
        self._seen_s = 0.0
        self._held_s = 0.0  # when the condition was last found to hold
        self._ratio = 0.0
        self._absent = Since()

    @property
    def idle(self) -> bool:
        """Neither raised nor remembered as acknowledged."""
        return self.tier is None and self._acknowledged is None

    def hold(self, at_s: float, tier: Tier, ratio: float, text: str) -> tuple[Alarm | AlarmCleared, ...]:
        """The condition holds at `tier`; what is to be said about it."""
        self._absent.update(at_s, False)
        self._ratio, self._held_s = ratio, at_s
        rank = RANK.get(tier, 1)
        raised = self.tier is not None and rank <= RANK.get(self.tier, 1)
        if self._acknowledged is not None:
            seen_rank, seen_ratio = self._acknowledged
            forgotten = tier is Tier.OFF and at_s - self._seen_s >= AGAIN_S
            if rank <= seen_rank and ratio <= seen_ratio * REARM and not forgotten:
                return ()
        elif raised:
            return ()
        self.tier, self._acknowledged = tier, None
        return (Alarm(at_s, self.id, tier, self._channel, text),)

    def release(self, at_s: float, ratio: float | None, reason: str) -> tuple[Alarm | AlarmCleared, ...]:
        """The condition does not hold; cleared when that has lasted."""
        if self._acknowledged and ratio is not None and ratio < self._acknowledged[1] / REARM:
            self._acknowledged = None
        if self.tier is None or self._absent.update(at_s, True) < CLEAR_FOR_S:
            return ()
        return self.clear(at_s, reason)

    def clear(self, at_s: float, reason: str) -> tuple[Alarm | AlarmCleared, ...]:
        """End the alarm at once."""
        if self.tier is None:
            return ()
        self.tier = None
        self._absent.update(at_s, False)
        if self._acknowledged and self._acknowledged[1] <= 0.0:
            self._acknowledged = None  # no level to re-arm by: the next time is a new event
        return (AlarmCleared(at_s, self.id, reason),)

    def acknowledge(self) -> None:
        """A person has seen it."""
        if self.tier is not None:
            self._acknowledged = (RANK.get(self.tier, 1), self._ratio)
            self._seen_s = self._held_s

    def forget(self) -> None:
        """What was acknowledged no longer counts (another power-up)."""
        self._acknowledged = None
