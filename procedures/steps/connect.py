"""Connect: clip the meter on, with the mains switched off; says where each channel is read."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from procedures import cautions
from procedures.amplifier import TestPoint
from procedures.events import Answer, Choice, Supply, SupplyChanged
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, ChannelName, Conduct, Prompt, StepFields

_WHERE = {
    TestPoint.ONE_RESISTOR: "one emitter resistor",
    TestPoint.PAIR_IN_SERIES: "both emitter resistors in series, emitter to emitter",
    TestPoint.ONE_OF_SEVERAL: "one emitter resistor of one pair",
    TestPoint.PAIR_OF_SEVERAL: "both emitter resistors of one pair, emitter to emitter",
    TestPoint.TEST_PINS: "the test pins",
    TestPoint.SUPPLY_RAIL: "the sense resistor in the supply rail, which lies at rail voltage",
    TestPoint.SAFETY_RESISTOR: "the safety resistor in the supply, which lies at rail voltage",
    TestPoint.BASE_EMITTER: "base and emitter or the driver resistor, as the manual shows",
}


class Connect(StepFields):
    """The channels to be connected; all of the bench when none is named."""

    OUTCOMES: ClassVar[tuple[str, ...]] = ("done",)

    kind: Literal["connect"]
    channels: tuple[ChannelName, ...] = Field(default=(), max_length=64)

    def open(self, sitting: Sitting) -> Conduct:
        """Ask for it."""
        return _Connecting(self, sitting)


class _Connecting(Conduct):
    def __init__(self, line: Connect, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._channels = sitting.chosen(line.channels)

    def answer(self, name: str, answer: Answer) -> None:
        self.end("done")

    def prompt(self) -> Prompt:
        if self.sitting.supply is not Supply.OFF:
            return Prompt(
                "Switch the mains off before you clip anything on.",
                cautions.CLIPPING,
                key_label="It is switched off",
                key_fact=SupplyChanged(self.sitting.at_s, Supply.OFF),
            )
        text = f"Clip on with the mains switched off: {self._where()}."
        choices = (Choice("done", "It is connected", default=True),)
        return Prompt(text, cautions.CLIPPING, Asked("connected", self._errata() or text, choices=choices))

    def _errata(self) -> str:
        """What the manual of this amplifier has wrong; empty where nobody has said."""
        amplifier = self.sitting.amplifier
        return "\n".join(f"The manual is wrong here: {one}" for one in amplifier.errata) if amplifier else ""

    def _where(self) -> str:
        """The channels by their test points: `left bias and right bias across one emitter resistor each`."""
        places: dict[str, list[str]] = {}
        for channel in self._channels:
            if self.sitting.readable(channel):
                places.setdefault(self._place(channel), []).append(channel)
        if not places:
            return "the meter, to the first channel to be read"
        return "; ".join(f"{' and '.join(names)} {place}".strip() for place, names in places.items())

    def _place(self, channel: str) -> str:
        amplifier = self.sitting.amplifier
        described = amplifier.channel_named(channel) if amplifier else None
        point = described.test_point if described else None
        if point is TestPoint.MAINS_DRAW:
            return "at the meter in the mains lead"
        if point is TestPoint.RESIDUAL:
            return "at the distortion meter"
        return f"across {_WHERE[point]}" if point is not None else ""
