"""Pause, absence, stop, breaks, and the alarm to switch off."""

from __future__ import annotations

import pytest
from bench_double import AmplifierDouble, Channel, ScriptedAnalysis, Sitting

from procedures.events import (
    Alarm,
    Answer,
    AwayChanged,
    Input,
    Outcome,
    PauseChanged,
    RecordedValue,
    RunEnded,
    SegmentOpened,
    StepState,
    StopRequested,
    Supply,
    SupplyChanged,
    Tick,
    Tier,
)
from procedures.leads import Lead, Leads
from procedures.library import shipped_amplifiers, shipped_procedures
from procedures.runner import Run
from procedures.setup import RunSetup

LEADS = (Lead("one", "1", "left bias"), Lead("two", "1", "right bias"))


def _bench(**setup: object) -> Sitting:
    made = RunSetup.build(
        shipped_procedures()["two-channel-bias-trim"],
        shipped_amplifiers()["Kestrow K-40"],
        leads=LEADS,
        cautions_acknowledged=True,
        **setup,
    )
    amplifier = AmplifierDouble({"left bias": Channel(0.011), "right bias": Channel(0.016)})
    return Sitting(Run(made, ScriptedAnalysis(made.channels)), amplifier, Leads(LEADS))


def _analysis(bench: Sitting) -> ScriptedAnalysis:
    analysis = bench.run._analysis
    assert isinstance(analysis, ScriptedAnalysis)
    return analysis


def _go(bench: Sitting, seconds: int) -> None:
    for _ in range(seconds):
        bench.second()


def test_a_pause_holds_the_steps_and_not_the_readings() -> None:
    """Time goes on, readings come in, alarms are raised; no step begins or ends."""
    bench = _bench()
    bench.to_step("warm-up")
    bench.feed(PauseChanged(bench.at_s, True))
    bench.presses_keys = False
    _go(bench, 1500)
    _analysis(bench).say_alarm(Tier.LOOK, "left bias")
    bench.second()
    view = bench.run.view()

    assert (view.step, view.paused, view.question) == ("warm-up", True, None)
    assert view.next_label == "Go on"
    assert [alarm.alarm.tier for alarm in view.alarms] == [Tier.LOOK]
    assert view.channels[0].value == pytest.approx(0.011, rel=1e-2)

    bench.presses_keys = True
    bench.to_step("as-found")


def test_an_answer_during_a_pause_is_not_taken() -> None:
    """The steps are not listening."""
    bench = _bench()
    bench.to_step("parts")
    question = bench.run.view().question
    assert question is not None
    bench.feed(PauseChanged(1.0, True))
    bench.feed(Answer(2.0, question.id, "yes"))

    assert bench.run.view().step == "parts"


def test_nobody_at_the_bench_is_told_to_switch_off_first() -> None:
    """Away says so for as long as the amplifier is on; coming back brings the step back."""
    bench = _bench()
    bench.to_step("warm-up")
    bench.feed(AwayChanged(bench.at_s, True))
    away = bench.run.view()
    bench.feed(SupplyChanged(bench.at_s, Supply.OFF))
    away_and_off = bench.run.view()
    key = away_and_off.key(bench.at_s)
    assert key is not None
    bench.feed(key)
    back = bench.run.view()

    assert away.instruction is not None
    assert away.instruction.text == "Switch the mains off before you leave: nobody is watching."
    assert away_and_off.instruction is not None
    assert away_and_off.instruction.text == "Come back to go on; the readings are kept."
    assert (away.away, back.away) == (True, False)


def test_a_stopped_run_marks_its_step_as_stopped() -> None:
    """The rest is left waiting, and the reason is kept."""
    bench = _bench()
    bench.to_step("warm-up")
    said = bench.feed(StopRequested(bench.at_s, "the customer called"))
    view = bench.run.view()

    assert [(e.finished, e.reason) for e in said if isinstance(e, RunEnded)] == [
        (False, "the customer called")
    ]
    states = {line.id: line.state for line in view.steps}
    assert states["warm-up"] is StepState.STOPPED
    assert states["as-left"] is StepState.WAITING
    assert (view.step, view.next_label) == (None, "")
    assert view.instruction is not None
    assert view.instruction.text == "Switch the mains off, or keep watching: the run has ended."


def test_a_stop_lets_go_of_a_trimmer_in_hand() -> None:
    """The analysis is not left believing that somebody turns."""
    bench = _bench()
    bench.to_step("trim-left")
    assert _analysis(bench).trimming == ["left bias"]
    bench.feed(StopRequested(bench.at_s))

    assert _analysis(bench).trimming == []


def test_without_power_a_step_that_needs_it_asks_for_it() -> None:
    """The switch thrown in the middle is answered first; the warm-up then counts anew."""
    bench = _bench()
    bench.to_step("warm-up")
    _go(bench, 600)
    bench.feed(SupplyChanged(bench.at_s, Supply.OFF))
    view = bench.run.view()
    assert view.instruction is not None
    assert view.instruction.text == "Switch the amplifier on: this step needs power."
    bench.second()
    bench.until(lambda view: view.supply is Supply.MAINS)
    on_s = bench.at_s
    bench.to_step("as-found")

    assert bench.at_s - on_s == pytest.approx(1200.0, abs=5.0)


