"""Derived targets against published and calculated figures; the source stands beside each."""

from __future__ import annotations

import pytest

from procedures.amplifier import Amplifier, AmplifierChannel, OutputStage, TestPoint
from procedures.derived_target import (
    Origin,
    agree,
    candidates,
    class_a_watts,
    from_current,
    from_history,
    from_other_channel,
    idle_heat,
    oliver,
    oliver_amperes,
    self_ruler,
    thermal_volts,
    with_chosen_target,
)

ONE, SERIES = TestPoint.ONE_RESISTOR, TestPoint.PAIR_IN_SERIES
FOLLOWER, CFP = OutputStage.EMITTER_FOLLOWER, OutputStage.CFP


def _amplifier(resistor: str = "0R22", **channel: object) -> Amplifier:
    fields: dict[str, object] = {"name": "left bias", "test_point": ONE}
    return Amplifier(
        format=1,
        maker="Brinefold",
        model="Test",
        output_stage=FOLLOWER,
        emitter_resistor=resistor,
        rail_volts=40.0,
        device_limit_watts=12.0,
        sink_kelvin_per_watt=0.7,
        channel=(AmplifierChannel.model_validate(fields | channel),),
    )


@pytest.mark.parametrize(
    ("resistor", "milliamperes"),
    # Oliver with the internal resistance ignored, 26 mV / RE: HP Journal, Feb 1971, read on a page citing it
    [(0.22, 118.2), (0.27, 96.3), (0.33, 78.8), (0.47, 55.3), (0.1, 260.0)],
)
def test_oliver_without_internal_resistance(resistor: float, milliamperes: float) -> None:
    assert oliver_amperes(resistor) * 1e3 == pytest.approx(milliamperes, abs=0.05)


def test_oliver_with_what_is_inside_the_device() -> None:
    """RE 0.22, re 0.05, rb 4 ohm, hFE 80: 81.25 mA, 17.9 mV over RE (calculated from Oliver's formula)."""
    found = oliver(ONE, 0.22, 0.05, 4.0, 80.0)

    assert found.amperes == pytest.approx(0.08125)
    assert found.volts * 1e3 == pytest.approx(17.9, abs=0.05)
    assert found.ruler


@pytest.mark.parametrize(
    ("resistor", "millivolts_across_both", "milliamperes"),
    [
        (0.10, 42.6, 213.0),  # Self, recalled - check before quoting (prints 215 mA)
        (0.22, 46.2, 105.0),  # Self, 23.1 mV per resistor confirmed by a forum quotation; book not opened
        (0.47, 50.6, 53.8),  # Self, recalled - check before quoting (prints 54 mA)
    ],
)
def test_self_for_followers(resistor: float, millivolts_across_both: float, milliamperes: float) -> None:
    found = self_ruler(SERIES, FOLLOWER, resistor)

    assert found is not None
    assert found.amperes is not None
    assert found.volts * 1e3 == pytest.approx(millivolts_across_both)
    assert found.amperes * 1e3 == pytest.approx(milliamperes, abs=0.1)


def test_self_for_a_complementary_feedback_pair() -> None:
    """8.6 mV at 0.22 ohm, about 20 mA (Self, recalled - check before quoting)."""
    found = self_ruler(SERIES, CFP, 0.22)

    assert found is not None
    assert found.amperes is not None
    assert found.amperes * 1e3 == pytest.approx(19.5, abs=0.5)


def test_a_ruler_says_nothing_where_nothing_is_known() -> None:
    """No figure for MOSFETs, nor for resistors beyond the table."""
    assert self_ruler(ONE, OutputStage.LATERAL_MOSFET, 0.22) is None
    assert self_ruler(ONE, FOLLOWER, 1.0) is None
    assert self_ruler(ONE, CFP, 0.1) is None


@pytest.mark.parametrize(
    ("point", "milliamperes", "resistor", "millivolts"),
    [
        (SERIES, 25.0, 0.27, 13.5),  # Ohm's law
        (ONE, 40.0, 0.22, 8.8),  # reported by practitioners on a forum
        (SERIES, 40.0, 0.1, 8.0),  # calculated
        (ONE, 68.0, 0.16, 10.88),  # integrated amplifier, figure reported on a forum
    ],
)
def test_a_chosen_current(point: TestPoint, milliamperes: float, resistor: float, millivolts: float) -> None:
    assert from_current(point, milliamperes / 1e3, resistor).volts * 1e3 == pytest.approx(millivolts)


