"""What ships: every procedure and amplifier is whole, and fits together with a bench."""

from __future__ import annotations

import pytest

from drivers.meter import MeterAccuracy
from procedures.amplifier import Amplifier
from procedures.leads import Lead
from procedures.library import shipped_amplifiers, shipped_procedures
from procedures.procedure import Procedure
from procedures.setup import RunSetup
from procedures.target import target_of, target_questions


def test_what_ships_is_what_is_promised() -> None:
    """Every procedure of the job, and invented amplifiers."""
    assert next(iter(shipped_procedures())) == "watch"
    assert set(shipped_procedures()) == {
        "bias-by-supply-current",
        "cold-set-bias",
        "complaint",
        "controls",
        "dc-offset",
        "electrical-safety",
        "emitter-resistors",
        "hand-back",
        "incoming-inspection",
        "load-test",
        "multi-pair-spread",
        "next-day-check",
        "oscillation-check",
        "output-level",
        "protection-threshold",
        "relay-contact",
        "safety-and-power-up",
        "service-route",
        "soak",
        "solder-joints",
        "transformer-hum",
        "trimmer-check",
        "two-channel-bias-trim",
        "verification",
        "voltmeter-check",
        "warm-up",
        "watch",
    }
    assert list(shipped_amplifiers()) == [
        "Brinefold PA-600",
        "Kestrow K-40",
        "Orlend RA-8",
        "Tessen AB-500",
        "Tessen RL-60",
    ]


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


def test_a_setup_describes_every_channel_that_its_procedure_works_on() -> None:
    """Whether the amplifier knows it, a lead reads it, or neither."""
    procedure = shipped_procedures()["two-channel-bias-trim"]
    setup = RunSetup.build(procedure, leads=[Lead("one", "1", "heatsink")], typed=["mains"])

    assert [c.channel for c in setup.channels] == ["left bias", "right bias", "heatsink", "mains"]
    assert [c.typed for c in setup.channels] == [False, False, False, True]
    with pytest.raises(
        ValueError, match='the procedure works on "left bias", which is no channel of this bench'
    ):
        RunSetup(procedure)


def test_a_trim_without_a_target_is_asked_about_before_it_begins() -> None:
    """Which amplifier, or which of its channels is meant."""
    procedure = shipped_procedures()["two-channel-bias-trim"]
    kestrow = shipped_amplifiers()["Kestrow K-40"]
    renamed = kestrow.model_copy(
        update={"channel": tuple(c.model_copy(update={"name": f"{c.name}s"}) for c in kestrow.channel)}
    )

    assert RunSetup.build(procedure, kestrow).questions() == ()
    assert RunSetup.build(shipped_procedures()["watch"]).questions() == ()
    assert RunSetup.build(procedure).questions() == (
        "Left bias has no target: which amplifier is it, or what should it read?",
        "Right bias has no target: which amplifier is it, or what should it read?",
    )
    assert RunSetup.build(procedure, renamed).questions() == (
        'Kestrow K-40 has no target for left bias: did you mean "left biass"?',
        'Kestrow K-40 has no target for right bias: did you mean "right biass"?',
    )


def test_accuracies_go_with_the_meter_or_with_the_typed_channel() -> None:
    """By the meter's name, or by the channel's where a person types."""
    good, poor = MeterAccuracy(of_reading=1e-4), MeterAccuracy(of_reading=5e-3)
    setup = RunSetup.build(
        shipped_procedures()["watch"],
        leads=[Lead("one", "1", "left bias")],
        typed=["right bias"],
        accuracies={"one": good, "right bias": poor},
    )

    assert [c.accuracy for c in setup.channels] == [good, poor]


_WORDS = (
    "Bring Choose Clean Compare Connect Do Feel Have Hold Leave Let Listen Look Make Mark Measure Note Play "
    "Press Put Run Say Smell Take Tap Test Trim Turn Type Use Wait Watch Work Write"
)
VERBS = frozenset(_WORDS.split(" "))


@pytest.mark.parametrize("procedure", shipped_procedures().values(), ids=lambda p: p.id)
def test_what_is_to_be_done_begins_with_a_verb(procedure: Procedure) -> None:
    """For somebody two metres away, with both hands on the board."""
    for line in procedure.step:
        texts = [line.text] if getattr(line, "text", None) else []
        texts += [item.text for item in getattr(line, "item", ())]
        for text in texts:
            assert text.split()[0] in VERBS, text


def test_a_charged_reservoir_is_judged_by_its_size() -> None:
    """The meter shows that of a negative rail below zero: -40 V are not under a limit of 5 V."""
    asked = [
        line
        for procedure in shipped_procedures().values()
        for line in procedure.step
        if line.kind == "record" and line.name == "reservoir voltage"
    ]
    assert len(asked) >= 4
    assert {(limit.low, limit.high) for line in asked for limit in line.limit} == {(-5.0, 5.0)}
