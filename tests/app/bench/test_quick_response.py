"""The quick look at the response: one sweep, figures without a verdict, flat on a sound unit."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from app.bench.opening import SimulatedChoice
from app.practice_run import PracticePlan, open_bench, run_stepped
from app.records.session_folder import open_session
from app.settings import Settings
from procedures.analysis.audio.taken import taken_of
from procedures.library import shipped_procedures

KEPT = ("signal-path", "load-8", "power-on", "response", "power-off", "summary")


def test_preconditioning_plays_one_eighth_of_rated_power_for_its_time(tmp_path: Path) -> None:
    shipped = shipped_procedures()["verification"]
    lines = tuple(
        line.model_copy(update={"measure": "preconditioning", "warm_minutes": 0.25})
        if line.id == "response"
        else line
        for line in shipped.step
        if line.id in (*KEPT, "gain")
    )
    procedure = shipped.model_copy(update={"step": lines})
    bench = open_bench(
        PracticePlan(SimulatedChoice("healthy"), procedure, tmp_path, Settings(), stepped=True)
    )
    try:
        run_stepped(bench, 1, None)
        assert bench.view.ended is not None
        assert bench.view.ended.finished
        assert not bench.view.driven
    finally:
        bench.leave()
    journal = open_session(bench.record.folder).journal
    taken = [one for one in taken_of(journal.facts) if one.measure == "preconditioning"]
    played = [one for one in taken if one.order.seconds > 1.0 and one.output == "left"]
    assert [one.order.seconds for one in played] == [10.0, 5.0]
    assert bench.setup.amplifier is not None
    assert bench.setup.amplifier.ratings is not None
    rated = bench.setup.amplifier.ratings.power[0]
    # One eighth of the power is 1 / sqrt(8) of the voltage (closed form).
    assert played[0].figures["volts"] == pytest.approx(rated.volts / 8.0**0.5, rel=0.01)


@pytest.mark.parametrize("instruments", [False, True], ids=["sound device", "tone by tone"])
def test_a_sweep_records_third_octaves_and_judges_nothing(instruments: bool, tmp_path: Path) -> None:
    """Played at once, or on a generator of sines as single tones."""
    shipped = shipped_procedures()["verification"]
    lines = tuple(
        line.model_copy(update={"measure": "quick response"}) if line.id == "response" else line
        for line in shipped.step
        if line.id in KEPT
    )
    procedure = shipped.model_copy(update={"step": lines})
    choice = SimulatedChoice("healthy", instruments=instruments)
    bench = open_bench(PracticePlan(choice, procedure, tmp_path, Settings(), stepped=True))
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
    # Closed form of the simulated unit: a corner at 90 kHz against 1 kHz.
    assert high == pytest.approx(-10.0 * math.log10(1.0 + (10.0 / 90.0) ** 2), abs=0.02)
