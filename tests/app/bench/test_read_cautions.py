"""One reading of the cautions for each unit and sitting; those of a situation are read again."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from bench_double import HEAD

from app.bench.live_bench import LiveBench
from app.bench.opening import SimulatedChoice, open_meters, open_simulated
from app.bench.read_cautions import SITTING, ReadCautions
from app.records.session_folder import find_session, open_session
from app.settings import Settings
from drivers.clock import SteppedClock
from procedures.amplifier import Amplifier
from procedures.cautions import SITUATIONS
from procedures.events import StepState, Tick
from procedures.library import shipped_amplifiers, shipped_procedures
from procedures.procedure import load_procedure
from procedures.replay import compare, setup_of
from procedures.runner import Run
from procedures.setup import RunSetup

PROCEDURE = "dc-offset"


class Now:
    """This computer's time, as the test says it."""

    def __init__(self) -> None:
        self.moment = SteppedClock().utc()

    def __call__(self) -> datetime:
        return self.moment


@pytest.fixture
def now() -> Now:
    return Now()


@pytest.fixture
def read(now: Now) -> ReadCautions:
    return ReadCautions(now)


@pytest.fixture
def begun(read: ReadCautions, session_root: Path) -> Callable[[str], LiveBench]:
    """A procedure begun on a simulated unit, in stepped time."""

    def begin(unit: str) -> LiveBench:
        clock = SteppedClock()
        bench = open_simulated(
            SimulatedChoice(unit),
            shipped_procedures()[PROCEDURE],
            session_root,
            clock,
            Settings(),
            read=read.of,
        )
        bench.on_leave(lambda: read.learn(bench))
        bench.turns().run(lambda: False, 2.0)
        return bench

    return begin


def acknowledge(bench: LiveBench) -> None:
    question = bench.view.question
    assert question is not None
    bench.answer(question.id, "acknowledged")
    bench.turns().run(lambda: False, 2.0)


def first_line(bench: LiveBench) -> tuple[StepState, str]:
    line = bench.view.steps[0]
    assert line.id == "cautions"
    return line.state, line.reason


def test_a_second_procedure_on_the_unit_does_not_ask_again(
    begun: Callable[[str], LiveBench], session_root: Path
) -> None:
    one = begun("healthy")
    assert one.view.step == "cautions"
    acknowledge(one)
    one.leave()
    two = begun("healthy")
    state, reason = first_line(two)
    two.leave()

    first, second = (open_session(bench.record.folder).journal for bench in (one, two))
    assert two.view.step != "cautions"
    assert state is StepState.DONE
    assert reason.startswith("acknowledged earlier in this sitting, at ")
    assert reason.endswith(f" in session {first.header.session}")
    # The record of the second says when and in which session; there the answer stands.
    assert setup_of(second.header).cautions_read in reason
    assert find_session(session_root, first.header.session) == one.record.folder
    assert compare(second.header, second.facts).same


def test_another_unit_is_asked_about(begun: Callable[[str], LiveBench]) -> None:
    one = begun("healthy")
    acknowledge(one)
    one.leave()
    other = begun("runaway")
    assert other.view.step == "cautions"
    other.leave()


def test_cautions_that_nobody_acknowledged_are_shown_again(begun: Callable[[str], LiveBench]) -> None:
    begun("healthy").leave()
    again = begun("healthy")
    assert again.view.step == "cautions"
    again.leave()


def test_a_sitting_ends(begun: Callable[[str], LiveBench], now: Now) -> None:
    one = begun("healthy")
    acknowledge(one)
    one.leave()
    now.moment += timedelta(days=400) + SITTING
    later = begun("healthy")
    assert later.view.step == "cautions"
    later.leave()


def _real(read: ReadCautions, root: Path, serial: str) -> LiveBench:
    amplifier = shipped_amplifiers()["Kestrow K-40"]
    return open_meters(
        [],
        shipped_procedures()[PROCEDURE],
        root,
        Settings(),
        amplifier=amplifier,
        typed=[channel.name for channel in amplifier.channel],
        serial=serial,
        read=read.of,
    )


@pytest.mark.parametrize(
    ("first", "second", "asked"), [("0417", "0417", False), ("0417", "0418", True), ("", "", True)]
)
def test_a_real_unit_is_known_by_its_number_alone(
    session_root: Path, first: str, second: str, asked: bool
) -> None:
    """One without a number may be another one of the same model."""
    read = ReadCautions(lambda: datetime.now(UTC))
    one = _real(read, session_root, first)
    one.conductor.advance(one.clock.now())
    question = one.view.question
    assert question is not None
    one.answer(question.id, "acknowledged")
    one.conductor.advance(one.clock.now())
    read.learn(one)
    one.leave()
    two = _real(read, session_root, second)
    two.conductor.advance(two.clock.now())
    assert (two.view.step == "cautions") is asked
    two.leave()


def test_the_cautions_of_a_situation_are_read_in_every_session() -> None:
    """High voltage, a bridged output: their step asks although the unit's cautions were read."""
    known: Amplifier = shipped_amplifiers()["Brinefold PA-600"].model_copy(update={"bridged": True})
    procedure = load_procedure(
        f'{HEAD}[[step]]\nid = "on"\nkind = "connect"\ntitle = "Connect"\nchannels = ["left bias"]\n'
    )
    for _ in range(2):
        setup = RunSetup.build(
            procedure,
            known,
            typed=["left bias"],
            cautions_acknowledged=True,
            cautions_read="at 09:00 in session x",
        )
        run = Run(setup)
        run.feed(Tick(0.0))
        question = run.view().question
        assert question is not None
        assert question.text == f"{SITUATIONS['bridged']}\n{SITUATIONS['high voltage']}"
