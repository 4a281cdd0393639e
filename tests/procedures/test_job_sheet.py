"""A job's facts: each as a line and back, and what they come to."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.reading import Unit
from procedures.events import StepChanged, StepState
from procedures.job import (
    ComplaintTried,
    Concluded,
    EntryKind,
    Filled,
    IdentityErased,
    JobFact,
    JobOutcome,
    PartFitted,
    PartTakenBack,
    Photographed,
    Reproduced,
    SessionFiled,
    SheetField,
    State,
    StateNoted,
    TakenBack,
    TestLeftOut,
    UnitName,
    Worked,
)
from procedures.records.codec import LineRefused
from procedures.records.job_journal import JobHeader, fact_line, read_job
from procedures.records.job_sheet import StepTime, fold_job, step_times

NOW = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
HEADER = JobHeader("0a1b", NOW)
MOMENTS = st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC))
WORDS = st.text(max_size=20)
NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
FACTS: st.SearchStrategy[JobFact] = st.one_of(
    st.builds(Filled, MOMENTS, st.sampled_from(SheetField), WORDS),
    st.builds(ComplaintTried, MOMENTS, st.sampled_from(Reproduced), st.none() | NUMBERS, WORDS),
    st.builds(
        StateNoted,
        at_utc=MOMENTS,
        state=st.sampled_from(State),
        name=WORDS,
        value=st.none() | NUMBERS,
        unit=st.none() | st.sampled_from(Unit),
    ),
    st.builds(PartFitted, at_utc=MOMENTS, part=WORDS, reference=WORDS, returned=st.none() | st.booleans()),
    st.builds(PartTakenBack, MOMENTS, WORDS),
    st.builds(Worked, at_utc=MOMENTS, action=WORDS, minutes=st.none() | NUMBERS),
    st.builds(TestLeftOut, MOMENTS, WORDS, WORDS),
    st.builds(Photographed, MOMENTS, WORDS, WORDS, st.none() | st.sampled_from(State)),
    st.builds(SessionFiled, MOMENTS, WORDS, st.booleans()),
    st.builds(Concluded, MOMENTS, st.sampled_from(JobOutcome), WORDS),
    st.builds(TakenBack, MOMENTS, st.sampled_from(EntryKind), WORDS),
    st.builds(IdentityErased, MOMENTS),
)


@given(st.lists(FACTS, max_size=10))
def test_every_fact_comes_back_from_its_line(facts: list[JobFact]) -> None:
    """To the last bit, whatever its words are."""
    journal = read_job([HEADER.line(), *map(fact_line, facts)])

    assert journal.facts == facts
    assert journal.problems == []
    assert journal.header == HEADER


@given(st.lists(FACTS, max_size=8))
def test_facts_fold_the_same_at_once_or_one_by_one(facts: list[JobFact]) -> None:
    """What is written down later never loses what was there, and any order of facts folds."""
    facts = [fact for fact in facts if not isinstance(fact, TakenBack)]
    sheet = fold_job(facts)

    assert len(sheet.work) == sum(isinstance(fact, Worked) for fact in facts)
    assert set(sheet.words.values()) <= {fact.words for fact in facts if isinstance(fact, Filled)}
    assert fold_job([*facts, Worked(NOW, "looked")]).work[-1].action == "looked"


def test_the_newest_word_counts_and_the_three_states_stay_apart() -> None:
    """As received, as found and as left each keep their own value of the same quantity."""
    noted = [StateNoted(NOW, state, "idle power", 10.0 + n, Unit.WATT) for n, state in enumerate(State)]
    again = StateNoted(NOW, State.AS_FOUND, "idle power", 22.0, Unit.WATT)
    sheet = fold_job(
        [
            *noted,
            again,
            Filled(NOW, SheetField.MODEL, "K-04"),
            Filled(NOW, SheetField.MODEL, "K-40"),
            Filled(NOW, SheetField.SERIAL, "0042"),
            Filled(NOW, SheetField.SERIAL, ""),
        ]
    )

    assert [sheet.state(state)[0].value for state in State] == [10.0, 22.0, 12.0]
    assert sheet.unit == UnitName(model="K-40")


def test_a_part_can_be_corrected_and_taken_back() -> None:
    """By its own identifier; others are left alone."""
    one, two = PartFitted(NOW, "1", "Q7"), PartFitted(NOW, "2", "Q8")
    right = PartFitted(NOW, "1", "Q9")

    assert fold_job([one, two, right]).parts == (right, two)
    assert fold_job([one, two, PartTakenBack(NOW, "1")]).parts == (two,)


def test_entries_are_corrected_and_taken_back_by_their_keys() -> None:
    """Each kind has its own; what is not there to be taken back changes nothing."""
    noted = StateNoted(NOW, State.AS_FOUND, "mains", 231.0, Unit.VOLT)
    work = Worked(NOW, "cleaned", entry="w1")
    test = TestLeftOut(NOW, "load test", "no load")
    picture = Photographed(NOW, "aa.jpg")
    facts: list[JobFact] = [noted, work, test, picture, Concluded(NOW, JobOutcome.REPAIRED)]

    corrected = fold_job([*facts, Worked(NOW, "replaced", entry="w1")])
    assert [one.action for one in corrected.work] == ["replaced"]

    keys = {
        EntryKind.STATE: noted.key,
        EntryKind.WORK: work.key,
        EntryKind.TEST: test.key,
        EntryKind.PHOTOGRAPH: picture.key,
        EntryKind.OUTCOME: "",
    }
    left = fold_job([*facts, *(TakenBack(NOW, kind, key) for kind, key in keys.items())])
    assert left == fold_job([])
    wrong = [TakenBack(NOW, kind, "other") for kind in EntryKind if kind is not EntryKind.OUTCOME]
    assert fold_job([*facts, *wrong]) == fold_job(facts)


def test_a_part_of_unknown_source_or_other_rating_is_questioned() -> None:
    """Said as a question, never as a finding."""
    unknown = PartFitted(NOW, "1", "Q7", rating_asked="250 V", rating_fitted="230 V", safety_critical=True)
    known = PartFitted(NOW, "2", "Q8", rating_asked="250 V  15 a", rating_fitted="250 v 15 A", source="shelf")
    theirs = PartFitted(NOW, "3", "Q9", source="the customer", customer_supplied=True)

    assert len(unknown.questions) == 2
    assert "safety-critical" in unknown.questions[1]
    assert known.questions == ()
    assert len(theirs.questions) == 1


def test_a_complaint_that_did_not_recur_says_for_how_long() -> None:
    """Not tried is not the same as not reproduced."""
    assert fold_job([]).complaint_words == "not tried"
    tried = ComplaintTried(NOW, Reproduced.NO, 4.0)
    assert fold_job([tried]).complaint_words == "did not recur in 4 hours"


def test_sessions_are_filed_and_taken_out() -> None:
    """Each once, in the order in which they came."""
    filed = [SessionFiled(NOW, "b"), SessionFiled(NOW, "a"), SessionFiled(NOW, "b")]

    assert fold_job(filed).sessions == ("b", "a")
    assert fold_job([*filed, SessionFiled(NOW, "b", belongs=False)]).sessions == ("a",)


def test_damaged_lines_are_named_and_the_others_kept() -> None:
    """A torn line, an unknown kind, a wrong field, a time without its zone."""
    good = fact_line(Worked(NOW, "looked"))
    bare = (NOW + timedelta(0)).replace(tzinfo=None)
    lines = [good, good[:20], '{"kind":"song"}', '{"kind":"worked"}', fact_line(Worked(bare, "x")), good]

    journal = read_job([HEADER.line(), *lines])

    assert len(journal.facts) == 2
    assert [problem.split()[1] for problem in journal.problems] == ["3", "4", "5", "6"]


@pytest.mark.parametrize(
    "line", ["", "{}", '{"kind":"header"}', '{"kind":"job","format":9}', '{"kind":"job"}']
)
def test_what_is_no_job_is_refused(line: str) -> None:
    """With a sentence."""
    with pytest.raises(LineRefused):
        read_job([line])


def test_step_times_add_up_the_turns_of_a_step() -> None:
    """A step that was repeated counts each time; one that is under way counts so far."""
    facts = [
        StepChanged(10.0, "warm-up", StepState.ACTIVE),
        StepChanged(70.0, "warm-up", StepState.DONE),
        StepChanged(70.0, "trim", StepState.ACTIVE),
        StepChanged(100.0, "trim", StepState.DONE),
        StepChanged(100.0, "nothing", StepState.SKIPPED),
        StepChanged(100.0, "trim", StepState.ACTIVE),
        StepChanged(112.0, "other", StepState.ACTIVE),
    ]

    assert step_times(facts) == (StepTime("warm-up", 60.0, 1), StepTime("trim", 42.0, 2))
