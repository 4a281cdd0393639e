"""After a crash: the session is found, said to be unwatched, and goes on or is closed."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from app.bench import opening
from app.bench.live_bench import LiveBench
from app.bench.opening import SimulatedChoice, open_simulated
from app.bench.resuming import close_as_it_stands, look_at, resume
from app.records.session_folder import JOURNAL, SessionUnreadable, is_in_use, list_sessions, open_session
from app.settings import Settings
from drivers.clock import SteppedClock
from procedures.events import (
    ChannelGap,
    ChannelReading,
    SegmentOpened,
    StopRequested,
    Supply,
    SupplyChanged,
)
from procedures.library import shipped_procedures
from procedures.records.journal import Header
from procedures.replay import compare


def _cut_off(root: Path, unit: str = "right_as_found", seconds: float = 60.0) -> Path:
    """A session on real-looking meters that was never closed: the amplifier is on."""
    bench = open_simulated(
        SimulatedChoice(unit), shipped_procedures()["watch"], root, SteppedClock(), Settings()
    )
    assert bench.practice is not None
    bench.practice.switch(Supply.MAINS)
    bench.supply(Supply.MAINS)
    bench.turns().run(lambda: False, seconds)
    bench.record.abandon()
    return bench.record.folder


@pytest.fixture
def real_meters(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the recorded sessions of these tests count as sessions on real meters."""
    read = Header.read.__func__  # type: ignore[attr-defined]

    def not_practice(cls: type[Header], line: str) -> Header:
        header: Header = read(cls, line)
        header.setup["practice"] = False  # type: ignore[index]
        return header

    monkeypatch.setattr(Header, "read", classmethod(not_practice))


def _later(folder: Path, minutes: float) -> SteppedClock:
    """A clock that starts some minutes after the session's last reading."""
    return SteppedClock(utc=look_at(folder).last_seen + timedelta(minutes=minutes))


@pytest.mark.usefixtures("real_meters")
def test_an_unclosed_session_tells_when_and_how_it_was_left(session_root: Path) -> None:
    """The amplifier was on the mains at the last reading."""
    folder = _cut_off(session_root)

    found = look_at(folder)

    assert found.supply is Supply.MAINS
    assert found.refusal == ""
    assert isinstance(found.last_seen, datetime)
    assert not list_sessions(session_root)[0].closed


@pytest.mark.usefixtures("real_meters")
def test_a_session_goes_on_in_a_new_segment(session_root: Path) -> None:
    """Ten unwatched minutes: a gap, a segment, session time that counted on; judged the same again."""
    folder = _cut_off(session_root)
    before = open_session(folder).journal.facts

    bench: LiveBench = resume(folder, None, Settings(), _later(folder, 10.0))
    bench.turns().run(lambda: False, 30.0)
    bench.leave()

    journal = open_session(folder).journal
    assert journal.closed
    assert journal.facts[: len(before)] == before
    fresh = journal.facts[len(before) :]
    (segment,) = [fact for fact in fresh if isinstance(fact, SegmentOpened)]
    assert segment.unwatched_s == pytest.approx(600.0, abs=1.0)
    assert segment.supply is Supply.MAINS
    assert [fact.channel for fact in fresh if isinstance(fact, ChannelGap)][:2] == ["left bias", "right bias"]
    assert compare(journal.header, journal.facts).same


@pytest.mark.usefixtures("real_meters")
def test_the_time_off_that_a_person_states_is_kept(session_root: Path) -> None:
    """Off for four of the ten minutes: the warm-up counts anew from the next power-on."""
    folder = _cut_off(session_root)
    last_s = max(fact.at_s for fact in open_session(folder).journal.facts)

    bench = resume(folder, 4.0, Settings(), _later(folder, 10.0))
    bench.turns().run(lambda: False, 5.0)
    bench.leave()

    facts = open_session(folder).journal.facts
    off = [fact for fact in facts if isinstance(fact, SupplyChanged) and fact.supply is Supply.OFF]
    assert off[0].at_s == pytest.approx(last_s + 360.0, abs=1.0)
    assert bench.view.power_on_s is None


