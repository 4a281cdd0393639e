"""The sample sessions are what they say, and are judged again as they were judged then."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.records.session_folder import JOURNAL, open_session
from app.sample_sessions import SAMPLES, record_samples
from app.settings import Settings
from procedures.events import Alarm, Outcome, Tier, Verdict
from procedures.replay import compare

FOLDER = Path(__file__).resolve().parents[2] / "sample_sessions"
NAMES = [sample.name for sample in SAMPLES]


def _outcomes(folder: Path) -> list[tuple[str, str | None, Outcome]]:
    facts = open_session(folder).journal.facts
    return [(fact.step, fact.channel, fact.outcome) for fact in facts if isinstance(fact, Verdict)]


def test_every_sample_is_there() -> None:
    """The folder holds what the command records, and nothing else."""
    assert sorted(path.name for path in FOLDER.iterdir() if path.is_dir()) == sorted(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_a_sample_is_whole_small_and_judged_the_same_again(name: str) -> None:
    """Count and digest are true; the same rules give the same decisions."""
    path = FOLDER / name / JOURNAL
    session = open_session(path.parent)

    comparison = compare(session.journal.header, session.journal.facts)

    assert path.stat().st_size < 1_000_000
    assert session.journal.closed
    assert session.journal.problems == []
    assert comparison.same_rules
    assert comparison.same, comparison.sentence
    assert session.journal.header.practice


def test_the_samples_show_what_their_names_say() -> None:
    """A trim that passes, a unit far too high, a runaway that was switched off."""
    healthy = {channel: outcome for _, channel, outcome in _outcomes(FOLDER / "healthy-trim")}
    assert healthy[None] is Outcome.PASSED
    alone = {outcome for _, _, outcome in _outcomes(FOLDER / "one-meter-right-as-found")}
    assert alone == {Outcome.LEFT_ALONE}
    for name in ("over-biased-as-found", "runaway-stopped-in-time"):
        facts = open_session(FOLDER / name).journal.facts
        assert any(isinstance(fact, Alarm) and fact.tier is Tier.OFF for fact in facts)


def test_recording_the_samples_again_gives_the_same_outcomes(tmp_path: Path) -> None:
    """The command makes them whenever it is asked to."""
    folders = record_samples(tmp_path / "samples", Settings())

    assert [folder.name for folder in folders] == NAMES
    for folder in folders:
        assert _outcomes(folder) == _outcomes(FOLDER / folder.name)
