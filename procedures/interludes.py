"""What comes before any step: an alarm to switch off, a pause, nobody at the bench, missing power."""

from __future__ import annotations

from procedures import cautions
from procedures.analysis.alarm_words import SWITCH_OFF
from procedures.events import (
    Alarm,
    Answer,
    AnswerKind,
    AwayChanged,
    Choice,
    PauseChanged,
    Supply,
    SupplyChanged,
)
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, Prompt

UNKNOWN_CAUSE = "unknown"


def off_alarm(alarm: Alarm, switched_off: bool) -> Prompt:
    """After an alarm to switch off: first the mains, then the cause; nothing of it is on the one key.

    `switched_off` is true when a person has said so since the alarm; what was said before does not count,
    because the amplifier draws current.
    """
    if not switched_off:
        return Prompt(SWITCH_OFF, cautions.POWER_OFF, focus=alarm.channel)
    return Prompt(
        "Look for the cause before the next power-up: sensor contact, bias string, trimmer, output devices.",
        cautions.POWER_OFF,
        Asked(
            "cause",
            "Say what was found, or that the cause is unknown; the next power-up is on the series lamp.",
            AnswerKind.TEXT,
            (Choice(UNKNOWN_CAUSE, "The cause is unknown"),),
        ),
        focus=alarm.channel,
    )


def after_off(alarm: Alarm, answer: Answer) -> str:
    """Why the run ended, with the cause that a person recorded."""
    return (
        f"Ended by an alarm to switch off ({alarm.text}); cause as recorded: {answer.text or UNKNOWN_CAUSE}."
    )


def after_the_end() -> Prompt:
    """The run is over and the amplifier is on."""
    return Prompt("Switch the mains off, or keep watching: the run has ended.", cautions.POWER_OFF)


def paused(sitting: Sitting) -> Prompt:
    """While paused: how to go on. Readings, record and alarms go on by themselves."""
    caution = cautions.WARM if sitting.supply is not Supply.OFF else ""
    return Prompt(
        "Take up the run again when you are ready; readings and alarms go on.",
        caution,
        key_label="Go on",
        key_fact=PauseChanged(sitting.at_s, False),
    )


def away(sitting: Sitting) -> Prompt:
    """Nobody is at the bench."""
    if sitting.supply is Supply.OFF:
        text, caution = "Come back to go on; the readings are kept.", ""
    else:
        text, caution = "Switch the mains off before you leave: nobody is watching.", cautions.UNWATCHED
    back = AwayChanged(sitting.at_s, False)
    return Prompt(text, caution, key_label="I am back at the bench", key_fact=back)


def power_wanted(sitting: Sitting) -> Prompt:
    """The step in hand needs the amplifier to be on."""
    supply = Supply.SERIES_LAMP if sitting.lamp_first else Supply.MAINS
    how = "through the series lamp" if sitting.lamp_first else "on"
    return Prompt(
        f"Switch the amplifier {how}: this step needs power.",
        cautions.FIRST_POWER if sitting.lamp_first else cautions.POWER_ON,
        key_label="It is switched on",
        key_fact=SupplyChanged(sitting.at_s, supply),
    )
