from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.amplifier import OutputStage
from procedures.analysis.channel import ChannelSetup
from procedures.analysis.z_domain import ZDomain

FOLLOWER = ChannelSetup("left bias", resistance_ohm=0.54, emitter_resistor_ohm=0.27)


@given(st.floats(1e-5, 2.0), st.floats(0.05, 2.0))
def test_volts_come_back_from_z(volts: float, emitter: float) -> None:
    domain = ZDomain(2.0 * emitter, emitter)
    assert domain.volts(domain.z(volts)) == pytest.approx(volts, rel=1e-9)


@given(st.floats(1e-4, 0.5))
def test_the_slope_is_the_derivative(volts: float) -> None:
    domain = ZDomain(0.54, 0.27)
    step = volts * 1e-5
    numeric = (domain.z(volts + step) - domain.z(volts - step)) / (2 * step)
    assert domain.slope(volts) == pytest.approx(numeric, rel=1e-6)


def test_one_millivolt_of_bias_spread_at_a_quarter_ohm() -> None:
    # design reference 1.5 (calculated): 0.27 ohm, 25 mA, 1 mV more spread over both halves
    # raises the reading across the pair by 0.21 mV
    domain = ZDomain(0.54, 0.27)
    assert (domain.volts(domain.z(0.0135) + 0.0005) - 0.0135) * 1e3 == pytest.approx(0.2, abs=0.015)


@pytest.mark.parametrize("stage", [OutputStage.CFP, OutputStage.LATERAL_MOSFET, OutputStage.UNKNOWN])
def test_other_stages_have_no_such_domain(stage: OutputStage) -> None:
    setup = ChannelSetup("left bias", stage=stage, resistance_ohm=0.54, emitter_resistor_ohm=0.27)
    assert ZDomain.of(setup) is None


def test_unknown_resistors_are_not_guessed() -> None:
    assert ZDomain.of(ChannelSetup("left bias", resistance_ohm=0.54)) is None
    assert ZDomain.of(ChannelSetup("left bias", emitter_resistor_ohm=0.27)) is None
    assert ZDomain.of(FOLLOWER) is not None


def test_a_dead_reading_does_not_break_the_arithmetic() -> None:
    domain = ZDomain(0.54, 0.27)
    assert domain.z(0.0) == domain.z(-1.0)
