"""In practice, what is told of the switch and the lid agrees with what the hands did, or one is told so."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.bench.live_bench import LiveBench
from app.bench.opening import SimulatedChoice, open_simulated
from app.settings import Settings
from drivers.clock import SteppedClock
from procedures.events import LidChanged, Supply, SupplyChanged
from procedures.library import shipped_procedures


@pytest.fixture
def bench(session_root: Path) -> LiveBench:
    watch = shipped_procedures()["watch"]
    opened = open_simulated(SimulatedChoice(), watch, session_root, SteppedClock(), Settings())
    step(opened)
    return opened


def step(bench: LiveBench) -> None:
    bench.turns().run(lambda: False, 1.0)


def kept(bench: LiveBench, kind: type) -> list[object]:
    facts = [fact for fact in bench.snapshot().inputs if type(fact) is kind]
    return [getattr(fact, "supply" if kind is SupplyChanged else "fitted") for fact in facts]


def test_hands_first_then_words_agree(bench: LiveBench) -> None:
    bench.practice.switch(Supply.MAINS)  # type: ignore[union-attr]
    bench.supply(Supply.MAINS)
    step(bench)

    assert (bench.view.supply, bench.picture().hands) == (Supply.MAINS, "")
    bench.leave()


def test_the_lamp_is_kept_where_the_mains_was_said(bench: LiveBench) -> None:
    """The record keeps what the hands did, and says what to do until they have done it."""
    bench.practice.switch(Supply.SERIES_LAMP)  # type: ignore[union-attr]
    bench.supply(Supply.MAINS)
    step(bench)

    assert bench.view.supply is Supply.SERIES_LAMP
    assert "stands at Lamp, and so it was recorded: set it to Mains" in bench.picture().hands

    bench.practice.switch(Supply.MAINS)  # type: ignore[union-attr]
    bench.supply(Supply.MAINS)
    step(bench)

    assert kept(bench, SupplyChanged) == [Supply.SERIES_LAMP, Supply.MAINS]
    assert bench.picture().hands == ""
    bench.leave()


def test_nothing_is_kept_where_nothing_was_switched(bench: LiveBench) -> None:
    bench.supply(Supply.MAINS)
    step(bench)

    assert kept(bench, SupplyChanged) == []
    assert "stands at Off" in bench.picture().hands
    bench.leave()


def test_a_switch_that_nobody_told_of_is_pointed_out(bench: LiveBench) -> None:
    bench.practice.switch(Supply.MAINS)  # type: ignore[union-attr]
    bench.supply(Supply.MAINS)
    bench.practice.switch(Supply.SERIES_LAMP)  # type: ignore[union-attr]
    step(bench)

    assert "stands at Lamp; the run was told Mains" in bench.picture().hands
    bench.leave()


def test_the_lid_too(bench: LiveBench) -> None:
    bench.lid(True)
    step(bench)
    assert kept(bench, LidChanged) == []
    assert "put it on, then say so again" in bench.picture().hands

    bench.practice.fit_lid(True)  # type: ignore[union-attr]
    bench.lid(True)
    step(bench)
    assert kept(bench, LidChanged) == [True]
    assert bench.picture().hands == ""
    bench.leave()
