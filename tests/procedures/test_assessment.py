"""What an assessment of practice says of careful and of careless hands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from procedures.analysis.channel import ChannelSetup
from procedures.assessment import Assessment, assess
from procedures.assessment_words import told
from procedures.events import (
    Advice,
    Alarm,
    Answer,
    ChannelReading,
    RunEnded,
    StepChanged,
    StepState,
    Supply,
    SupplyChanged,
    Tier,
)
from procedures.library import shipped_procedures
from procedures.records.codec import Fact, LineRefused
from procedures.records.journal import Header, Journal, read_journal
from procedures.records.practised import (
    Diagnosis,
    HandMoved,
    PractiseLine,
    UnitDefect,
    UnitTruth,
    practise_line,
)
from procedures.replay import setup_of
from procedures.setup import RunSetup

SAMPLES = Path(__file__).resolve().parents[2] / "sample_sessions"
SETUP = RunSetup(
    procedure=shipped_procedures()["two-channel-bias-trim"],
    channels=tuple(
        ChannelSetup(f"{side} bias", target_volts=0.0135, low_volts=0.0128, high_volts=0.0142)
        for side in ("left", "right")
    ),
    practice=True,
)
HEADER = Header("5e55", datetime(2026, 1, 5, tzinfo=UTC), {}, "1", practice=True)


def _course(channel: str, *points: tuple[float, float]) -> list[Fact]:
    """Readings in millivolts, two of each so that one alone counts for nothing."""
    return [ChannelReading(at_s + d, channel, mv / 1e3) for at_s, mv in points for d in (0.0, 0.5)]


def _assess(facts: Sequence[Fact], practised: Sequence[PractiseLine] = ()) -> Assessment:
    ordered = sorted(facts, key=lambda fact: fact.at_s)
    return assess(SETUP, Journal(HEADER, facts=list(ordered), practised=list(practised)))


def _turn(at_s: float, channel: str = "left bias") -> HandMoved:
    return HandMoved(at_s, "turn", channel, 0.01)


def _truth(left: float | None, right: float | None = 13.5, *defects: UnitDefect) -> UnitTruth:
    volts = {"left bias": left, "right bias": right}
    given = {name: None if mv is None else mv / 1e3 for name, mv in volts.items()}
    return UnitTruth(1.0, given, given, defects)


def _sample(name: str) -> Assessment:
    with open(SAMPLES / name / "journal.jsonl", encoding="utf-8") as file:
        journal = read_journal(file)
    return assess(setup_of(journal.header), journal)


def test_careful_hands_on_a_recorded_run() -> None:
    """Two channels were out, two adjustments were made, both rest inside, nothing was cut short."""
    was = _sample("healthy-trim")
    assert was.finished
    assert (len(was.visits), was.fewest) == (2, 2)
    assert [left.stays for left in was.left] == [True, True]
    assert was.cuts == ()
    assert was.alarms == ()
    assert was.seen == ()


def test_a_unit_that_is_right_needs_no_adjustment() -> None:
    """Leaving it alone is what the truth asks for."""
    was = _sample("one-meter-right-as-found")
    assert (was.visits, was.fewest) == ((), 0)
    assert "No trimmer was turned; none could have improved it, or none was needed." in told(was)


def test_a_runaway_that_was_switched_off_in_time() -> None:
    """The alarm was heeded within seconds, and no trimmer could have mended it."""
    was = _sample("runaway-stopped-in-time")
    assert was.fewest == 0
    assert was.alarms
    assert all(one.stood_s is not None and one.stood_s >= 0.0 for one in was.alarms)
    assert [seen.defect.kind for seen in was.seen] == ["runs away"]
    assert was.seen[0].told_s is not None
    assert all(left.rests_volts is None and left.stays is False for left in was.left)


def test_turns_within_a_minute_are_one_adjustment_and_another_trimmer_ends_it() -> None:
    """A nudge and what follows it belong together; coming back later does not."""
    moves = [_turn(10.0), _turn(40.0), _turn(50.0, "right bias"), _turn(60.0), _turn(200.0)]
    was = _assess([], moves)
    assert [(v.channel, v.from_s) for v in was.visits] == [
        ("left bias", 10.0),
        ("right bias", 50.0),
        ("left bias", 60.0),
        ("left bias", 200.0),
    ]


def test_a_reading_beyond_the_far_edge_is_counted_with_its_size() -> None:
    """From 11 mV to 15 mV is 0.8 mV beyond a window that ends at 14.2 mV; from 11 to 14 is none."""
    facts = _course("left bias", (0, 11), (11, 15), (200, 11), (211, 14))
    was = _assess(facts, [_turn(10.0), _turn(210.0)])
    assert [v.past_volts for v in was.visits] == [pytest.approx(0.0008), 0.0]
    assert "Beyond the window: once, by 0.80 mV at the most." in told(was)


def test_the_window_moves_with_what_the_meter_was_to_show() -> None:
    """Told to show 10 mV now because it will rise, 10.2 mV is no overshoot and 12 mV is."""
    advice = Advice(5.0, "left bias", "turn", "Turn.", show_volts=0.010)
    near = _assess([advice, *_course("left bias", (0, 8), (11, 10.2))], [_turn(10.0)])
    far = _assess([advice, *_course("left bias", (0, 8), (11, 12))], [_turn(10.0)])
    assert near.overshoots == ()
    assert far.overshoots[0].past_volts == pytest.approx(0.0013)


def test_a_reading_that_was_brought_far_down_first_is_no_overshoot() -> None:
    """Below the window is where turning down is meant to lead."""
    step = StepChanged(1.0, "turn-down", StepState.ACTIVE)
    was = _assess([step, *_course("left bias", (2, 60), (11, 6))], [_turn(10.0)])
    assert was.overshoots == ()


def test_an_alarm_stands_until_the_current_falls_or_the_mains_is_off() -> None:
    """Ten per cent less than at the alarm counts as fallen."""
    alarm = Alarm(20.0, "left", Tier.ACT, "left bias", "Too high.")
    fell = _assess([alarm, *_course("left bias", (19, 40), (30, 41), (45, 35))])
    off = _assess([alarm, *_course("left bias", (19, 40)), SupplyChanged(27.0, Supply.OFF)])
    never = _assess([alarm, *_course("left bias", (19, 40), (60, 50))])
    assert [was.alarms[0].stood_s for was in (fell, off, never)] == [25.0, 7.0, None]
    assert "the current did not fall before the end" in " ".join(told(never))


def test_waiting_that_was_cut_short_is_said_with_what_was_left() -> None:
    """Seven of ten minutes were not waited."""
    facts = [
        StepChanged(100.0, "ten-minutes", StepState.ACTIVE),
        Answer(280.0, "ten-minutes/9/wait", "go on"),
        Answer(300.0, "warm-up/4/longer", "go on"),
    ]
    was = _assess(facts)
    assert [cut.left_s for cut in was.cuts] == [420.0, None]
    assert "Waiting: “Ten minutes more” was cut short by 7 min" in " ".join(told(was))


def test_time_counts_from_the_first_power_on() -> None:
    """Clipping on is not the amplifier's time."""
    facts = [SupplyChanged(60.0, Supply.MAINS), RunEnded(1260.0, True, "done")]
    assert _assess(facts).done_s == 1200.0
    assert "From power-on to the end of the run: 20 min." in told(_assess(facts))


