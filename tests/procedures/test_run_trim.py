"""The two-channel bias trim, fed by an amplifier that warms up and by hands that follow it."""

from __future__ import annotations

import pytest
from bench_double import AmplifierDouble, Channel, ScriptedAnalysis, Sitting

from procedures.events import (
    Action,
    Answer,
    Event,
    Instruction,
    LeadMoved,
    LidChanged,
    Outcome,
    Question,
    RecordedValue,
    Request,
    StepChanged,
    StepState,
    Supply,
    SupplyChanged,
    Tier,
    Verdict,
)
from procedures.leads import Lead, Leads
from procedures.library import shipped_amplifiers, shipped_procedures
from procedures.runner import Run
from procedures.setup import RunSetup

TRIM = shipped_procedures()["two-channel-bias-trim"]
AMPLIFIER = shipped_amplifiers()["Kestrow K-40"]
TWO_METERS = (Lead("one", "1", "left bias"), Lead("two", "1", "right bias"))
ONE_METER = (Lead("one", "1", "left bias"),)


def sitting(
    left: Channel,
    right: Channel,
    leads: tuple[Lead, ...] = TWO_METERS,
    answers: dict[str, str] | None = None,
    typed: tuple[str, ...] = (),
    **setup: object,
) -> Sitting:
    """A run of the trim with an amplifier and hands; it stands before its first fact."""
    made = RunSetup.build(TRIM, AMPLIFIER, leads=leads, typed=typed, **setup)
    run = Run(made, ScriptedAnalysis(made.channels))
    return Sitting(
        run,
        AmplifierDouble({"left bias": left, "right bias": right}),
        Leads(leads),
        {"read": "acknowledged"} | (answers or {}),
        typed=typed,
    )


def _steps(said: list[Event], state: StepState = StepState.DONE) -> list[str]:
    return [event.step for event in said if isinstance(event, StepChanged) and event.state is state]


def _values(said: list[Event], name: str) -> dict[str | None, float | None]:
    return {
        event.channel: event.value
        for event in said
        if isinstance(event, RecordedValue) and event.name == name
    }


def _verdict(said: list[Event]) -> Verdict:
    return [event for event in said if isinstance(event, Verdict) and event.channel is None][-1]


def test_a_whole_trim_ends_with_both_channels_in_the_window() -> None:
    """Found low and high; left at the target, with the lid on, in one round."""
    bench = sitting(Channel(0.011), Channel(0.016))
    view = bench.to_end()

    assert view.ended is not None
    assert view.ended.finished
    assert _values(bench.said, "as found") == pytest.approx(
        {"left bias": 0.011, "right bias": 0.016}, rel=1e-2
    )
    assert _values(bench.said, "as left") == pytest.approx(
        {"left bias": 0.0135, "right bias": 0.0135}, rel=1e-2
    )
    assert _verdict(bench.said).outcome is Outcome.PASSED
    assert bench.amplifier.supply is Supply.OFF


def test_the_state_as_found_is_kept_cold_and_warm_before_anything_is_turned() -> None:
    """As found comes before the first trim, twice."""
    bench = sitting(Channel(0.011), Channel(0.016))
    bench.to_step("trim-left")

    cold, warm = _values(bench.said, "as found cold"), _values(bench.said, "as found")
    assert set(cold) == set(warm) == {"left bias", "right bias"}
    assert (cold["left bias"] or 0.0) < (warm["left bias"] or 0.0)


def test_warm_up_counts_from_power_on() -> None:
    """Twenty minutes after the switch, not after the step began."""
    bench = sitting(Channel(0.011), Channel(0.016))
    bench.to_step("warm-up")
    on_s = bench.run.view().power_on_s
    bench.to_step("as-found")

    assert on_s is not None
    assert bench.at_s - on_s == pytest.approx(1200.0, abs=3.0)


def test_a_unit_that_is_right_is_left_alone() -> None:
    """No trimmer is touched, and that is the result."""
    bench = sitting(Channel(0.0132), Channel(0.0138))
    bench.to_end()

    verdict = _verdict(bench.said)
    assert verdict.outcome is Outcome.LEFT_ALONE
    assert {"trim-left", "trim-right", "ten-minutes", "check"} <= set(_steps(bench.said, StepState.SKIPPED))
    assert bench.run._analysis.trims == []  # type: ignore[attr-defined]


def test_only_the_channel_that_is_wrong_is_trimmed() -> None:
    """The other one stays as it is and is said to be left alone."""
    bench = sitting(Channel(0.0132), Channel(0.016))
    bench.to_end()

    outcomes = {e.channel: e.outcome for e in bench.said if isinstance(e, Verdict) and e.step == "as-left"}
    assert outcomes == {"left bias": Outcome.LEFT_ALONE, "right bias": Outcome.PASSED}
    assert set(bench.run._analysis.trims) == {"right bias"}  # type: ignore[attr-defined]


