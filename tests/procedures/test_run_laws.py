"""What holds of every run, whatever happens to it and in whatever order."""

from __future__ import annotations

from collections.abc import Callable

from bench_double import ScriptedAnalysis
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.reading import GapReason
from procedures.events import (
    Acknowledged,
    Answer,
    AwayChanged,
    ChannelGap,
    ChannelReading,
    DriveChanged,
    Event,
    Input,
    LeadMoved,
    LidChanged,
    Note,
    PauseChanged,
    RequestClosed,
    RunEnded,
    SegmentOpened,
    StepChanged,
    StopRequested,
    Supply,
    SupplyChanged,
    Tick,
    Tier,
    TrimDeclared,
    Verdict,
)
from procedures.leads import Lead
from procedures.library import shipped_amplifiers, shipped_procedures
from procedures.records.codec import decode, encode
from procedures.runner import Run
from procedures.setup import RunSetup
from procedures.view import RunView

CHANNELS = st.sampled_from(["left bias", "right bias"])
FLAGS = st.booleans()
Happening = Callable[[float, RunView], Input | None]


def _key(at_s: float, view: RunView) -> Input | None:
    return view.key(at_s)


def _happening(make: Callable[..., Input], *drawn: st.SearchStrategy[object]) -> st.SearchStrategy[Happening]:
    return st.tuples(*drawn).map(lambda values: lambda at_s, _: make(at_s, *values))


def _answer(number: int, text: str) -> Happening:
    def answer(at_s: float, view: RunView) -> Input | None:
        if view.question is None:
            return None
        choices = view.question.choices
        return Answer(at_s, view.question.id, choices[number % len(choices)].key if choices else "", text)

    return answer


OF_STEPS = (StepChanged, RunEnded, Verdict)
HAPPENINGS = st.one_of(
    st.just(_key),
    st.builds(_answer, st.integers(0, 5), st.sampled_from(["", "words", "13.5"])),
    _happening(ChannelReading, CHANNELS, st.floats(0.0, 0.05)),
    _happening(
        lambda at_s, c, r: ChannelGap(at_s, at_s + 1.0, c, r), CHANNELS, st.sampled_from(list(GapReason))
    ),
    _happening(SupplyChanged, st.sampled_from(list(Supply))),
    _happening(LidChanged, FLAGS),
    _happening(DriveChanged, FLAGS),
    _happening(PauseChanged, FLAGS),
    _happening(AwayChanged, FLAGS),
    _happening(TrimDeclared, CHANNELS),
    _happening(lambda at_s, c: LeadMoved(at_s, "one", "1", c), CHANNELS),
    _happening(lambda at_s, s: SegmentOpened(at_s, "a break", 60.0, s), st.sampled_from(list(Supply))),
    _happening(lambda at_s, done: RequestClosed(at_s, "request 1", done), FLAGS),
    _happening(lambda at_s: Acknowledged(at_s, "act left bias")),
    _happening(lambda at_s: Note(at_s, "")),
    _happening(Tick),
)
RARELY = _happening(StopRequested)


def _run(procedure: str) -> tuple[Run, ScriptedAnalysis]:
    setup = RunSetup.build(
        shipped_procedures()[procedure],
        shipped_amplifiers()["Kestrow K-40"],
        leads=[Lead("one", "1", "left bias")],
        typed=["right bias"],
    )
    analysis = ScriptedAnalysis(setup.channels)
    return Run(setup, analysis), analysis


@settings(max_examples=120, deadline=None)
@given(
    st.sampled_from(sorted(shipped_procedures())),
    st.lists(
        st.tuples(st.sampled_from([0.0, 0.5, 3.0, 70.0, 1300.0]), st.one_of(HAPPENINGS, HAPPENINGS, RARELY)),
        max_size=80,
    ),
    st.integers(0, 80),
    st.sampled_from([*Tier, None]),
)
def test_whatever_happens_a_run_keeps_to_its_rules(
    procedure: str, happenings: list[tuple[float, Happening]], alarm_at: int, tier: Tier | None
) -> None:
    """No error; deadlines ahead; one end and no step after it; nothing that cannot be written."""
    run, analysis = _run(procedure)
    at_s = 0.0
    said: list[Event] = list(run.feed(Tick(0.0)))
    for number, (later_s, happening) in enumerate(happenings):
        at_s += later_s
        if number == alarm_at and tier is not None:
            analysis.say_alarm(tier, "left bias")
        before = run.view()
        fact = happening(at_s, before)
        if fact is None:
            continue
        events = run.feed(fact)
        said += events
        after = run.view()

        due_s = run.next_deadline()
        assert due_s is None or due_s > after.at_s
        assert before.ended is None or not [e for e in events if isinstance(e, OF_STEPS)]
        assert after.ended is None or (after.step, after.question, after.next_fact) == (None, None, None)
        assert not after.paused or after.question is None or after.ended is not None or _after_off(after)
        assert bool(after.next_label) == (after.next_fact is not None)

    assert sum(isinstance(event, RunEnded) for event in said) <= 1
    assert [fact for line in encode(said) for fact in decode(line)] == said


def _after_off(view: RunView) -> bool:
    """The cause is asked for even while paused: nothing of the steps is left to be held."""
    return view.question is not None and view.question.id.endswith("/cause")
