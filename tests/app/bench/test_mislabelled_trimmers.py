"""Trimmers that are called after each other's channel, in the hands of somebody who does what is said."""

from __future__ import annotations

from pathlib import Path

from app.bench.opening import SimulatedChoice, open_simulated
from app.practice_run import run_stepped
from app.records.session_folder import open_session
from app.settings import Settings
from drivers.clock import SteppedClock
from procedures.assessment import assess
from procedures.library import shipped_procedures
from procedures.replay import setup_of


def test_a_trimmer_that_moves_the_other_channel_is_turned_back(session_root: Path) -> None:
    """Nothing is driven up by it: both are left where they were found, and no alarm stands."""
    bench = open_simulated(
        SimulatedChoice("mislabelled"),
        shipped_procedures()["two-channel-bias-trim"],
        session_root,
        SteppedClock(),
        Settings(),
    )
    run_stepped(bench, 1)
    bench.leave()
    journal = open_session(bench.record.folder).journal
    went = assess(setup_of(journal.header), journal)
    assert not [one for one in went.alarms if one.stood_s is None or one.stood_s > 300.0]
    left, right = went.left
    assert left.read_volts is not None
    assert right.read_volts is not None
    assert left.read_volts < 0.02  # it rested far below 20 mV as found; three times that with turns going on
    assert right.read_volts < 0.02
    assert any(one.told_s is not None for one in went.seen)
