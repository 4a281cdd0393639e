"""What a person tells about a meter, in the words in which it is typed. Not here: what they mean."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ToldMeter:
    """What a person told about the meter at an address, as it is typed; empty where nothing was.

    `lines` is true for lines that come by themselves (`pattern`, `unit`), `display` for one that is read off.
    The figures are a display's: percent of the reading, and digits of so many millivolts.
    """

    address: str
    lines: bool = False
    display: bool = False
    channels: str = ""
    pattern: str = ""
    unit: str = ""
    percent: str = ""
    digits: str = ""
    step_millivolts: str = ""
    ground_referenced: bool = False