@pytest.mark.parametrize("reversed_trimmer", [False, True])
def test_what_is_found_far_too_high_is_turned_down_by_a_nudge_first(reversed_trimmer: bool) -> None:
    """The direction is learned, never assumed; a rise is answered by turning back at once."""
    bench = sitting(Channel(0.030, reversed=reversed_trimmer), Channel(0.0135))
    bench.to_step("warm-up")

    texts = [
        event.text for event in bench.said if isinstance(event, Instruction) and event.step == "turn-down"
    ]
    assert texts[0] == "Turn the left trimmer by a hair, and watch the reading."
    assert any("that way" in text for text in texts)
    guided = [event for event in bench.said if isinstance(event, Request) and event.action is Action.GUIDE]
    assert [event.parameters for event in guided][:2] == [
        {"guide": "begin", "at_most_volts": pytest.approx(0.00675)},
        {"guide": "end"},
    ]
    assert bench.amplifier.volts("left bias", bench.at_s) <= 0.00675 * 1.01
    assert set(bench.run._analysis.trims) == {"left bias"}  # type: ignore[attr-defined]


def test_no_direction_is_said_before_a_nudge_has_shown_it() -> None:
    """Clockwise, up and down are words that nobody can know yet."""
    bench = sitting(Channel(0.030), Channel(0.030))
    bench.to_end()

    texts = " ".join(event.text for event in bench.said if isinstance(event, Instruction)).lower()
    assert "clockwise" not in texts


def test_a_channel_that_was_turned_down_is_not_measured_as_found_warm() -> None:
    """It is "already changed"; it is trimmed all the same."""
    bench = sitting(Channel(0.030), Channel(0.0135))
    bench.to_step("trim-left")

    warm = [e for e in bench.said if isinstance(e, RecordedValue) and e.name == "as found"]
    assert {e.channel: (e.value is None, e.reason) for e in warm} == {
        "left bias": (True, "already changed"),
        "right bias": (False, ""),
    }


def test_a_bias_that_runs_up_while_warming_is_turned_down_and_warmed_again() -> None:
    """The alarm to act ends the wait; the warm-up starts over after the trimmer was turned."""
    bench = sitting(Channel(0.014), Channel(0.0135))
    bench.to_step("warm-up")
    bench.amplifier.channels["left bias"].rest_volts = 0.036
    bench.run._analysis.say_alarm(Tier.ACT, "left bias")  # type: ignore[attr-defined]
    bench.to_step("turn-down-warm")
    bench.until(lambda view: view.step == "warm-up")
    bench.run._sitting.alarms.clear()
    bench.to_end()

    assert _steps(bench.said).count("warm-up") == 2
    assert _verdict(bench.said).outcome is Outcome.PASSED


def test_after_parts_were_changed_the_first_power_is_on_the_lamp() -> None:
    """Turned down on the lamp, lamp out, and nothing is judged before the full mains."""
    bench = sitting(Channel(0.030), Channel(0.030), answers={"choice": "yes"})
    bench.to_end()

    supplies = [fact.supply for fact in bench.fed if isinstance(fact, SupplyChanged)]
    assert supplies == [Supply.SERIES_LAMP, Supply.OFF, Supply.MAINS, Supply.OFF]
    assert all(e.conditions["supply"] == "mains" for e in bench.said if isinstance(e, RecordedValue))
    assert _verdict(bench.said).outcome is Outcome.PASSED


def test_one_meter_serves_both_channels_in_turns() -> None:
    """The lead is asked to be moved; each channel is measured, trimmed and checked through it."""
    bench = sitting(Channel(0.011), Channel(0.016), leads=ONE_METER)
    bench.to_end()

    moves = [fact.channel for fact in bench.fed if isinstance(fact, LeadMoved)]
    assert moves[:3] == ["right bias", "left bias", "right bias"]
    assert _values(bench.said, "as left") == pytest.approx(
        {"left bias": 0.0135, "right bias": 0.0135}, rel=1e-2
    )
    assert _verdict(bench.said).outcome is Outcome.PASSED


def test_a_typed_channel_takes_part_like_any_other() -> None:
    """One meter is read by the program, the other by a person."""
    bench = sitting(Channel(0.011), Channel(0.016), leads=ONE_METER, typed=("right bias",))
    bench.run._analysis._settled = lambda channel: bench.at_s > 1500.0  # type: ignore[attr-defined]
    bench.to_end()

    kept = [e for e in bench.said if isinstance(e, RecordedValue) and e.channel == "right bias"]
    assert all(e.conditions["typed"] == "yes" for e in kept)
    assert _verdict(bench.said).outcome is Outcome.PASSED


def test_not_measured_is_one_key_with_its_reason() -> None:
    """Dead: no trim, no guess, and the whole is "not measured"."""
    bench = sitting(Channel(0.0), Channel(0.0135), answers={"take left bias": "dead"})
    bench.to_end()

    kept = [e for e in bench.said if isinstance(e, RecordedValue) and e.channel == "left bias"]
    assert {(e.value, e.reason) for e in kept} == {(None, "dead")}
    assert "trim-left" in _steps(bench.said, StepState.SKIPPED)
    assert _verdict(bench.said).outcome is Outcome.NOT_MEASURED


