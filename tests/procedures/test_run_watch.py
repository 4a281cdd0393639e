"""Watch: readings and alarms, no questions."""

from __future__ import annotations

from dataclasses import replace

from bench_double import ScriptedAnalysis

from procedures.events import (
    Acknowledged,
    Alarm,
    AlarmCleared,
    ChannelReading,
    LeadMoved,
    Question,
    RunEnded,
    StopRequested,
    Supply,
    SupplyChanged,
    Tick,
    Tier,
)
from procedures.leads import Lead
from procedures.library import shipped_procedures
from procedures.runner import Run
from procedures.setup import RunSetup

WATCH = shipped_procedures()["watch"]


def _run() -> tuple[Run, ScriptedAnalysis]:
    setup = RunSetup.build(WATCH, leads=[Lead("meter", "1", "left bias")])
    analysis = ScriptedAnalysis(setup.channels)
    return Run(setup, analysis), analysis


def test_watch_asks_nothing_from_the_first_fact_to_the_last() -> None:
    """Neither cautions nor questions stand before the readings."""
    run, _ = _run()

    said = [*run.feed(Tick(0.0)), *run.feed(ChannelReading(1.0, "left bias", 0.0135))]

    assert not [event for event in said if isinstance(event, Question)]
    assert run.view().step == "watch"
    assert run.view().question is None
    assert run.view().channels[0].value == 0.0135


def test_watch_does_nothing_on_the_one_key() -> None:
    """An empty label says so."""
    run, _ = _run()
    run.feed(Tick(0.0))

    assert run.view().next_label == ""
    assert run.view().key(1.0) is None


def test_alarms_come_through_and_fall_silent_when_acknowledged() -> None:
    """The same alarm again is news again."""
    run, analysis = _run()
    run.feed(Tick(0.0))
    analysis.say_alarm(Tier.ACT, "left bias")
    said = run.feed(ChannelReading(1.0, "left bias", 0.05))
    run.feed(Acknowledged(2.0, "act left bias"))

    assert [event.tier for event in said if isinstance(event, Alarm)] == [Tier.ACT]
    assert [alarm.acknowledged for alarm in run.view().alarms] == [True]

    analysis.say_alarm(Tier.ACT, "left bias")
    run.feed(ChannelReading(3.0, "left bias", 0.06))

    assert [alarm.acknowledged for alarm in run.view().alarms] == [False]


def test_a_stopped_watch_goes_on_being_watched() -> None:
    """After the end nothing is asked any more, but the analysis lives on."""
    run, analysis = _run()
    run.feed(Tick(0.0))
    ended = [event for event in run.feed(StopRequested(5.0)) if isinstance(event, RunEnded)]
    analysis.say_alarm(Tier.ACT, "left bias")
    said = run.feed(ChannelReading(6.0, "left bias", 0.05))

    assert [(event.finished, event.reason) for event in ended] == [(False, "Stopped by a person.")]
    assert [type(event) for event in said] == [Alarm]
    assert run.view().ended == ended[0]
    assert run.feed(StopRequested(7.0)) == ()


def test_a_reading_of_an_unknown_channel_harms_nothing() -> None:
    """It is recorded by others; the run has no use for it."""
    run, _ = _run()
    run.feed(Tick(0.0))

    assert run.feed(ChannelReading(1.0, "mains", 230.0)) == ()


def test_an_off_alarm_counts_although_nobody_said_that_the_amplifier_is_on() -> None:
    """The reading says so; only a declaration after the alarm ends it."""
    run, analysis = _run()
    run.feed(Tick(0.0))
    analysis.say_alarm(Tier.OFF, "left bias")
    run.feed(ChannelReading(1.0, "left bias", 0.2))
    before = run.view()
    run.feed(SupplyChanged(2.0, Supply.OFF))
    after = run.view()

    assert before.instruction is not None
    assert before.instruction.text == "Switch the mains off now."
    assert before.question is None
    assert after.question is not None
    assert after.question.id.endswith("cause")


def test_a_channel_without_a_lead_is_not_called_blind() -> None:
    """It is silent because the one lead reads the other channel; nothing has gone wrong."""
    run, analysis = _run()
    run.feed(Tick(0.0))
    run.feed(LeadMoved(1.0, "meter", "1", "right bias"))
    analysis.say_alarm(Tier.BLIND, "left bias", "Left bias has given no reading.")
    elsewhere = run.feed(Tick(20.0))
    run.feed(LeadMoved(21.0, "meter", "1", "left bias"))
    analysis.say_alarm(Tier.BLIND, "left bias", "Left bias has given no reading.")
    here = run.feed(Tick(40.0))

    assert not [event for event in elsewhere if isinstance(event, Alarm)]
    assert [event.tier for event in here if isinstance(event, Alarm)] == [Tier.BLIND]


def test_an_alarm_of_a_channel_that_no_lead_reads_any_more_is_over() -> None:
    """Also where the lead was clipped there before the run began."""
    setup = RunSetup.build(shipped_procedures()["watch"], leads=[Lead("meter", "1", "left bias")])
    setup = replace(setup, channels=tuple(replace(one, target_volts=0.0135) for one in setup.channels))
    run = Run(setup)
    said = [event for second in range(12) for event in run.feed(ChannelReading(second, "left bias", 0.05))]
    (alarm,) = [event for event in said if isinstance(event, Alarm)]

    moved = run.feed(LeadMoved(12.0, "meter", "1", "right bias"))

    assert [event.id for event in moved if isinstance(event, AlarmCleared)] == [alarm.id]
    assert not run.view().alarms
