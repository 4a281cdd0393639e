"""What the analysis advises is told: each new sentence, at most one of a kind a second, and the last one."""

from __future__ import annotations

from procedures.analysis.channel import AdviceKind, TrimAdvice
from procedures.events import Advice
from procedures.leads import Leads
from procedures.steps.sitting import Sitting


def _turn(millivolts: float) -> TrimAdvice:
    return TrimAdvice("left bias", AdviceKind.TURN, f"Turn until it shows {millivolts} mV")


def _told(sitting: Sitting) -> list[str]:
    return [event.text for event in sitting.outbox if isinstance(event, Advice)]


def test_the_last_sentence_is_told_though_it_came_within_a_second() -> None:
    """It stands on the screen from then on, so the record must have it too."""
    sitting = Sitting(channels={}, watcher=None, leads=Leads(()))  # type: ignore[arg-type]
    for at_s, millivolts in ((10.0, 12.8), (10.4, 12.9), (10.8, 13.0), (11.2, 13.0), (11.6, 13.0)):
        sitting.take_time(at_s)
        sitting.advise(_turn(millivolts))
    assert _told(sitting) == ["Turn until it shows 12.8 mV", "Turn until it shows 13.0 mV"]


def test_another_kind_is_told_at_once() -> None:
    """Turning on and turning back are opposite: nobody may wait a second for that."""
    sitting = Sitting(channels={}, watcher=None, leads=Leads(()))  # type: ignore[arg-type]
    sitting.advise(_turn(12.8))
    sitting.advise(TrimAdvice("left bias", AdviceKind.TURN_BACK, "Turn back"))
    assert _told(sitting) == ["Turn until it shows 12.8 mV", "Turn back"]
