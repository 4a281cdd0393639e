"""Bias channels that fall to zero: one alone (a slip, a lead off) or all together (the supply).

One channel that fell is only judged when another has been read after it, so that a lost supply is not
called a slip; alone on the bench, after a few seconds. Not here: the words (`disturbance`).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

_LIVE = 0.2  # of the target: a channel below it is not live
_ZERO = 0.03
_TOGETHER_S = 15.0
_ALONE_AFTER_S = 4.0


class Vanished(StrEnum):
    """What fell to zero."""

    ONE = "one"
    ALL = "all"


@dataclass(slots=True)
class _Place:
    live_s: float | None = None
    zero_s: float | None = None
    zeros: int = 0
    told: bool = False


class VanishFinder:
    """Watches the bias channels of a bench. Levels are ratios to each channel's target."""

    def __init__(self, channels: tuple[str, ...]) -> None:
        self._places = {name: _Place() for name in channels}
        self._falling: set[str] = set()  # channels at zero; usually none, and then there is nothing to do
        self._all_told = False

    def forget(self) -> None:
        """Another supply: nothing is known to have been live."""
        self._places = {name: _Place() for name in self._places}
        self._falling.clear()

    def see(
        self, at_s: float, channel: str, ratio: float, lone: bool = False, urgent: bool = False
    ) -> tuple[Vanished, tuple[str, ...]] | None:
        """Take a reading; what has vanished, with the channels, once.

        `lone`: one reading at zero is enough. `urgent`: do not wait for the other channels.
        """
        place = self._places[channel]
        if abs(ratio) >= _ZERO:
            place.zero_s, place.zeros, place.told = None, 0, False
            self._all_told = False
            if abs(ratio) >= _LIVE:
                place.live_s = at_s
            self._falling.discard(channel)
            return self._one(at_s, urgent) if self._falling else None
        self._falling.add(channel)
        place.zeros += 1 if not lone else 2
        if place.zero_s is None:
            place.zero_s = at_s
        return self._all() or self._one(at_s, urgent)

    def _known(self) -> dict[str, _Place]:
        return {name: place for name, place in self._places.items() if place.live_s is not None}

    def _all(self) -> tuple[Vanished, tuple[str, ...]] | None:
        known = self._known()
        if self._all_told or len(known) < 2 or any(p.zeros < 2 for p in known.values()):
            return None
        starts = [p.zero_s or 0.0 for p in known.values()]
        if max(starts) - min(starts) > _TOGETHER_S:
            return None
        self._all_told = True
        for place in known.values():
            place.told = True
        return Vanished.ALL, tuple(known)

    def _one(self, at_s: float, urgent: bool) -> tuple[Vanished, tuple[str, ...]] | None:
        known = self._known()
        for name, place in known.items():
            if place.zeros < 2 or place.told or place.zero_s is None:
                continue
            fell_s = place.zero_s
            others = [p for other, p in known.items() if other != name]
            alive = any((p.live_s or 0.0) > fell_s + 1.0 for p in others)
            waited = at_s - fell_s >= (_TOGETHER_S if others else _ALONE_AFTER_S)
            if fell_s - (place.live_s or 0.0) > _TOGETHER_S:
                place.told = True  # it faded; nothing fell
            elif alive or waited or urgent:
                place.told = True
                return Vanished.ONE, (name,)
        return None
