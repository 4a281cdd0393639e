"""Each instrument is asked about earth once, and is known again by its identity."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from served_meters import served_meter

from app.bench.live_bench import LiveBench
from app.bench.meter_memory import declare, declared, input_question
from app.settings import DeclaredInput, RememberedMeter, Settings, load_settings
from app.workshop import LocalWorkshop
from drivers.meter import MeterAccuracy, MeterFacts
from procedures.earthing import BY_HAND, Earthing

NOBODY = "TCPIP::127.0.0.1::1::SOCKET"
MET = MeterFacts("Fenrow,6120,FW1,1.0", 0.1, 0.2, 0.5, dialect="full")


def _soon(holds: Callable[[], bool]) -> None:
    give_up = time.monotonic() + 20.0
    while not holds():
        assert time.monotonic() < give_up
        time.sleep(0.02)


@pytest.fixture
def workshop(session_root: Path, tmp_path: Path) -> LocalWorkshop:
    return LocalWorkshop(Settings(), tmp_path / "settings.json", session_root)


def test_a_meter_is_asked_about_once(workshop: LocalWorkshop, tmp_path: Path) -> None:
    assert "isolated from earth" in workshop.input_question(NOBODY)
    workshop.declare_input(NOBODY, False)

    assert workshop.input_question(NOBODY) == ""
    assert load_settings(tmp_path / "settings.json")[0].inputs == (
        DeclaredInput(address=NOBODY, isolated=False),
    )


@pytest.mark.parametrize("address", ["simulated", "file:readings.csv"])
def test_what_has_no_probes_is_not_asked_about(address: str, workshop: LocalWorkshop) -> None:
    assert workshop.input_question(address) == ""


def test_a_display_is_asked_about_too(workshop: LocalWorkshop) -> None:
    assert "handheld on batteries" in workshop.input_question("typed")
    workshop.declare_input("typed", False)

    with pytest.raises(ValueError, match="The display that is read off counts as earthed"):
        workshop.watch_typed(0.0134)
    assert workshop.settings.declared_input(BY_HAND) is not None


def test_a_display_that_nobody_declared_counts_as_isolated(workshop: LocalWorkshop) -> None:
    """common practice, no source: a handheld runs on batteries."""
    workshop.watch_typed(0.0134).leave()


def test_an_undeclared_meter_counts_as_earthed(workshop: LocalWorkshop, session_root: Path) -> None:
    with pytest.raises(ValueError, match="left bias is read across live test points"):
        workshop.watch_address(NOBODY)

    assert list(session_root.iterdir()) == []


def test_a_meter_is_known_again_at_another_address() -> None:
    """By what it answers to *IDN?; nobody is asked twice."""
    with served_meter() as first:
        settings = declare(first, True, Settings())
    (said,) = settings.inputs
    assert said.identity.startswith("Fenrow")

    with served_meter() as second:
        assert second != first
        settings, found = declared(second, settings)

    assert found is not None
    assert found.isolated
    assert found.address == second


def test_the_identity_is_learned_where_nobody_answered_before() -> None:
    settings = Settings().declaring(DeclaredInput(address=NOBODY, isolated=True))

    met = settings.having_met({NOBODY: MET})

    assert met.inputs[0].identity == MET.identity


def test_new_firmware_is_the_same_instrument() -> None:
    """IEEE 488.2 10.14: maker, model, serial number, firmware."""
    said = DeclaredInput(address="a", isolated=True, identity="Fenrow,6120,FW1,1.0")

    assert Settings(inputs=(said,)).declared_input("b", "Fenrow,6120,FW1,2.0") == said
    assert Settings(inputs=(said,)).declared_input("b", "Fenrow,6120,FW2,1.0") is None


def test_another_instrument_at_a_declared_address_is_not_read(workshop: LocalWorkshop) -> None:
    """The declaration was about another one: nothing is read, and the next time it is asked."""
    with served_meter() as address:
        other = DeclaredInput(address=address, isolated=True, identity="Other,DMM,1,1.0")
        workshop.settings = Settings(inputs=(other,))
        bench: LiveBench = workshop.watch_address(address)
        try:
            _soon(lambda: any("another instrument" in m.detail for m in bench.picture().meters))
            assert not any(trace.values.size for trace in bench.picture().traces)
        finally:
            bench.leave()

        assert workshop.input_question(address)


def test_what_was_declared_stands_in_the_header(workshop: LocalWorkshop) -> None:
    workshop.declare_input(NOBODY, True)
    bench = workshop.watch_address(NOBODY)
    bench.leave()

    assert bench.setup.earthing == Earthing()


def test_a_lead_of_an_earthed_input_cannot_be_moved_to_live_points(workshop: LocalWorkshop) -> None:
    """The move is recorded as off everything, and the reason stays in sight until the lead is moved."""
    workshop.declare_input(NOBODY, True)
    bench = workshop.watch_address(NOBODY)
    try:
        (name,) = bench.meter_addresses()
        bench.setup = replace(bench.setup, leads=(), earthing=Earthing((name,)))
        bench.move_lead(name, "1", "left bias")
        _soon(lambda: bench.picture().leads.channel_of(name, "1") is None)

        assert f"Take the lead of {name} off left bias" in bench.picture().trouble
        bench.move_lead(name, "1", None)
        assert "Take the lead" not in bench.picture().trouble
    finally:
        bench.leave()


def test_figures_of_another_range_are_not_taken_for_this_one(session_root: Path, tmp_path: Path) -> None:
    """A target of some millivolts is read on the 0.1 V range, whatever is known of the 1 V range."""
    figures = MeterAccuracy(of_reading=5e-5, of_range=3e-5, range_value=1.0, declared_by="its manual")
    meter = RememberedMeter(name="meter", address=NOBODY, accuracy=figures)
    said = DeclaredInput(address=NOBODY, isolated=True)
    workshop = LocalWorkshop(
        Settings(meters=(meter,), inputs=(said,)), tmp_path / "settings.json", session_root
    )
    bench = workshop.guided("Kestrow K-40", "warm-up")
    bench.leave()

    assert {channel.accuracy for channel in bench.setup.channels} == {None}


def test_the_question_is_one_of_the_manual() -> None:
    assert "manual" in input_question(NOBODY)
