"""What an amplifier is rated for, and the parts of its data that are tables of their own.

Here: power and its kin as a maker states them, rail states of a stage with several supplies, presets and
which of them interact, a target as a table against temperature. Not here: the amplifier itself and its
channels (`amplifier`), and any measurement.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Literal

from pydantic import Field, model_validator

from procedures.entries import Degrees, Entry, Name, Words


class PowerRating(Entry):
    """So many watts into a load at a distortion, one channel or both driven."""

    watts: float = Field(gt=0.0, le=20_000.0)
    load_ohm: float = Field(gt=0.0, le=1000.0)
    distortion_percent: float | None = Field(default=None, gt=0.0, le=100.0)
    both_driven: bool = True

    @property
    def volts(self) -> float:
        """The voltage at the output, rms: `V = sqrt(P R)`."""
        return float((self.watts * self.load_ohm) ** 0.5)


class Ratings(Entry):
    """What the maker states. Everything may be missing; nothing is guessed.

    `low_hz`, `high_hz` and `response_db` belong together: from, to, within so many decibels either way.
    `sensitivity_millivolts` is the input for the first power that is listed.
    """

    power: tuple[PowerRating, ...] = Field(default=(), max_length=10)
    distortion_percent: float | None = Field(default=None, gt=0.0, le=100.0)
    low_hz: float | None = Field(default=None, gt=0.0, le=1e6)
    high_hz: float | None = Field(default=None, gt=0.0, le=1e6)
    response_db: float | None = Field(default=None, gt=0.0, le=20.0)
    sensitivity_millivolts: float | None = Field(default=None, gt=0.0, le=100_000.0)
    gain_db: float | None = Field(default=None, ge=-20.0, le=100.0)
    signal_to_noise_db: float | None = Field(default=None, gt=0.0, le=160.0)
    crosstalk_db: float | None = Field(default=None, ge=-160.0, lt=0.0)
    damping_factor: float | None = Field(default=None, gt=0.0, le=100_000.0)
    idle_watts: float | None = Field(default=None, gt=0.0, le=5000.0)
    mains_volts: float | None = Field(default=None, gt=0.0, le=480.0)
    fuse: Words = ""
    protection: Literal["I", "II", "III"] | None = None

    @model_validator(mode="after")
    def _response_in_order(self) -> Ratings:
        if self.low_hz is not None and self.high_hz is not None and self.low_hz >= self.high_hz:
            raise ValueError(
                f"low_hz is {self.low_hz:g} and high_hz {self.high_hz:g}; low must be below high (swapped?)"
            )
        return self


class DcProtection(Entry):
    """How the papers say that the output protection is tried: where DC is fed, and when it has to act.

    It must act between the two, in either polarity. The point is a sense point, never an output.
    """

    point: Words
    low_millivolts: float = Field(gt=0.0, le=20_000.0)
    high_millivolts: float = Field(gt=0.0, le=20_000.0)
    source: Words = ""

    @model_validator(mode="after")
    def _in_order(self) -> DcProtection:
        if not self.point:
            raise ValueError("point must say where DC is fed, as the maker's papers name it")
        if self.low_millivolts >= self.high_millivolts:
            raise ValueError(
                f"low_millivolts is {self.low_millivolts:g} and high_millivolts {self.high_millivolts:g}; "
                "low must be below high (swapped?)"
            )
        return self

    @property
    def low_volts(self) -> float:
        """Below this it must not act yet."""
        return self.low_millivolts / 1000.0

    @property
    def high_volts(self) -> float:
        """Up to this it must have acted."""
        return self.high_millivolts / 1000.0


class RailState(Entry):
    """One of several supplies that a stage of class G or H may run from, and when it does."""

    name: Name
    volts: float = Field(gt=0.0, le=500.0)
    when: Words = ""


class Preset(Entry):
    """One trimmer of the unit: what it sets, which channel it acts on, which others it upsets.

    `interacts_with` names the presets to be looked at again after this one was turned. `turns` is the
    number of turns from stop to stop where there is more than one.
    """

    name: Name
    sets: Literal["bias", "offset", "distortion", "other"] = "bias"
    channel: Name | None = None
    interacts_with: tuple[Name, ...] = Field(default=(), max_length=20)
    turns: float | None = Field(default=None, gt=0.0, le=100.0)
    notes: Words = ""


class TableRow(Entry):
    """One row of a target that depends on temperature: so many millivolts at so many degrees Celsius."""

    degrees_c: Degrees
    millivolts: float = Field(gt=0.0, le=10_000.0)


class TargetTable(Entry):
    """A target against the temperature of the room or of the heatsink, in between as on a straight line."""

    temperature_of: Literal["room", "heatsink"] = "room"
    row: tuple[TableRow, ...] = Field(min_length=2, max_length=50)

    @model_validator(mode="after")
    def _rising(self) -> TargetTable:
        degrees = [row.degrees_c for row in self.row]
        for one, two in pairwise(degrees):
            if two <= one:
                raise ValueError(
                    f"the rows go from {one:g} to {two:g} degrees; put them in order of rising temperature, "
                    "each once"
                )
        return self

    def millivolts(self, degrees_c: float) -> float | None:
        """The target at a temperature; None outside the table, which says nothing there."""
        rows = self.row
        if not rows[0].degrees_c <= degrees_c <= rows[-1].degrees_c:
            return None
        for one, two in pairwise(rows):
            if degrees_c <= two.degrees_c:
                share = (degrees_c - one.degrees_c) / (two.degrees_c - one.degrees_c)
                return one.millivolts + share * (two.millivolts - one.millivolts)
        return rows[-1].millivolts

    @property
    def span(self) -> str:
        """From where to where it says anything: `10 to 40 °C`."""
        return f"{self.row[0].degrees_c:g} to {self.row[-1].degrees_c:g} °C"
