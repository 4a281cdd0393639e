"""The sample sessions: recorded on the simulated bench, by scripted hands, of invented units."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from app.bench.opening import SimulatedChoice
from app.practice_run import PracticePlan, open_bench, run_stepped
from app.records.attachments import ATTACHMENTS
from app.records.places import require_writable
from app.records.session_folder import IN_USE
from app.settings import Settings
from procedures.library import shipped_procedures


@dataclass(frozen=True, slots=True)
class Sample:
    """One sample: its folder, what was on the bench, and what the hands answered."""

    name: str
    choice: SimulatedChoice
    procedure: str
    answers: Mapping[str, str] = field(default_factory=dict)


SAMPLES = (
    Sample("healthy-trim", SimulatedChoice("healthy", session="5a3e01"), "two-channel-bias-trim"),
    Sample(
        "over-biased-as-found",
        SimulatedChoice("over_biased", session="5a3e02"),
        "two-channel-bias-trim",
        {"parts": "yes"},
    ),
    Sample("runaway-stopped-in-time", SimulatedChoice("runaway", session="5a3e03"), "warm-up"),
    Sample(
        "one-meter-right-as-found",
        SimulatedChoice("right_as_found", meters=1, session="5a3e04"),
        "two-channel-bias-trim",
    ),
    Sample(
        "service-route",
        SimulatedChoice("worn_relay", session="5a3e05"),
        "service-route",
        dict.fromkeys(("solder-joints", "load-test", "soak"), "pass over"),
    ),
)
STARTED = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)


def record_samples(into: Path, settings: Settings) -> list[Path]:
    """Record every sample into its folder, in place of what is there; the folders. Raises OSError."""
    require_writable(into)
    return [_record(sample, into, settings) for sample in SAMPLES]


def _record(sample: Sample, into: Path, settings: Settings) -> Path:
    procedure = shipped_procedures()[sample.procedure]
    plan = PracticePlan(sample.choice, procedure, into, settings, stepped=True, started=STARTED)
    bench = open_bench(plan)
    try:
        run_stepped(bench, sample.choice.seed, sample.answers)
    finally:
        bench.leave()
    made, kept = bench.record.folder, into / sample.name
    (made / IN_USE).unlink(missing_ok=True)
    (made / ATTACHMENTS).rmdir()
    if kept.exists():
        shutil.rmtree(kept)
    made.rename(kept)
    return kept
