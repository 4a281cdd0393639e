"""A warm-up of the same unit that was recorded before, kept to sharpen the forecast of the next one."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RememberedWarmUp:
    """How a channel of this unit warmed up before.

    `elapsed_s` counts from power-on, ascending; `levels` are in the channel's unit, one each.
    `same_channel` is False where the other channel of the unit stands in.
    """

    channel: str
    elapsed_s: tuple[float, ...]
    levels: tuple[float, ...]
    same_channel: bool = True
    recorded: str = ""

    def __post_init__(self) -> None:
        """Refuse what cannot be a warm-up."""
        if len(self.elapsed_s) != len(self.levels):
            raise ValueError(f"{self.channel}: a remembered warm-up needs one level for every time")
        if any(b <= a for a, b in zip(self.elapsed_s, self.elapsed_s[1:], strict=False)):
            raise ValueError(f"{self.channel}: the times of a remembered warm-up must ascend")
