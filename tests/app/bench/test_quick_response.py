"""The quick look at the response: one sweep, figures without a verdict, flat on a sound unit."""

from __future__ import annotations

from pathlib import Path

from app.bench.opening import SimulatedChoice
from app.practice_run import PracticePlan, open_bench, run_stepped
from app.settings import Settings
from procedures.library import shipped_procedures

KEPT = ("signal-path", "load-8", "power-on", "response", "power-off", "summary")


def test_a_sweep_records_third_octaves_and_judges_nothing(tmp_path: Path) -> None:
    shipped = shipped_procedures()["verification"]
    lines = tuple(
        line.model_copy(update={"measure": "quick response"}) if line.id == "response" else line
        for line in shipped.step
        if line.id in KEPT
    )
    procedure = shipped.model_copy(update={"step": lines})
    bench = open_bench(
        PracticePlan(SimulatedChoice("healthy"), procedure, tmp_path, Settings(), stepped=True)
    )
    try:
        run_stepped(bench, 1, None)
        view = bench.view
        assert view.ended is not None
        assert view.ended.finished
        assert not [one for one in view.verdicts if one.subject and "response" in one.subject]
        recorded = {one.name: one.value for one in view.recorded}
    finally:
        bench.leave()
    near = recorded["quick response at 1000 Hz, left"]
    assert near is not None
    assert abs(near) < 0.01
    high = recorded["quick response at 10000 Hz, right"]
    assert high is not None
    assert abs(high) < 0.3
