"""The picture of a recorded session: what `trace_picture` is given to draw."""

from __future__ import annotations

import math
from pathlib import Path

from app.bench.leads_in_time import LeadsInTime
from app.bench.restoring import fill
from app.bench.snapshot import SnapshotStore
from app.records.session_folder import Session
from app.reports.trace_picture import (
    PRACTISED,
    DrawnChannel,
    DrawnMark,
    TracePicture,
    Window,
    write_png,
    write_svg,
)
from procedures.analysis.channel import ChannelSetup
from procedures.events import Note, StepChanged, StepState, Supply, SupplyChanged
from procedures.leads import Leads
from procedures.replay import setup_of
from procedures.view import RunView

MOST_MARKS = 24


def write_session_png(path: Path, session: Session) -> None:
    """Draw a session's traces into a file. Raises OSError, LineRefused."""
    write_png(path, picture_of(session))


def write_session_svg(path: Path, session: Session) -> None:
    """Draw a session's traces as SVG. Raises OSError, LineRefused."""
    write_svg(path, picture_of(session))


def picture_of(session: Session) -> TracePicture:
    """What there is to draw of a session. Raises LineRefused for a header without a setup."""
    journal = session.journal
    setup = setup_of(journal.header)
    view = RunView(0.0, setup.procedure.id, setup.procedure.title)
    store = SnapshotStore(view)
    fill(store, journal.facts, LeadsInTime(Leads(setup.leads)))
    store.publish(view, Leads(), "")
    off_s = _last_switched_off_s(session)
    declared = {channel.channel: channel for channel in setup.channels}
    channels = tuple(
        DrawnChannel(trace, _window(declared.get(trace.channel)), off_s) for trace in store.newest().traces
    )
    unit = str(journal.naming.unit) if journal.naming is not None else ""
    began = journal.header.started_utc.astimezone().strftime("%Y-%m-%d %H:%M")
    words = [setup.procedure.title, began]
    practised = setup.practice or journal.header.practice
    if practised:
        words.append("practice on the simulated bench")
    return TracePicture(
        title=unit or journal.header.unit or "Unit not named",
        subtitle=" · ".join(words),
        channels=channels,
        marks=_marks(session, {step.id: step.title for step in setup.procedure.step}),
        watermark=PRACTISED if practised else "",
    )


def _last_switched_off_s(session: Session) -> float:
    """When the amplifier was switched off for good: what it reads afterwards says nothing."""
    changes = [fact for fact in session.journal.facts if isinstance(fact, SupplyChanged)]
    return changes[-1].at_s if changes and changes[-1].supply is Supply.OFF else math.inf


def _window(setup: ChannelSetup | None) -> Window | None:
    if setup is None or setup.low_volts is None or setup.high_volts is None:
        return None
    return Window(setup.low_volts, setup.high_volts)


def _marks(session: Session, titles: dict[str, str]) -> tuple[DrawnMark, ...]:
    """Steps that took time, the mains switch, and notes; not the questions in between."""
    taken = {back.noted_s for back in session.journal.taken_back}
    steps: list[DrawnMark] = []
    others: list[DrawnMark] = []
    for fact in session.journal.facts:
        match fact:
            case StepChanged(state=StepState.ACTIVE):
                # A step that was over at once gives its place to the next.
                if steps and fact.at_s - steps[-1].at_s < 10.0:
                    steps.pop()
                steps.append(DrawnMark(fact.at_s, titles.get(fact.step, fact.step)))
            case SupplyChanged():
                words = "switched off" if fact.supply is Supply.OFF else f"on: {fact.supply.value}"
                others.append(DrawnMark(fact.at_s, words))
            case Note() if fact.text and fact.at_s not in taken:
                others.append(DrawnMark(fact.at_s, fact.text))
            case _:
                pass
    marks = sorted([*steps, *others], key=lambda mark: mark.at_s)
    return tuple(marks[:MOST_MARKS])
