"""What ships: every procedure and amplifier is whole, and says who it is for."""

from __future__ import annotations

import pytest

from procedures.amplifier import Amplifier
from procedures.library import shipped_amplifiers, shipped_procedures
from procedures.procedure import Procedure
from procedures.target import target_of, target_questions


def test_what_ships_is_what_is_promised() -> None:
    """Three procedures, the one without questions first, and three invented amplifiers."""
    assert list(shipped_procedures()) == ["watch", "warm-up", "two-channel-bias-trim"]
    assert list(shipped_amplifiers()) == ["Brinefold PA-600", "Kestrow K-40", "Orlend RA-8"]


@pytest.mark.parametrize("procedure", shipped_procedures().values(), ids=lambda p: p.id)
def test_every_procedure_says_what_it_is_for_and_ends_with_the_power_off(procedure: Procedure) -> None:
    """One sentence of purpose; hands on a unit leave it off at the end."""
    assert procedure.purpose.endswith(".")
    if procedure.needs_hands:
        powers = [line for line in procedure.step if line.kind == "power"]
        assert powers[-1].supply.value == "off"


@pytest.mark.parametrize("amplifier", shipped_amplifiers().values(), ids=lambda a: a.name)
def test_every_amplifier_has_targets_that_nothing_is_to_be_asked_about(amplifier: Amplifier) -> None:
    """An example must not be an odd one."""
    assert target_questions(amplifier) == ()
    assert all(target_of(amplifier, channel) is not None for channel in amplifier.channel)


def test_the_demonstration_unit_is_the_worked_example() -> None:
    """25 mA through two 0.27 ohm in series is 13.5 mV; 10 % of it to each side (Ohm's law)."""
    amplifier = shipped_amplifiers()["Kestrow K-40"]
    target = target_of(amplifier, amplifier.channel[0])

    assert target is not None
    assert (target.volts, target.low_volts, target.high_volts) == pytest.approx((0.0135, 0.01215, 0.01485))
