"""What a person reads off a display and types, as a value of the channel that it belongs to."""

from __future__ import annotations

from drivers.errors import ReplyRefused
from drivers.reading import Unit
from drivers.typed import parse_typed, plain_unit, usual_unit
from procedures.analysis.channel import ChannelSetup

MOST_VOLTS = 200.0  # common practice, no source: more is a slip of the unit


def value_read_off(setup: ChannelSetup, text: str) -> float | None:
    """The value in the channel's unit, millivolts typed as such; None where the display shows overload.

    Raises:
        ReplyRefused: With a sentence that says what is wrong and what would be right.
    """
    entry = parse_typed(text, usual_unit(setup.unit))
    raw = text.encode("utf-8", "replace")
    if entry.unit is not setup.unit:
        unit, wanted = plain_unit(entry.unit).word, plain_unit(setup.unit).word
        raise ReplyRefused(
            f"{text.strip()!r} is in {unit}, {setup.channel} in {wanted}; check the meter's function", raw
        )
    if entry.value is not None and setup.unit is Unit.VOLT and abs(entry.value) > MOST_VOLTS:
        raise ReplyRefused(
            f"{entry.value:g} V is more than an output stage can show: check the value and the unit", raw
        )
    return entry.value
