"""The whole job on the simulated bench without a window, done by a scripted pair of hands."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from rich.console import Console

from app.begun_for_job import file_begun
from app.bench.live_bench import LiveBench
from app.bench.opening import SimulatedChoice, open_simulated
from app.bench.practice_unit import SimulatedHands
from app.bench.practised_finds import HandedPractice
from app.bench.practised_hands import PractisedHands
from app.records.job_folder import Job
from app.settings import Settings
from app.terminal import Follower, file_away, name_files, write_results
from drivers.clock import Clock, ScaledClock, SteppedClock, host_seconds
from procedures.assessment import assess
from procedures.assessment_words import told
from procedures.procedure import Procedure
from procedures.replay import Comparison, compare, setup_of

SPEED = 120.0  # bench seconds a second while something is waited for
TRIM_SPEED = 25.0  # while hands follow a reading
SLOWEST = 4.0
LOOK_S = 0.02
LONGEST_BENCH_S = 4 * 3600.0
BEHIND_S = 30.0  # bench seconds by which the screen may be late …
LATE_FOR_S = 0.5  # … for so many seconds of the computer, before the bench is slowed


@dataclass(frozen=True, slots=True)
class PracticePlan:
    """What is to be carried out, and how fast. `stepped` uses no sockets and no waiting."""

    choice: SimulatedChoice
    procedure: Procedure
    folder: Path
    settings: Settings
    speed: float = SPEED
    stepped: bool = False
    started: datetime | None = None
    file_away: Callable[[Path], str] | None = None  # files the closed session, or says why it waits
    job: Job | None = None  # what the session belongs to


def practise(plan: PracticePlan, console: Console) -> int:
    """Carry the plan out and say which files were written; 0 when the run came to its end.

    Raises UnitRefused, FolderUnusable, OSError.
    """
    bench = open_bench(plan)
    file_begun(plan.job, bench)
    hands = PractisedHands(bench, _controls(bench), plan.choice.seed)
    if days := sorted({one.recorded for one in plan.choice.remembered}):
        console.print(f"The forecast leans on practice with this unit of {' and '.join(days)}.")
    try:
        with Follower(bench, console) as follower:
            if isinstance(bench.clock, SteppedClock):
                _step(bench, hands, follower)
            else:
                _follow(bench, hands, follower, plan.speed)
    except KeyboardInterrupt:
        console.print("Stopped from the keyboard.")
    finally:
        bench.leave()
    session, files = write_results(bench.record.folder)
    journal = session.journal
    console.print("How this practice went:")
    for line in told(assess(setup_of(journal.header), journal)):
        console.print(f"  {line}", soft_wrap=True)
    console.print(judged_again(compare(journal.header, journal.facts)))
    name_files(console, bench.record.folder, files)
    file_away(console, plan.file_away, bench.record.folder)
    ended = bench.conductor.ended
    return 0 if ended is not None and ended.finished else 1


def judged_again(comparison: Comparison) -> str:
    """What judging the record again gave, short enough for a line."""
    return comparison.sentence if comparison.same else comparison.sentence[:300]


def open_bench(plan: PracticePlan) -> LiveBench:
    """The bench of a plan, at the plan's pace."""
    clock: Clock = ScaledClock(plan.speed)
    if plan.stepped:
        clock = SteppedClock(utc=plan.started or datetime.now(UTC))
    return open_simulated(plan.choice, plan.procedure, plan.folder, clock, plan.settings)


def run_stepped(bench: LiveBench, seed: int, answers: Mapping[str, str] | None = None) -> None:
    """Carry a stepped bench's run out by practised hands, to its end."""
    hands = PractisedHands(bench, _controls(bench), seed, answers)
    bench.turns(hands).run(lambda: bench.conductor.ended is not None, LONGEST_BENCH_S)


def _controls(bench: LiveBench) -> HandedPractice:
    assert isinstance(bench.practice, SimulatedHands)
    return bench.practice


def _step(bench: LiveBench, hands: PractisedHands, follower: Follower) -> None:
    turns = bench.turns(hands)
    for _ in range(int(LONGEST_BENCH_S / 20.0)):
        ended = turns.run(lambda: bench.conductor.ended is not None, 20.0)
        follower.look()
        if ended:
            return


class Pace:
    """How fast the bench may go: slower while hands follow a reading, or the computer does not keep up."""

    def __init__(self, wanted: float, seconds: Callable[[], float] = host_seconds) -> None:
        self._seconds = seconds
        self._wanted = wanted
        self._limit = wanted
        self._late_since: float | None = None

    def speed(self, behind_s: float, trimming: bool) -> float:
        """Bench seconds a second, given by how many bench seconds the screen is late."""
        now = self._seconds()
        if behind_s < BEHIND_S:
            self._late_since = None
            self._limit = min(self._wanted, self._limit * 1.002)
        elif self._late_since is None:
            self._late_since = now
        elif now - self._late_since > LATE_FOR_S:
            self._late_since = now
            self._limit = max(SLOWEST, 0.6 * self._limit)
        return min(self._limit, TRIM_SPEED) if trimming else self._limit


def _follow(bench: LiveBench, hands: PractisedHands, follower: Follower, speed: float) -> None:
    """Work at the bench until the run has ended."""
    bench.start()
    pace = Pace(speed)
    while bench.conductor.ended is None and bench.session_s() < LONGEST_BENCH_S:
        hands.advance(bench.clock.now())
        follower.look()
        trimming = _kind(bench) in ("trim", "turn-down")
        _controls(bench).set_speed(pace.speed(bench.session_s() - bench.view.at_s, trimming))
        time.sleep(LOOK_S)
    follower.look()


def _kind(bench: LiveBench) -> str:
    step = bench.view.step
    line = bench.setup.procedure.step_named(step) if step is not None else None
    return line.kind if line is not None else ""
