"""The verification on simulated units: sound ones pass, and each fault is found where it is."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from app.bench.opening import SimulatedChoice
from app.practice_run import PracticePlan, open_bench, run_stepped
from app.records.session_folder import list_sessions, open_session
from app.settings import Settings
from procedures.analysis.audio.taken import taken_of
from procedures.events import Outcome, RecordedValue, StepChanged, StepState, SupplyChanged, Verdict
from procedures.library import shipped_procedures
from procedures.replay import compare

ALWAYS = ("signal-path", "load-8", "power-on", "gain", "power-off", "summary")


def verified(
    unit: str,
    root: Path,
    *steps: str,
    answers: Mapping[str, str] | None = None,
    instruments: bool = False,
) -> dict[str, Verdict]:
    """Carry out some steps of the shipped verification; the newest verdict of each subject."""
    shipped = shipped_procedures()["verification"]
    lines = tuple(line for line in shipped.step if line.id in (*ALWAYS, *steps))
    procedure = shipped.model_copy(update={"step": lines})
    choice = SimulatedChoice(unit, instruments=instruments)
    plan = PracticePlan(choice, procedure, root, Settings(), stepped=True)
    bench = open_bench(plan)
    try:
        run_stepped(bench, 1, answers)
        verdicts = bench.view.verdicts
        assert bench.view.ended is not None
        assert bench.view.ended.finished
        assert not bench.view.driven
    finally:
        bench.leave()
    journal = open_session(bench.record.folder).journal
    assert compare(journal.header, journal.facts).same
    return {verdict.subject or "whole": verdict for verdict in verdicts}


def failures(found: Mapping[str, Verdict]) -> set[str]:
    return {name for name, verdict in found.items() if verdict.outcome is Outcome.FAILED and name != "whole"}


@pytest.mark.long
def test_a_sound_unit_passes_everything(tmp_path: Path) -> None:
    every = [line.id for line in shipped_procedures()["verification"].step]
    found = verified("healthy", tmp_path, *every)
    assert failures(found) == set()
    assert found["whole"].outcome is Outcome.PASSED
    assert "21 judged and in order" in found["whole"].reason


def test_a_sound_unit_passes_noise_distortion_and_impedance(tmp_path: Path) -> None:
    found = verified("healthy", tmp_path, "noise", "distortion", "damping", "crosstalk")
    assert failures(found) == set()
    assert found["whole"].outcome is Outcome.PASSED


def test_a_humming_supply_fails_the_noise_and_nothing_else(tmp_path: Path) -> None:
    found = verified("humming_supply", tmp_path, "noise", "distortion")
    assert failures(found) == {"signal to noise, left", "signal to noise, right"}


def test_a_generator_and_digitiser_find_the_same(tmp_path: Path) -> None:
    found = verified("humming_supply", tmp_path, "noise", "crosstalk", instruments=True)
    assert failures(found) == {"signal to noise, left", "signal to noise, right"}


def test_a_generator_that_adds_a_second_tone_finds_the_same_intermodulation(tmp_path: Path) -> None:
    name = "modulation distortion 60 Hz + 7 kHz, left"
    found = []
    for instruments in (False, True):
        verified("starved_bias", tmp_path, "modulation", instruments=instruments)
        journal = open_session(list_sessions(tmp_path)[0].folder).journal
        kept = next(fact for fact in journal.facts if isinstance(fact, RecordedValue) and fact.name == name)
        found.append(kept.value)
    assert found[0] is not None
    assert found[1] == pytest.approx(found[0], rel=0.02)


@pytest.mark.long
def test_the_response_by_a_multimeter_goes_by_itself(tmp_path: Path) -> None:
    found, kept = by_meter(tmp_path, *(line.id for line in shipped_procedures()["voltmeter-check"].step))
    assert found["response 20 to 20000 Hz, left"].outcome is Outcome.PASSED
    assert kept["response at 1000 Hz, left"].conditions["bandwidth"] == "20 to 100000 Hz"


def test_the_power_by_a_multimeter_goes_by_itself(tmp_path: Path) -> None:
    """An output that clips early is found to miss its rating; one that reaches it is not called passed."""
    found, kept = by_meter(tmp_path, *ALWAYS, "power-8")
    right, left = (f"power into 8 Ω by AC volts, {side}" for side in ("right", "left"))
    # Closed form: (42 - 14) V / (1 + 0.35 / 8 pi) peak is 47.7 W of a sine; 1 % short lies a little above it.
    assert found[right].outcome is Outcome.FAILED
    assert found[right].value == pytest.approx(49.0, abs=1.5)
    assert "the distortion was not measured" in found[right].reason
    assert left not in found
    assert kept[left].value is not None
    assert kept[left].value > 80.0


def by_meter(root: Path, *steps: str) -> tuple[dict[str, Verdict], dict[str, RecordedValue]]:
    """Carry out steps of the check by a voltmeter on a unit that clips early; verdicts and values by name."""
    shipped = shipped_procedures()["voltmeter-check"]
    procedure = shipped.model_copy(update={"step": tuple(one for one in shipped.step if one.id in steps)})
    choice = SimulatedChoice("early_clipping", instruments=True)
    bench = open_bench(PracticePlan(choice, procedure, root, Settings(), stepped=True))
    try:
        run_stepped(bench, 1, None)
        found = {one.subject: one for one in bench.view.verdicts if one.subject}
        kept = {one.name: one for one in bench.view.recorded}
    finally:
        bench.leave()
    journal = open_session(bench.record.folder).journal
    assert compare(journal.header, journal.facts).same
    return found, kept


def test_preconditioning_is_asked_once_and_plays_before_the_distortion(tmp_path: Path) -> None:
    shipped = shipped_procedures()["verification"]
    shorter = tuple(
        line.model_copy(update={"warm_minutes": 0.5}) if line.id == "preconditioning" else line
        for line in shipped.step
        if line.id in (*ALWAYS, "distortion") or line.id.startswith("preconditioning")
    )
    procedure = shipped.model_copy(update={"step": shorter})
    bench = open_bench(
        PracticePlan(SimulatedChoice("healthy"), procedure, tmp_path, Settings(), stepped=True)
    )
    try:
        run_stepped(bench, 1, {"preconditioning-wanted": "precondition"})
        said = {line.id: (line.state, line.reason) for line in bench.view.steps}
    finally:
        bench.leave()
    assert "0.5 min at one eighth of rated power, 1 kHz, all outputs" in said["preconditioning"][1]
    assert said["preconditioning-why"][0] is StepState.SKIPPED
    order = [one.measure for one in taken_of(open_session(bench.record.folder).journal.facts)]
    assert order.index("preconditioning") < order.index("distortion")


def test_preconditioning_that_is_left_out_has_its_reason_in_the_record(tmp_path: Path) -> None:
    verified("healthy", tmp_path, "preconditioning-wanted", "preconditioning-why", "preconditioning")
    facts = open_session(list_sessions(tmp_path)[0].folder).journal.facts
    ended = {fact.step: fact for fact in facts if isinstance(fact, StepChanged)}
    assert "no claim of rated power is checked" in ended["preconditioning-wanted"].reason
    assert ended["preconditioning"].state is StepState.SKIPPED
    assert not [one for one in taken_of(facts) if one.measure == "preconditioning"]


def test_a_weak_channel_fails_gain_and_balance(tmp_path: Path) -> None:
    found = verified("weak_left_channel", tmp_path, "noise")
    assert failures(found) == {"gain, left", "balance of channels"}


def test_early_clipping_fails_the_power_of_its_channel(tmp_path: Path) -> None:
    found = verified("early_clipping", tmp_path, "power-8")
    assert failures(found) == {"power into 8 Ω, right"}
    # Closed form: (42 - 14) V / (1 + 0.35 / 8 pi) peak is 47.7 W of a sine; 1 % THD+N lies a little above it.
    assert found["power into 8 Ω, right"].value == pytest.approx(49.0, abs=1.5)


def test_too_little_bias_shows_at_one_watt(tmp_path: Path) -> None:
    found = verified("starved_bias", tmp_path, "distortion")
    assert {"distortion at 1 W, left", "distortion at 1 W, right"} <= failures(found)


def test_an_earthed_input_is_refused_on_a_bridged_output(tmp_path: Path) -> None:
    shipped = shipped_procedures()["verification"]
    plan = PracticePlan(SimulatedChoice("healthy"), shipped, tmp_path, Settings(), stepped=True)
    bench = open_bench(plan)
    try:
        run_until_question(bench, "reference")
        bench.answer(question(bench), "bridged")
        run_until_question(bench, "probe")
        bench.answer(question(bench), "earthed")
        run_until_question(bench, "typed")
        line = next(line for line in bench.view.steps if line.id == "signal-path")
        assert "an earthed input on a bridged output joins it to earth" in line.reason
    finally:
        bench.leave()


def question(bench: object) -> str:
    asked = bench.view.question  # type: ignore[attr-defined]
    return asked.id if asked is not None else ""


def run_until_question(bench: object, name: str) -> None:
    """Press whatever stands on the key, and read cautions, until a question is asked."""
    turns = bench.turns()  # type: ignore[attr-defined]
    for _ in range(50):
        turns.run(lambda: False, 0.5)
        if question(bench).endswith(f"/{name}"):
            return
        if question(bench).endswith(("/caution", "/read")):
            asked = bench.view.question  # type: ignore[attr-defined]
            bench.answer(asked.id, asked.choices[0].key)  # type: ignore[attr-defined]
        elif question(bench).endswith("/typed"):
            bench.answer(question(bench), "typed", "8.0")  # type: ignore[attr-defined]
        else:
            fact = bench.view.next_fact  # type: ignore[attr-defined]
            if isinstance(fact, SupplyChanged):
                bench.practice.switch(fact.supply)  # type: ignore[attr-defined]
            bench.press_next()  # type: ignore[attr-defined]
    raise AssertionError(f"never asked: {name}; the question is {question(bench)!r}")


def test_without_an_audio_path_the_request_is_refused_and_the_run_goes_on(tmp_path: Path) -> None:
    shipped = shipped_procedures()["verification"]
    lines = tuple(line for line in shipped.step if line.id in (*ALWAYS, "noise"))
    plan = PracticePlan(
        SimulatedChoice("healthy"),
        shipped.model_copy(update={"step": lines}),
        tmp_path,
        Settings(),
        stepped=True,
    )
    bench = open_bench(plan)
    bench.conductor.audio = None
    try:
        run_until_question(bench, "trouble")
        assert "This bench has no generator and recorder" in bench.view.question.text  # type: ignore[union-attr]
        bench.answer(question(bench), "skip")
        run_until_question(bench, "ready")
    finally:
        bench.leave()