@pytest.mark.parametrize(
    ("kinds", "named", "wrong"),
    [
        (("scratchy trimmer",), True, ()),
        (("runs away",), False, ("runs away",)),
        ((), False, ()),
    ],
)
def test_what_was_named_is_compared_with_what_is_the_matter(
    kinds: tuple[str, ...], named: bool, wrong: tuple[str, ...]
) -> None:
    """Recognised, missed, or something that is not there."""
    truth = _truth(13.5, 13.5, UnitDefect("scratchy trimmer", "right"))
    was = _assess([], [truth, Diagnosis(2.0, kinds)])
    assert (was.seen[0].named, was.wrongly_named) == (named, wrong)


def test_changed_trimmers_and_changed_test_points_look_the_same_from_outside() -> None:
    """Nobody can be asked to tell them apart from the readings."""
    truth = _truth(13.5, 13.5, UnitDefect("test points change places"))
    was = _assess([], [truth, Diagnosis(2.0, ("trimmers change places",))])
    assert was.seen[0].named
    assert was.wrongly_named == ()


def test_where_it_rests_is_said_against_the_window() -> None:
    """Inside stays, outside does not, and no rest is said as such."""
    assert [left.stays for left in _assess([], [_truth(13.0, 15.0)]).left] == [True, False]
    assert _assess([], [_truth(None)]).left[0].stays is False
    assert _assess([]).left[0].stays is None


def test_a_trimmer_that_ends_too_early_asks_for_no_adjustment() -> None:
    """What cannot be set is not counted among what should have been."""
    truth = _truth(9.0, 9.0, UnitDefect("trimmer at its end", "left"))
    assert _assess([], [truth]).fewest == 1


def test_a_real_session_is_not_assessed() -> None:
    """Nobody knows its truth."""
    with pytest.raises(ValueError, match="not practice"):
        assess(SETUP, Journal(replace(HEADER, practice=False)))


def test_no_sentence_holds_marks_praise_or_words_the_program_does_not_use() -> None:
    """Plain facts only."""
    was = _assess(_course("left bias", (0, 11), (11, 15)), [_turn(10.0), _truth(15.0, None)])
    text = " ".join(told(was)).lower()
    for word in ("score", "points", "/10", "well done", "safe", "optimal", "win", "level"):
        assert word not in text.replace("window", "")


@pytest.mark.parametrize(
    "line", [_turn(3.25), _truth(12.0, None, UnitDefect("runs away")), Diagnosis(4.0, ())]
)
def test_a_line_of_practice_comes_back_as_it_was_kept(line: PractiseLine) -> None:
    """In a journal, beside the facts and not among them."""
    journal = read_journal([HEADER.line(), line.line()])
    assert journal.practised == [line]
    assert journal.facts == []


@pytest.mark.parametrize("entry", [{"kind": "hand"}, {"kind": "truth", "at_s": 1, "found": 3}])
def test_a_damaged_line_of_practice_is_refused(entry: dict[str, object]) -> None:
    """It is set aside and named, as every damaged line is."""
    with pytest.raises(LineRefused):
        practise_line(entry)
