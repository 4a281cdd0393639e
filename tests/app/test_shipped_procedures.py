"""Every procedure that ships, on a unit that has the fault and on one that has not: the right verdict.

Here: those that are done in minutes. Those that warm an amplifier up are in `test_shipped_warm_procedures`.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from practised_units import carried_out

from drivers.simulated.around import healthy_around
from procedures.library import shipped_procedures
from procedures.observed import CheckResult

GOOD = "right_as_found"


@pytest.mark.parametrize(
    ("procedure", "unit", "outcome", "words"),
    [
        ("incoming-inspection", GOOD, "passed", "5 judged and in order"),
        ("incoming-inspection", "untidy", "failed", "a wrong fuse is fitted (6.3 A where 2.5 A is printed)"),
        ("complaint", GOOD, "not measured", "It did not occur"),
        ("complaint", "worn_relay", "failed", "It was seen"),
        ("safety-and-power-up", "over_biased", "failed", "The lamp: It stays bright"),
        ("transformer-hum", GOOD, "passed", ""),
        ("transformer-hum", "humming_transformer", "failed", "DC on the mains: 850 mV"),
        ("relay-contact", GOOD, "passed", ""),
        (
            "relay-contact",
            "worn_relay",
            "failed",
            "Left contact, spread: 240 mV, 95.0 mV, 310 mV: 215 mV apart",
        ),
        ("protection-threshold", GOOD, "passed", "2 judged and in order"),
        ("protection-threshold", "untidy", "failed", "negative: acted at 1.90 V, where 400 mV to 1.20 V"),
        ("controls", GOOD, "passed", ""),
        ("controls", "untidy", "failed", "DC on the control: 85.0 mV"),
        ("emitter-resistors", GOOD, "passed", ""),
        ("emitter-resistors", "untidy", "failed", "right lower emitter resistor: 0.312 Ω"),
        ("emitter-resistors", "scratchy_trimmer", "failed", "the right trimmer drops out"),
        ("oscillation-check", GOOD, "passed", ""),
        ("oscillation-check", "untidy", "failed", "left output above the audio band: 420 mV"),
        ("dc-offset", "offset_high", "failed", "114.7 mV is 65 mV above"),
        ("electrical-safety", GOOD, "passed", "5 judged and in order"),
        ("electrical-safety", "untidy", "failed", "protective conductor resistance: 4.10 Ω"),
        ("hand-back", GOOD, "passed", ""),
        ("hand-back", "untidy", "failed", "Listened to: Not clean"),
    ],
)
def test_it_reaches_the_right_verdict(
    procedure: str, unit: str, outcome: str, words: str, tmp_path: Path
) -> None:
    """To its end, with the reason in words."""
    done = carried_out(tmp_path, procedure, unit)

    assert done.view.ended is not None
    assert done.view.ended.finished
    assert (done.outcome, words in done.reason) == (outcome, True), done.reason


def test_a_bright_lamp_ends_before_the_mains(tmp_path: Path) -> None:
    """The list of what it may be is gone through, and nothing more is switched on."""
    done = carried_out(tmp_path, "safety-and-power-up", "over_biased")

    assert done.ended("power-on") == '"Not further than this" goes past it'
    found = [one.words for one in done.view.inspected if one.result is CheckResult.FAILED]
    assert found == ["the right trimmer stands at its stop"]


def test_limits_follow_the_class_of_protection(tmp_path: Path) -> None:
    """Without a protective earth its resistance is not asked for."""
    done = carried_out(tmp_path, "electrical-safety", GOOD, {"class": "II"})

    assert done.outcome == "passed"
    assert done.value("protective conductor resistance") is None
    assert done.ended("insulation").endswith("class II)")


def test_another_regime_keeps_figures_without_a_verdict(tmp_path: Path) -> None:
    """Limits that are not here are not made up; insulation goes by the class alone."""
    done = carried_out(tmp_path, "electrical-safety", "untidy", {"regime": "other"})

    assert done.value("protective conductor resistance") == pytest.approx(4.1)
    assert "protective conductor resistance" not in done.reason


def test_what_every_procedure_asks_for_is_on_the_simulated_bench() -> None:
    """Each typed value has an instrument, so that each procedure can be practised."""
    names = {
        line.name
        for procedure in shipped_procedures().values()
        for line in procedure.step
        if line.kind == "record"
    }

    assert names - set(healthy_around().values) == set()


LONG_PARTS = ("solder-joints", "load-test", "soak")


def test_the_whole_job_is_carried_out_from_intake_to_hand_back(tmp_path: Path) -> None:
    """What the search found is told; what the job came to is judged. The long parts are passed over."""
    done = carried_out(tmp_path, "service-route", "worn_relay", dict.fromkeys(LONG_PARTS, "pass over"))

    assert done.view.ended is not None
    assert done.view.ended.finished
    assert done.outcome == "passed", done.reason
    assert "found on the way: The complaint: It was seen; Left contact at low level" in done.reason
    assert done.ended("soak--connect") == '"Soak: passed over" goes past it'
