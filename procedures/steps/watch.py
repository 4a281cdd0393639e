"""Watch: readings, trace and alarms, nothing else, and no questions. It ends when the run is stopped."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from procedures.steps.sitting import Sitting
from procedures.steps.step import ChannelName, Conduct, Prompt, StepFields


class Watch(StepFields):
    """Watch the channels for as long as the person likes."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ()
    HANDS: ClassVar[bool] = False

    kind: Literal["watch"]
    channels: tuple[ChannelName, ...] = Field(default=(), max_length=64)

    def open(self, sitting: Sitting) -> Conduct:
        """Start watching."""
        return _Watching(sitting)


class _Watching(Conduct):
    def prompt(self) -> Prompt:
        return Prompt(
            "Watch the readings, and stop the run when you have seen enough.",
            caution="Both test points are live while the amplifier is on.",
        )
