"""What is asked for before a channel can be read and judged: a fair supply, and a lead on it."""

from __future__ import annotations

from procedures import cautions
from procedures.events import DriveChanged, LeadMoved, Supply, SupplyChanged
from procedures.steps.sitting import Sitting
from procedures.steps.step import Prompt


def quiet_wanted(sitting: Sitting) -> Prompt | None:
    """How the signal goes away; None while there is none. With one, the current is not the idle current."""
    if not sitting.driven:
        return None
    return Prompt(
        "Take the signal away: the bias is judged without one.",
        cautions.TEST_POINTS,
        key_label="There is no signal",
        key_fact=DriveChanged(sitting.at_s, False),
    )


def fair_reading_wanted(sitting: Sitting) -> Prompt | None:
    """How readings come to be worth judging: no signal, and full mains; None while they are.

    On a series lamp or at reduced mains the rails sag, and nothing that is judged there holds afterwards.
    """
    quiet = quiet_wanted(sitting)
    if quiet is not None:
        return quiet
    if sitting.supply in (Supply.MAINS, Supply.OFF):
        return None
    text = "Feed the amplifier straight from the mains: on less than that nothing can be judged."
    if sitting.supply is Supply.SERIES_LAMP:
        text = "Switch off, take the series lamp out, then switch on straight from the mains."
    return Prompt(
        text,
        cautions.LAMP_REMOVED,
        key_label="It is on, straight from the mains",
        key_fact=SupplyChanged(sitting.at_s, Supply.MAINS),
    )


def lead_wanted(sitting: Sitting, channel: str) -> Prompt | None:
    """How a channel comes to be read; None where it can be read."""
    if sitting.readable(channel):
        return None
    lead = sitting.lead_for(channel)
    if lead is None:
        return Prompt(
            f"Connect a meter to {channel}, or type what it shows.", cautions.CLIPPING, focus=channel
        )
    return Prompt(
        f"Move the lead to {channel}.",
        cautions.MOVING_LEAD,
        key_label=f"The lead is on {channel}",
        key_fact=LeadMoved(sitting.at_s, lead.meter, lead.input, channel),
        focus=channel,
    )


def fixed_bias(sitting: Sitting) -> str:
    """Why nothing is trimmed here; empty where there is a trimmer."""
    fixed = sitting.amplifier is not None and sitting.amplifier.bias == "fixed"
    return "the bias of this amplifier is fixed: it has no trimmer" if fixed else ""
