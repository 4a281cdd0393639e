"""Earthed inputs stay away from live test points; what nobody has declared counts as earthed."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from drivers.reading import Unit
from procedures.analysis.channel import ChannelSetup
from procedures.earthing import BY_HAND, Earthing, first_refusal
from procedures.leads import Lead
from procedures.library import shipped_amplifiers, shipped_procedures
from procedures.records.journal import Header
from procedures.replay import setup_entry, setup_of
from procedures.runner import Run
from procedures.setup import RunSetup
from procedures.steps.wanted import lead_wanted

BIAS = ChannelSetup("left bias", target_volts=0.0135)
OFFSET = ChannelSetup("left offset")
ODD = ChannelSetup("driver stage")
SINK = ChannelSetup("heatsink", unit=Unit.CELSIUS)


# common practice, no source: the low side of an earthed input is protective earth.
@pytest.mark.parametrize("channel", [BIAS, ODD])
def test_an_earthed_input_is_refused_across_live_points(channel: ChannelSetup) -> None:
    refusal = Earthing(earthed=("meter",)).refusal("meter", channel)

    assert "The input of the meter counts as earthed" in refusal
    assert f"{channel.channel} is read across live test points" in refusal
    assert "\n" not in refusal


def test_a_reference_to_ground_does_not_make_live_points_harmless() -> None:
    assert Earthing(("meter",), ground_referenced=True).refusal("meter", BIAS)


def test_an_offset_may_be_read_earthed_only_against_ground() -> None:
    assert "bridged" in Earthing(("meter",)).refusal("meter", OFFSET)
    assert Earthing(("meter",), ground_referenced=True).allowed("meter", OFFSET)


def test_an_isolated_input_may_read_everything() -> None:
    earthing = Earthing(("other",))

    assert all(earthing.allowed("meter", channel) for channel in (BIAS, OFFSET, ODD, SINK))


def test_what_is_not_read_in_volts_is_not_judged() -> None:
    assert Earthing(("meter",)).allowed("meter", SINK)


def test_a_lead_on_nothing_is_no_reason() -> None:
    assert first_refusal(Earthing(("meter",)), [("meter", "unknown")], [BIAS]) == ""


def _setup(*leads: Lead, **more: object) -> RunSetup:
    return RunSetup.build(
        shipped_procedures()["warm-up"], shipped_amplifiers()["Kestrow K-40"], leads=leads, **more
    )


def test_a_run_does_not_begin_with_an_earthed_lead_on_the_bias() -> None:
    with pytest.raises(ValueError, match="left bias is read across live test points"):
        _setup(Lead("meter", "1", "left bias"), earthing=Earthing(("meter",)))


def test_a_display_of_an_earthed_meter_is_refused_too() -> None:
    with pytest.raises(ValueError, match="The display that is read off counts as earthed"):
        _setup(typed=("left bias",), earthing=Earthing((BY_HAND,)))


def test_the_declaration_is_kept_in_the_record() -> None:
    setup = _setup(Lead("meter", "1", None), earthing=Earthing(("meter",), True))
    header = Header("s", datetime(2026, 1, 5, tzinfo=UTC), setup_entry(setup), setup.rules)

    assert setup_of(Header.read(header.line())).earthing == Earthing(("meter",), True)


def test_a_record_from_before_declarations_can_still_be_read() -> None:
    entry = setup_entry(_setup(Lead("meter", "1", "left bias")))
    del entry["earthing"]

    assert setup_of(Header("s", datetime(2026, 1, 5, tzinfo=UTC), entry, "1")).earthing == Earthing()


def test_no_step_asks_for_the_lead_of_an_earthed_input() -> None:
    """With a free but earthed lead and an isolated one, the isolated one is asked for."""
    setup = _setup(
        Lead("earthed", "1", None), Lead("isolated", "1", "left bias"), earthing=Earthing(("earthed",))
    )
    sitting = Run(setup)._sitting

    lead = sitting.lead_for("right bias")
    assert lead is not None
    assert lead.meter == "isolated"


def test_without_an_isolated_input_a_meter_is_asked_for() -> None:
    sitting = Run(_setup(Lead("earthed", "1", None), earthing=Earthing(("earthed",))))._sitting

    wanted = lead_wanted(sitting, "left bias")

    assert wanted is not None
    assert wanted.text.startswith("Connect a meter to left bias")
