"""This unit's last warm-up: found among its own visits, an input of the next run, said on its screen."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from app.records.archive import Archive
from app.records.archive_place import address_of
from app.records.archive_rows import unit_of
from app.records.history import earlier_visits, last_warm_up
from app.records.session_folder import Session, SessionRecord, name_session, open_session
from app.records.warm_ups import WarmUp, WarmUps
from app.reports.bench_sections import bench_sections
from drivers.reading import Unit
from procedures.analysis.remembered import RememberedWarmUp
from procedures.events import (
    ChannelReading,
    Disturbance,
    LidChanged,
    SettledChanged,
    StepChanged,
    StepState,
    Supply,
    SupplyChanged,
    TrimDeclared,
)
from procedures.job import Naming, UnitName
from procedures.records.codec import Fact
from procedures.records.journal import Anchor, Header
from procedures.replay import compare, inputs_of, setup_entry, setup_of
from procedures.report.folding import fold_report
from procedures.runner import Run
from procedures.setup import RunSetup

SAMPLE = Path(__file__).resolve().parents[3] / "sample_sessions" / "healthy-trim"
BEGAN = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
LEFT = "left bias"


@pytest.fixture
def archive(session_root: Path) -> Iterator[Archive]:
    made = Archive(address_of(""), "this bench")
    yield made
    made.close()


@pytest.fixture(scope="module")
def sample() -> Session:
    return open_session(SAMPLE)


def kept(root: Path, setup: RunSetup, facts: list[Fact], unit: str, *, closed: bool = True) -> Path:
    header = Header("s1", BEGAN, setup_entry(setup), setup.rules, unit=unit)
    header = dataclasses.replace(header, practice=setup.practice)
    record = SessionRecord.create(root, header)
    record.append([Anchor(0.0, BEGAN), *facts])
    if closed:
        record.close()
    else:
        record.abandon()
    return record.folder


def test_a_real_units_visit_is_found_by_a_serial_number_with_a_space(
    session_root: Path, archive: Archive, sample: Session
) -> None:
    """Of the closed sessions, and never for practice."""
    setup = dataclasses.replace(setup_of(sample.journal.header), practice=False)
    facts = list(sample.journal.facts)
    archive.file_session(kept(session_root, setup, facts, "Kestrow K-40, serial 12 0417"))

    assert [one.channel for one in last_warm_up(archive, "12 0417")] == [LEFT, "right bias"]
    assert [visit.serial for visit in earlier_visits(archive, "12 0417")] == ["12 0417"]
    assert last_warm_up(archive, "12 0417", practice=True) == ()
    assert last_warm_up(archive, "12") == ()
    assert last_warm_up(archive, "12 0417", before=BEGAN.replace(tzinfo=None)) == ()


@pytest.mark.parametrize(
    ("header", "named", "serial"),
    [
        ("Kestrow K-40, serial 12 0417 (simulated)", "", "12 0417"),
        ("Kestrow K-40, serial 0417, lid missing", "", "0417"),
        ("Kestrow K-40", "Kestrow K-40 serial AB 7", "AB 7"),
        ("Kestrow K-40", "Kestrow K-40, 0417 B", "0417 B"),
        ("Kestrow K-40", "Kestrow K-40 on the shelf", ""),
        ("Kestrow K-40", "", ""),
    ],
)
def test_the_serial_number_is_read_out_of_a_line(
    session_root: Path, sample: Session, header: str, named: str, serial: str
) -> None:
    setup = setup_of(sample.journal.header)
    folder = kept(session_root, setup, [], header)
    if named:
        name_session(folder, Naming(UnitName(model=named)))
    assert unit_of(open_session(folder)).serial == serial


def readings(begin: float, end: float) -> list[Fact]:
    return [ChannelReading(s, LEFT, 0.01 + s * 1e-6, Unit.VOLT, 0.1) for s in _seconds(begin, end)]


def _seconds(begin: float, end: float) -> list[float]:
    return [begin + 1.0 + n for n in range(int(end - begin))]


def settled(at_s: float) -> SettledChanged:
    return SettledChanged(at_s, LEFT, True, "rests")


def course(*facts: Fact) -> list[Fact]:
    """Two minutes on, off, and on again until it settles after five."""
    told = [SupplyChanged(10.0, Supply.MAINS), SupplyChanged(130.0, Supply.OFF)]
    told.append(SupplyChanged(500.0, Supply.MAINS))
    return sorted([*told, *readings(10.0, 900.0), settled(800.0), *facts], key=lambda fact: fact.at_s)


def found(facts: list[Fact], setup: dict[str, object] | None = None) -> WarmUp | None:
    told = [fact for fact in facts if isinstance(fact, ChannelReading)]
    return WarmUps(facts, setup or {}).of(LEFT, told)


def test_a_warm_up_counts_from_the_power_on_in_which_it_ended() -> None:
    warm_up = found(course())
    assert warm_up is not None
    assert warm_up.settled_s == 300.0
    assert warm_up.points[0][0] == 1.0
    assert warm_up.points[-1] == pytest.approx((400.0, 0.0109))
    # closed form: level 0.0108 at rest, 0.01056 a minute after the power-on
    assert warm_up.drift == pytest.approx(0.0108 / 0.01056 - 1.0)


@pytest.mark.parametrize(
    "disturbance",
    [
        TrimDeclared(600.0, LEFT),
        LidChanged(600.0, True),
        Disturbance(600.0, LEFT, "step", "It jumped."),
        StepChanged(600.0, "left", StepState.ACTIVE),
    ],
)
def test_a_warm_up_that_hands_were_in_is_not_remembered(disturbance: Fact) -> None:
    setup: dict[str, object] = {"procedure": {"step": [{"id": "left", "kind": "trim"}]}}
    assert found(course(disturbance), setup) is None
    after = found(course(dataclasses.replace(disturbance, at_s=850.0)), setup)  # type: ignore[type-var]
    assert after is not None
    assert after.points[-1][0] == pytest.approx(350.0, abs=10.0)


def test_a_unit_off_its_target_rests_where_its_warm_up_step_ends() -> None:
    """Settled asks for the window too, which it reaches only after the trim."""
    setup: dict[str, object] = {
        "procedure": {"step": [{"id": "warm", "kind": "warm-up"}, {"id": "left", "kind": "trim"}]}
    }
    rest = StepChanged(700.0, "warm", StepState.DONE, "settled 20 min after power-on")
    warm_up = found(course(rest, StepChanged(701.0, "left", StepState.ACTIVE)), setup)
    assert warm_up is not None
    assert warm_up.settled_s == 200.0
    impatient = dataclasses.replace(rest, reason="gone on although it has not settled")
    assert found(course(impatient, StepChanged(701.0, "left", StepState.ACTIVE)), setup) is None


def test_what_never_settled_is_no_warm_up() -> None:
    facts = [fact for fact in course() if not isinstance(fact, SettledChanged)]
    assert found(facts) is None


def test_a_run_that_leans_on_an_earlier_visit_is_judged_again_the_same(
    session_root: Path, archive: Archive, sample: Session
) -> None:
    """What was remembered stands in the header; with it the rest is foreseen more narrowly."""
    archive.file_session(SAMPLE)
    warm_ups = last_warm_up(archive, "K40-01127", practice=True)
    setup = dataclasses.replace(setup_of(sample.journal.header), remembered=warm_ups)
    run, plain = Run(setup), Run(setup_of(sample.journal.header))
    facts: list[Fact] = []
    for fact in inputs_of(sample.journal.facts):
        if fact.at_s < 500.0:
            facts += [fact, *run.feed(fact)]
            plain.feed(fact)
    assert run.view().remembered == ("2026-01-05",)
    assert _width(run) < 0.7 * _width(plain)

    again = open_session(kept(session_root, setup, facts, "unit"))

    assert setup_of(again.journal.header).remembered == warm_ups
    assert compare(again.journal.header, again.journal.facts).same
    pairs = [pair for section in bench_sections(fold_report([again.journal])) for pair in section.pairs]
    assert ("The forecast leaned on", "the visit of 2026-01-05") in pairs


def _width(run: Run) -> float:
    forecast = run.view().channels[0].forecast
    assert forecast is not None
    return forecast.high_volts - forecast.low_volts


def test_days_of_channels_that_are_not_there_are_not_told(sample: Session) -> None:
    other = RememberedWarmUp("sub bias", (1.0, 2.0), (0.01, 0.011), recorded="2026-01-01")
    setup = dataclasses.replace(setup_of(sample.journal.header), remembered=(other,))
    assert setup.remembered_from == ()