def test_power_lost_in_a_warm_step_warms_up_again_before_going_on() -> None:
    """The step in hand waits for the second warm-up and is then taken up, not skipped."""
    bench = _bench()
    bench.to_step("trim-left")
    bench.feed(SupplyChanged(bench.at_s, Supply.OFF))
    bench.to_step("warm-up")
    bench.until(lambda view: view.step not in {"warm-up", None})

    assert bench.run.view().step == "trim-left"
    bench.to_end()
    kept = [e for e in bench.said if isinstance(e, RecordedValue) and e.name == "as found"]
    assert len(kept) == 2


# --- the alarm to switch off ------------------------------------------------------------------------------


def _alarmed() -> Sitting:
    bench = _bench()
    bench.to_step("warm-up")
    _analysis(bench).say_alarm(Tier.OFF, "left bias", "Switch the mains off now: 52 mV and rising")
    bench.presses_keys = False
    bench.second()
    return bench


def test_an_off_alarm_stops_the_steps_and_is_not_on_the_one_key() -> None:
    """No key press can answer it by accident."""
    bench = _alarmed()
    view = bench.run.view()

    assert view.instruction is not None
    assert view.instruction.text == "Switch the mains off now."
    assert (view.next_label, view.key(bench.at_s), view.question) == ("", None, None)
    assert {line.id: line.state for line in view.steps}["warm-up"] is StepState.STOPPED
    assert view.ended is None


@pytest.mark.parametrize(
    ("answer", "cause"), [("", "unknown"), ("sensor transistor hung loose", "sensor transistor hung loose")]
)
def test_after_the_switch_the_cause_is_asked_and_ends_the_run(answer: str, cause: str) -> None:
    """A recorded cause, or "unknown", closes it."""
    bench = _alarmed()
    bench.feed(SupplyChanged(bench.at_s, Supply.OFF))
    question = bench.run.view().question
    assert question is not None
    bench.feed(Answer(bench.at_s, question.id, "unknown", answer))
    ended = bench.run.view().ended

    assert ended is not None
    assert not ended.finished
    assert f"cause as recorded: {cause}." in ended.reason


@pytest.mark.parametrize(
    "fact",
    [
        PauseChanged(5000.0, False),
        SupplyChanged(5000.0, Supply.MAINS),
        Tick(5000.0),
        SegmentOpened(5000.0, "resumed", 60.0, Supply.OFF),
    ],
)
def test_nothing_takes_a_run_up_again_after_an_off_alarm(fact: Input) -> None:
    """Not a pause, not power, not time, not a new segment."""
    bench = _alarmed()
    bench.feed(fact)
    view = bench.run.view()

    assert view.step is None
    assert bench.run.resume_refusal.startswith("Start a new run on the series lamp")
    assert (view.ended is not None) == isinstance(fact, SegmentOpened)


def test_the_run_after_an_off_alarm_begins_on_the_series_lamp() -> None:
    """Whatever the procedure says, the full mains comes second."""
    bench = _bench(after_off="unknown")
    view = bench.to_step("power-on")

    assert view.question is not None
    assert "First power-up after a repair" in view.question.text
    assert view.next_fact is None
    view = bench.until(lambda seen: seen.next_fact is not None)
    assert view.instruction is not None
    assert view.instruction.text == "Switch the amplifier on through the series lamp."
    bench.to_step("as-found-cold")
    assert [f.supply for f in bench.fed if isinstance(f, SupplyChanged)] == [Supply.SERIES_LAMP, Supply.MAINS]


# --- breaks -----------------------------------------------------------------------------------------------


def test_a_new_segment_goes_on_where_the_run_was() -> None:
    """With the amplifier found off, it warms up again first."""
    bench = _bench()
    bench.to_step("trim-left")
    assert bench.run.resume_refusal == ""
    bench.amplifier.switch(Supply.OFF, bench.at_s)
    bench.feed(SegmentOpened(bench.at_s + 300.0, "the computer lost power", 300.0, Supply.OFF))
    bench.at_s += 300.0
    view = bench.run.view()

    assert view.instruction is not None
    assert view.instruction.text == "Switch the amplifier on: this step needs power."
    bench.to_step("warm-up")
    bench.to_step("trim-left")


def test_a_run_that_has_ended_is_not_taken_up_again() -> None:
    """The reason is said."""
    bench = _bench()
    bench.second()
    bench.feed(StopRequested(2.0))

    assert bench.run.resume_refusal == "Start a new run: this one has ended (Stopped by a person.)."


def test_alarms_go_on_after_the_end() -> None:
    """The amplifier may still be on."""
    bench = _bench()
    bench.to_step("warm-up")
    bench.feed(StopRequested(bench.at_s))
    _analysis(bench).say_alarm(Tier.OFF, "left bias")
    said = bench.feed(Tick(bench.at_s + 1.0))

    assert [type(event) for event in said] == [Alarm]
    assert bench.run.resume_refusal.startswith("Start a new run on the series lamp")


def test_a_run_put_together_again_from_its_record_goes_on_to_its_end() -> None:
    """The inputs up to the crash, a new segment, and the rest of the work."""
    before = _bench()
    before.to_step("ten-minutes")
    setup = before.run.setup
    again = Run(setup, ScriptedAnalysis(setup.channels))
    for fact in before.fed:
        again.feed(fact)
    after = Sitting(again, before.amplifier, before.leads, at_s=before.at_s + 120.0)
    after.feed(SegmentOpened(after.at_s, "the program stopped", 120.0, Supply.MAINS))

    assert again.view().step == "ten-minutes"
    assert again.view().recorded == before.run.view().recorded
    assert again.view().power_on_s == before.run.view().power_on_s
    after.to_end()
    assert again.view().verdicts[-1].outcome is Outcome.PASSED
