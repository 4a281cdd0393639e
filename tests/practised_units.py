"""Whole procedures carried out by practised hands on a simulated unit, in stepped time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from app.bench.opening import SimulatedChoice
from app.practice_run import PracticePlan, open_bench, run_stepped
from app.settings import Settings
from procedures.library import shipped_procedures
from procedures.procedure import Procedure
from procedures.view import RunView

STARTED = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Done:
    """How a run ended: the view at its end, and the verdict on the whole."""

    view: RunView

    @property
    def outcome(self) -> str:
        whole = [v for v in self.view.verdicts if v.channel is None and not v.subject]
        return whole[-1].outcome.value if whole else "none"

    @property
    def reason(self) -> str:
        whole = [v for v in self.view.verdicts if v.channel is None and not v.subject]
        return whole[-1].reason if whole else ""

    def value(self, name: str) -> float | None:
        """The newest value under a name."""
        found = [r.value for r in self.view.recorded if r.name == name]
        return found[-1] if found else None

    def ended(self, step: str) -> str:
        """How a step ended, in words."""
        return next(line.reason for line in self.view.steps if line.id == step)


def shortened(procedure: Procedure, **minutes: float) -> Procedure:
    """The same procedure with the waits of some steps shortened (and hours of soaks, in minutes)."""
    lines = []
    for line in procedure.step:
        key = line.id.replace("-", "_")
        if key in minutes:
            field = "hours" if line.kind == "soak" else "minutes"
            value = minutes[key] / 60.0 if line.kind == "soak" else minutes[key]
            line = line.model_copy(update={field: value})  # noqa: PLW2901
        lines.append(line)
    return procedure.model_copy(update={"step": tuple(lines)})


def carried_out(
    folder: Path,
    procedure: str | Procedure,
    unit: str,
    answers: Mapping[str, str] | None = None,
    meters: int = 2,
) -> Done:
    """Carry a procedure out on a simulated unit, to its end."""
    chosen = shipped_procedures()[procedure] if isinstance(procedure, str) else procedure
    choice = SimulatedChoice(unit, meters=meters)
    plan = PracticePlan(choice, chosen, folder, Settings(), stepped=True, started=STARTED)
    bench = open_bench(plan)
    try:
        run_stepped(bench, choice.seed, answers)
        return Done(bench.view)
    finally:
        bench.leave()