@pytest.mark.parametrize(
    ("celsius", "millivolts"), [(20.0, 25.2617), (25.0, 25.6926), (27.0, 25.8649), (60.0, 28.7086)]
)
def test_thermal_voltage(celsius: float, millivolts: float) -> None:
    """kT/q with the exact constants of the SI (CODATA; closed form)."""
    assert thermal_volts(celsius) * 1e3 == pytest.approx(millivolts, abs=5e-5)


def test_class_a_power() -> None:
    """2 Iq^2 R: 227.3 mA into 4.7 ohm is 0.486 W (calculated; a forum gives 0.48)."""
    assert class_a_watts(0.2273, 4.7) == pytest.approx(0.486, abs=5e-4)


@pytest.mark.parametrize(("milliamperes", "watts"), [(1.0, 0.080), (25.0, 2.0)])
def test_idle_watts_of_a_pair(milliamperes: float, watts: float) -> None:
    """1 mA at +-40 V is 80 mW, 25 mA is 2.0 W a pair (calculated: 2 V I)."""
    heat = idle_heat(_amplifier(), milliamperes / 1e3)

    assert heat is not None
    assert heat.pair_watts == pytest.approx(watts)
    assert heat.sink_rise_k == pytest.approx(watts * 0.7)  # closed form: P Rth
    assert heat.over_limit is False


def test_heat_is_not_guessed() -> None:
    """Without the rail voltage there is none, without kelvin per watt no rise."""
    known = _amplifier()
    assert idle_heat(known.model_copy(update={"rail_volts": None}), 0.025) is None
    heat = idle_heat(known.model_copy(update={"sink_kelvin_per_watt": None}), 0.4)
    assert heat is not None
    assert (heat.sink_rise_k, heat.over_limit) == (None, True)


def test_candidates_stand_side_by_side() -> None:
    """Each says how it came about; the theoretical ones are rulers."""
    amplifier = _amplifier()
    found = candidates(
        amplifier,
        amplifier.channel[0],
        chosen_amperes=0.04,
        others=[("right bias", 0.0091)],
        history_volts=[0.0086, 0.0090, 0.0088],
    )

    assert [one.origin for one in found] == list(Origin)
    assert [one.ruler for one in found] == [False, False, False, True, True]
    assert [round(one.volts * 1e3, 2) for one in found] == [8.8, 9.1, 8.8, 26.0, 23.1]
    assert found[2].how == "3 channels were left at 8.80 mV, 8.60 mV to 9.00 mV"


def test_mosfets_have_no_theoretical_ruler() -> None:
    """More is better there, so there is no optimum to show (Cordell, recalled - check before quoting)."""
    amplifier = _amplifier().model_copy(update={"output_stage": OutputStage.LATERAL_MOSFET})

    assert candidates(amplifier, amplifier.channel[0]) == ()
    assert from_history([]) is None


def test_a_person_chooses_and_says_why() -> None:
    """Reason and name are kept with the target; without them there is none."""
    amplifier = _amplifier()
    chosen = from_current(ONE, 0.04, 0.22)
    with pytest.raises(ValueError, match="say who chose this target, and why"):
        with_chosen_target(amplifier, "left bias", chosen, chosen_by="N. N.", reason=" ")

    told = with_chosen_target(amplifier, "left bias", chosen, chosen_by="N. N.", reason="cool sinks")

    channel = told.channel[0]
    assert channel.target_millivolts == pytest.approx(8.8)
    assert channel.source == "chosen current: 40 mA x 0.22 ohm"
    assert (channel.chosen_by, channel.reason) == ("N. N.", "cool sinks")


def test_a_chosen_reading_forgets_the_current_that_was_meant_before() -> None:
    """Where the current behind it is not known, none of an earlier target is kept with it."""
    before = _amplifier(target_millivolts=8.8, tolerance_percent=10.0, intended_milliamperes=40.0)
    chosen = from_other_channel("right bias", 0.0135)
    told = with_chosen_target(before, "left bias", chosen, chosen_by="N. N.", reason="as the other one")

    assert told.channel[0].intended_milliamperes is None


@pytest.mark.parametrize(("one", "other", "same"), [(10.0, 9.0, True), (10.0, 8.9, False), (0.0, 0.0, True)])
def test_two_channels_within_ten_percent_are_alike(one: float, other: float, same: bool) -> None:
    """Within about 10 % of each other: write them down and leave them alone (reported on a forum)."""
    assert agree(one, other) is same