@pytest.mark.usefixtures("real_meters")
def test_a_session_is_closed_as_it_stands(session_root: Path) -> None:
    """Closing keeps every reading and says why it ended."""
    folder = _cut_off(session_root)
    before = [f for f in open_session(folder).journal.facts if isinstance(f, ChannelReading)]

    close_as_it_stands(folder, None)

    journal = open_session(folder).journal
    assert journal.closed
    assert [f for f in journal.facts if isinstance(f, ChannelReading)] == before
    assert any(isinstance(fact, StopRequested) for fact in journal.facts)
    assert compare(journal.header, journal.facts).same


@pytest.mark.usefixtures("real_meters")
def test_after_an_alarm_to_switch_off_nothing_goes_on(session_root: Path) -> None:
    """The over-biased unit raised the alarm before the cut: only closing is left."""
    folder = _cut_off(session_root, "over_biased", 30.0)

    found = look_at(folder)

    assert found.refusal != ""
    with pytest.raises(ValueError, match="series lamp"):
        resume(folder, None, Settings(), _later(folder, 1.0))
    close_as_it_stands(folder, 1.0)
    assert open_session(folder).journal.closed


def test_a_simulated_unit_does_not_outlive_the_program(session_root: Path) -> None:
    """A practice session can only be closed."""
    folder = _cut_off(session_root)

    assert "simulated" in look_at(folder).refusal
    with pytest.raises(ValueError, match="simulated"):
        resume(folder, None, Settings(), _later(folder, 1.0))


def test_a_session_that_is_being_recorded_cannot_be_resumed(session_root: Path) -> None:
    """Two windows never write into one journal."""
    bench = open_simulated(
        SimulatedChoice(), shipped_procedures()["watch"], session_root, SteppedClock(), Settings()
    )
    bench.turns().run(lambda: False, 2.0)
    with pytest.raises(SessionUnreadable, match="another window"):
        close_as_it_stands(bench.record.folder, None)
    bench.leave()


def test_a_session_that_another_window_closed_is_not_closed_twice(session_root: Path) -> None:
    """Both were shown it as unfinished: the second would write a break behind its end."""
    folder = _cut_off(session_root, seconds=5.0)
    close_as_it_stands(folder, None)
    before = (folder / JOURNAL).read_bytes()

    with pytest.raises(SessionUnreadable, match="closed meanwhile"):
        close_as_it_stands(folder, None)
    with pytest.raises(SessionUnreadable, match="closed meanwhile"):
        resume(folder, None, Settings())

    assert (folder / JOURNAL).read_bytes() == before
    assert not is_in_use(folder)


def test_a_refused_resumption_lets_the_session_go(session_root: Path) -> None:
    """It can still be closed as it stands."""
    folder = _cut_off(session_root, seconds=5.0)
    with pytest.raises(ValueError, match="does not outlive"):
        resume(folder, None, Settings())
    assert not is_in_use(folder)
    close_as_it_stands(folder, None)
    assert open_session(folder).journal.closed


def test_a_bench_that_cannot_be_opened_leaves_no_session_behind(
    session_root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where no server may listen the job is begun once more within the program: one session, not two."""
    stopped: list[str] = []

    def served(name: str, *_: object) -> tuple[object, object]:
        if name == "right meter":
            raise PermissionError("not here")
        return object(), lambda: stopped.append(name)

    monkeypatch.setattr(opening, "_served", served)
    with pytest.raises(PermissionError):
        open_simulated(
            SimulatedChoice(), shipped_procedures()["watch"], session_root, SteppedClock(), Settings()
        )
    assert stopped == ["left meter"]
    assert list(session_root.iterdir()) == []