def test_half_the_expected_reading_asks_where_the_probes_are() -> None:
    """The reading is taken only after the question was answered."""
    bench = sitting(Channel(0.0067, cold=1.0), Channel(0.0135))
    view = bench.until(lambda view: view.question is not None and view.question.id.endswith("span"))

    assert view.question is not None
    assert "one resistor instead of two?" in view.question.text
    assert _values(bench.said, "as found cold").keys() <= {"right bias"}
    bench.to_end()
    assert _verdict(bench.said).outcome is Outcome.PASSED


def test_probes_that_were_elsewhere_are_moved_and_measured_again() -> None:
    """The wrong reading is not kept."""
    bench = sitting(Channel(0.0067, cold=1.0), Channel(0.0135), answers={"span": "other"})
    bench.until(lambda view: view.question is not None and view.question.id.endswith("moved"))
    bench.answers.pop("span")
    bench.amplifier.channels["left bias"].rest_volts = 0.0134
    bench.to_step("warm-up")

    assert _values(bench.said, "as found cold")["left bias"] == pytest.approx(0.0134, rel=1e-3)


def test_what_moved_is_repeated_and_the_rounds_are_bounded() -> None:
    """A channel that never stays is given up after three rounds more, and fails."""
    bench = sitting(Channel(0.011), Channel(0.0135))
    left = bench.amplifier.channels["left bias"]
    while bench.run.view().ended is None:
        bench.second()
        if bench.run.view().step == "ten-minutes":
            left.knob = 0.7

    assert _steps(bench.said).count("trim-left") == 4
    assert _verdict(bench.said).outcome is Outcome.FAILED


def test_the_last_word_is_with_the_lid_on() -> None:
    """As left is taken ten minutes after the lid was laid on."""
    bench = sitting(Channel(0.0132), Channel(0.0138))
    bench.to_end()

    lid_s = next(fact.at_s for fact in bench.fed if isinstance(fact, LidChanged))
    kept = [e for e in bench.said if isinstance(e, RecordedValue) and e.name == "as left"]
    assert {e.conditions["lid"] for e in kept} == {"on"}
    assert all(e.at_s - lid_s >= 600.0 for e in kept)


def test_cautions_come_first_and_the_one_key_does_not_pass_them() -> None:
    """They have a key of their own, and are acknowledged once for each unit and sitting."""
    bench = sitting(Channel(0.0132), Channel(0.0138))
    bench.answers.clear()
    bench.second()
    view = bench.run.view()

    assert (view.step, view.next_label, view.key(1.0)) == ("cautions", "", None)
    assert view.question is not None
    assert "earthed" in view.question.text
    again = sitting(Channel(0.0132), Channel(0.0138), cautions_acknowledged=True)
    again.second()
    assert again.run.view().step == "parts"


def test_an_answer_to_an_old_question_changes_nothing() -> None:
    """A second press of the key is not an answer to the next question."""
    bench = sitting(Channel(0.0132), Channel(0.0138), cautions_acknowledged=True)
    bench.second()
    first = bench.run.view().question
    assert first is not None
    bench.feed(Answer(2.0, first.id, "no"))
    step = bench.run.view().step

    assert bench.feed(Answer(2.1, first.id, "no")) == ()
    assert bench.run.view().step == step == "as-received"


def test_every_instruction_begins_with_a_verb_and_is_one_sentence() -> None:
    """For somebody two metres away."""
    verbs = set()
    for bench in (
        sitting(Channel(0.030), Channel(0.016), answers={"choice": "yes"}),
        sitting(Channel(0.030), Channel(0.016), leads=ONE_METER),
    ):
        bench.to_end()
        for event in bench.said:
            if isinstance(event, Instruction) and event.text:
                assert event.text.endswith(".")
                assert ". " not in event.text
                verbs.add(event.text.split()[0])
    assert verbs <= {
        *(
            "Read",
            "Say",
            "Note",
            "Clip",
            "Switch",
            "Turn",
            "Go",
            "Let",
            "Wait",
            "Keep",
            "Move",
            "Leave",
            "Lay",
        ),
        "Look",
    }


def test_questions_are_asked_once_unless_they_change() -> None:
    """A question that stands is not repeated with every reading."""
    bench = sitting(Channel(0.011), Channel(0.016))
    bench.to_end()

    asked = [event.id for event in bench.said if isinstance(event, Question)]
    assert len(asked) == len(set(asked))


def test_a_trimmer_that_was_given_up_is_not_tried_again() -> None:
    """The channel fails; the other one is trimmed and checked once."""
    bench = sitting(Channel(0.011), Channel(0.016), answers={"trim": "give up"})
    bench.to_step("trim-left")
    bench.second()
    bench.until(lambda view: view.step == "trim-right")
    bench.answers.pop("trim")
    bench.to_end()

    assert _steps(bench.said, StepState.ACTIVE).count("trim-left") == 2
    assert bench.run._analysis.trims.count("left bias") == 1  # type: ignore[attr-defined]
    assert _verdict(bench.said).outcome is Outcome.FAILED
