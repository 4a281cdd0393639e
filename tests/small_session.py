"""A small recorded session with a verdict in it, for tests about damage, archives and bundles."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from app.records.session_folder import SessionRecord
from drivers.reading import GapReason, Unit
from procedures.events import (
    ChannelGap,
    ChannelReading,
    Input,
    Note,
    StopRequested,
    Supply,
    SupplyChanged,
    TrimDeclared,
)
from procedures.job import Naming, UnitName
from procedures.leads import Lead
from procedures.procedure import load_procedure
from procedures.records.codec import Fact
from procedures.records.journal import Anchor, Header
from procedures.replay import setup_entry
from procedures.runner import Run
from procedures.setup import RunSetup

BEGAN = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
LEADS = (Lead("one", "1", "left bias"),)
WATCH = """
format = 1
id = "look"
title = "Look"
purpose = "Read one channel."
channels = ["left bias"]
[[step]]
id = "warm"
kind = "measure"
title = "Bias now"
name = "as found"
channels = ["left bias"]
until = "steady"
limits = { low_millivolts = 12.0, high_millivolts = 14.0 }
[[step]]
id = "left"
kind = "measure"
title = "Bias again"
name = "as left"
channels = ["left bias"]
until = "steady"
limits = { low_millivolts = 12.0, high_millivolts = 14.0 }
[[step]]
id = "summary"
kind = "summary"
title = "Summary"
channels = ["left bias"]
"""


def inputs(readings: int = 40, level: float = 0.0131) -> list[Input]:
    """Some readings that stand still, a gap and a note among them."""
    told: list[Input] = [SupplyChanged(0.5, Supply.MAINS)]
    for number in range(readings):
        told.append(ChannelReading(1.0 + number, "left bias", level + 1e-7 * (number % 3), Unit.VOLT, 0.1))
    middle = len(told) // 2
    told.insert(middle, ChannelGap(middle - 0.5, middle - 0.2, "left bias", GapReason.TIMED_OUT, "no answer"))
    return [
        *told,
        Note(readings + 2.0, "hum, Ω \u2028 and a line"),
        TrimDeclared(readings + 3.0, "left bias"),
        StopRequested(readings + 4.0, "enough seen"),
    ]


def small_setup() -> RunSetup:
    """One channel without an amplifier."""
    return RunSetup.build(load_procedure(WATCH, "look.toml"), leads=LEADS, cautions_acknowledged=True)


def facts_of(given: list[Input]) -> list[Fact]:
    """The inputs, and behind each what a run says to it."""
    run = Run(small_setup())
    return [fact for one in given for fact in (one, *run.feed(one))]


def keep_session(
    root: Path,
    session: str = "0f3a",
    *,
    unit: str = "Kestrow K-40",
    naming: Naming | None = None,
    began: datetime = BEGAN,
    level: float = 0.0131,
    readings: int = 40,
) -> Path:
    """Record the small session into a folder of its own, closed; the folder."""
    setup = small_setup()
    header = Header(session, began, setup_entry(setup), setup.rules, title="Look", unit=unit)
    record = SessionRecord.create(root, header)
    record.append([Anchor(0.0, began), *facts_of(inputs(readings, level))])
    if naming is not None:
        record.name(naming)
    record.close()
    return record.folder


def keep_named(root: Path, session: str, serial: str, **more: object) -> Path:
    """The same of a unit of one model."""
    naming = Naming(UnitName("Kestrow", "K-40", serial))
    return keep_session(root, session, naming=naming, **more)  # type: ignore[arg-type]
