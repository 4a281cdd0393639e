"""The whole job on the simulated bench in stepped time: meters, run, hands, record, files."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

from app.bench.opening import SimulatedChoice
from app.practice_run import Pace, PracticePlan, open_bench, practise, run_stepped
from app.records.session_folder import list_sessions, open_session
from app.settings import Settings
from procedures.events import Alarm, Outcome, Supply, SupplyChanged, Tier, Verdict
from procedures.library import shipped_procedures
from procedures.replay import compare


def _plan(root: Path, unit: str, procedure: str = "two-channel-bias-trim", meters: int = 2) -> PracticePlan:
    choice = SimulatedChoice(unit, meters)
    return PracticePlan(choice, shipped_procedures()[procedure], root, Settings(), stepped=True)


def _last_verdicts(root: Path) -> dict[str | None, Outcome]:
    journal = open_session(list_sessions(root)[0].folder).journal
    assert journal.closed
    assert compare(journal.header, journal.facts).same
    return {fact.channel: fact.outcome for fact in journal.facts if isinstance(fact, Verdict)}


def test_a_unit_off_target_is_trimmed_and_passes(session_root: Path) -> None:
    """Found low on one side and high on the other; left inside both windows; files are named."""
    console = Console(file=io.StringIO(), width=200)

    filed: list[Path] = []

    def file(folder: Path) -> str:
        filed.append(folder)
        return "The archive is away."

    assert practise(replace(_plan(session_root, "healthy"), file_away=file), console) == 0

    assert _last_verdicts(session_root) == {
        "left bias": Outcome.PASSED,
        "right bias": Outcome.PASSED,
        None: Outcome.PASSED,
    }
    said = console.file.getvalue()  # type: ignore[attr-defined]
    assert "the session says the same" in said
    assert filed == [list_sessions(session_root)[0].folder]
    assert said.endswith("The archive is away.\n")
    for name in ("readings.csv", "traces.png"):
        (file,) = session_root.glob(f"*/{name}")
        assert str(file) in said
        assert file.stat().st_size > 1000


def test_a_unit_that_is_right_is_left_alone(session_root: Path) -> None:
    """Leaving a unit alone is a result."""
    bench = open_bench(_plan(session_root, "right_as_found"))
    run_stepped(bench, 1)
    bench.leave()

    assert set(_last_verdicts(session_root).values()) == {Outcome.LEFT_ALONE}


def test_one_meter_serves_both_channels(session_root: Path) -> None:
    """The lead is moved when the screen asks for it, and the job still comes to its end."""
    bench = open_bench(_plan(session_root, "right_as_found", meters=1))
    run_stepped(bench, 1)
    bench.leave()

    outcomes = _last_verdicts(session_root)
    assert outcomes["left bias"] is Outcome.LEFT_ALONE
    assert outcomes["right bias"] is Outcome.LEFT_ALONE


def test_a_runaway_is_stopped_and_the_run_never_taken_up_again(session_root: Path) -> None:
    """The alarm comes, the hands switch off, the run ends."""
    bench = open_bench(_plan(session_root, "runaway", "warm-up"))
    run_stepped(bench, 1)
    bench.leave()

    facts = open_session(bench.record.folder).journal.facts
    alarm = next(fact for fact in facts if isinstance(fact, Alarm) and fact.tier is Tier.OFF)
    off = next(f for f in facts if isinstance(f, SupplyChanged) and f.supply is Supply.OFF)
    assert 0.0 <= off.at_s - alarm.at_s < 5.0
    assert bench.run.resume_refusal != ""
    assert bench.practice is not None
    assert bench.practice.hands().supply is Supply.OFF


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_same_seed_gives_the_same_session(session_root: Path, tmp_path: Path, seed: int) -> None:
    """Every chance event is decided by the seed."""
    records = []
    for root in (session_root, tmp_path / "again"):
        plan = _plan(root, "scratchy_trimmer", "watch")
        choice = SimulatedChoice("scratchy_trimmer", seed=seed)
        bench = open_bench(PracticePlan(choice, plan.procedure, root, Settings(), stepped=True))
        bench.turns().run(lambda: False, 30.0)
        bench.leave()
        records.append(open_session(bench.record.folder).journal.facts)

    assert records[0] == records[1]


def test_the_bench_is_slowed_only_when_the_screen_stays_late() -> None:
    """One hiccup of the computer costs nothing; a computer that does not keep up is waited for."""
    now = 0.0
    pace = Pace(100.0, lambda: now)

    assert pace.speed(500.0, trimming=False) == 100.0
    now = 0.4
    assert pace.speed(500.0, trimming=False) == 100.0
    now = 0.6
    assert pace.speed(500.0, trimming=False) == pytest.approx(60.0)
    now = 0.7
    assert pace.speed(500.0, trimming=False) == pytest.approx(60.0)
    slow = pace.speed(1.0, trimming=False)
    for _ in range(1000):
        slow = pace.speed(1.0, trimming=False)
    assert slow == pytest.approx(100.0)
    assert pace.speed(1.0, trimming=True) < 30.0
