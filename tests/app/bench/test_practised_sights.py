"""What a person sees at the simulated unit is said; answering is left to the person."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.bench.live_bench import LiveBench
from app.bench.opening import SimulatedChoice, open_simulated
from app.settings import Settings
from drivers.clock import SteppedClock
from procedures.library import shipped_procedures


def _bench(unit: str, procedure: str, folder: Path) -> LiveBench:
    return open_simulated(
        SimulatedChoice(unit), shipped_procedures()[procedure], folder, SteppedClock(), Settings()
    )


def _answered(bench: LiveBench, *answers: tuple[str, str]) -> list[str]:
    """What is said at each question while it is answered."""
    said = []
    turns = bench.turns()
    for choice, text in answers:
        turns.run(lambda: False, 1.0)
        said.append(bench.picture().hands)
        question = bench.view.question
        assert question is not None
        bench.answer(question.id, choice, text)
    return said


def test_instruments_eyes_and_answers(tmp_path: Path) -> None:
    """A value in the unit that is asked for, a fault or none, an answer where the unit has one."""
    bench = _bench("untidy", "incoming-inspection", tmp_path)
    try:
        said = _answered(
            bench, ("acknowledged", ""), ("", "0.8"), ("I", ""), *[("pass", "")] * 4, ("fail", "")
        )
    finally:
        bench.leave()

    assert said[1] == "It shows 0.8 V."
    assert said[2:4] == ["", "You see nothing wrong there."]
    assert said[7] == "You see: flux and lifted tracks at the outputs."


@pytest.mark.parametrize("procedure", ["complaint"])
def test_a_unit_says_what_it_does(procedure: str, tmp_path: Path) -> None:
    """Whether the complaint is seen on this one."""
    bench = _bench("worn_relay", procedure, tmp_path)
    try:
        said = _answered(
            bench, ("acknowledged", ""), ("", "it drops out"), ("always", ""), ("done", ""), ("yes", "")
        )
    finally:
        bench.leave()

    assert said[4] == "At this unit: it was seen."
