"""The threshold of the protection: tried only where a point is known, judged by the amplifier's own file."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from procedures.events import Answer, Outcome
from procedures.leads import Leads
from procedures.library import shipped_amplifiers
from procedures.ratings import DcProtection
from procedures.steps.protection import CLOSED, OPEN, SKIP, STAYED, ProtectionStep
from procedures.steps.sitting import Sitting
from procedures.steps.step import Conduct

LINE = ProtectionStep(id="threshold", title="Threshold", kind="protection")
KNOWN = DcProtection(point="pin 7", low_millivolts=400, high_millivolts=1200, source="sheet 6")


@pytest.fixture
def sitting() -> Sitting:
    amplifier = shipped_amplifiers()["Kestrow K-40"].model_copy(update={"dc_protection": KNOWN})
    return Sitting(channels={}, watcher=None, leads=Leads(()), amplifier=amplifier)  # type: ignore[arg-type]


def answered(sitting: Sitting, *answers: tuple[str, str]) -> Conduct:
    """The step at zero, then one answer after another: a choice, or what is typed."""
    conduct = LINE.open(sitting)
    conduct.begin()
    for choice, text in (("ready", ""), *answers):
        asked = conduct.prompt().asked
        assert asked is not None
        conduct.answer(asked.name, Answer(0.0, asked.name, choice, text))
    return conduct


def typed(text: str) -> tuple[str, str]:
    return "typed", text


def outcomes(sitting: Sitting) -> list[Outcome]:
    return [verdict.outcome for verdict in sitting.verdicts]


def test_both_polarities_inside_pass(sitting: Sitting) -> None:
    conduct = answered(sitting, typed("640"), (CLOSED, ""), typed("-0.655 V"), (CLOSED, ""))
    assert conduct.ending is not None
    assert conduct.ending.outcome == "passed"
    assert outcomes(sitting) == [Outcome.PASSED, Outcome.PASSED]
    kept = [(one.name, one.value, one.conditions["point"]) for one in sitting.recorded]
    assert kept == [
        ("protection threshold, positive", pytest.approx(0.64), "pin 7"),
        ("protection threshold, negative", pytest.approx(0.655), "pin 7"),
    ]


@pytest.mark.parametrize(("shown", "outcome"), [("399", "failed"), ("400", "passed"), ("1201", "failed")])
def test_the_amplifiers_own_limits_decide(sitting: Sitting, shown: str, outcome: str) -> None:
    conduct = answered(sitting, typed(shown), (CLOSED, ""), typed("500"), (CLOSED, ""))
    assert conduct.ending is not None
    assert conduct.ending.outcome == outcome


def test_a_protection_that_does_not_act_fails_and_the_other_polarity_is_tried(sitting: Sitting) -> None:
    conduct = answered(sitting, (STAYED, ""), typed("500"), (CLOSED, ""))
    assert conduct.ending is not None
    assert conduct.ending.outcome == "failed"
    assert "did not act up to 2.40 V" in sitting.verdicts[0].reason
    assert sitting.recorded[0].value is None


def test_a_relay_that_stays_open_ends_the_trial(sitting: Sitting) -> None:
    conduct = answered(sitting, typed("600"), (OPEN, ""))
    assert conduct.ending is not None
    assert conduct.ending.outcome == "failed"
    assert "stayed open at zero" in sitting.verdicts[-1].reason


def test_what_is_passed_over_is_not_measured(sitting: Sitting) -> None:
    conduct = answered(sitting, (SKIP, ""))
    assert conduct.ending is not None
    assert conduct.ending.outcome == "not measured"
    assert outcomes(sitting) == [Outcome.NOT_MEASURED, Outcome.NOT_MEASURED]


def test_what_is_no_number_is_asked_again(sitting: Sitting) -> None:
    conduct = answered(sitting, typed("click"))
    assert '"click" is none' in conduct.prompt().text
    assert conduct.ending is None


def test_every_prompt_warns_of_the_outputs(sitting: Sitting) -> None:
    conduct = LINE.open(sitting)
    assert "never an output" in conduct.prompt().caution
    conduct.answer("ready", Answer(0.0, "ready", "ready", ""))
    assert "never an output" in conduct.prompt().caution
    assert "to 2.40 V at the most" in conduct.prompt().text


def test_without_a_known_point_it_is_left_out() -> None:
    bare = Sitting(channels={}, watcher=None, leads=Leads(()))  # type: ignore[arg-type]
    assert "names no point" in LINE.unfit(bare)


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"point": "pin 7", "low_millivolts": 900, "high_millivolts": 400}, "swapped"),
        ({"point": "", "low_millivolts": 400, "high_millivolts": 900}, "point must say where"),
    ],
)
def test_data_that_cannot_be_is_refused(given: dict[str, object], sentence: str) -> None:
    with pytest.raises(ValidationError, match=sentence):
        DcProtection.model_validate(given)
