"""A session opened fast shows the same readings, breaks and facts as one that is judged again."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

import app.workshop
from app.bench.earlier import earlier_session
from app.bench.long_review import LongReview, prepare_columns, recall
from app.bench.restoring import restore
from app.records.column_file import COLUMNS, load_columns
from app.records.session_folder import JOURNAL, open_session
from app.windows.ports import BenchPort, Replayed
from procedures.events import ChannelReading, Supply, Tick

SAMPLES = Path(__file__).parents[3] / "sample_sessions"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A recorded trim, with a lead moved, a gap, a typed reading and words among the readings."""
    monkeypatch.setattr("app.records.session_folder.LONG_BYTES", 1000)
    copied = tmp_path / "session"
    shutil.copytree(SAMPLES / "one-meter-right-as-found", copied)
    lines = (copied / JOURNAL).read_text(encoding="utf-8").splitlines()[:-1]
    lines.append(
        '{"kind":"gap","at_s":9000.0,"until_s":9001.0,"channel":"left bias","reason":"timed out","detail":""}'
    )
    rows = '[[0,9002.0,0.0131,0.02],[9002.5],[1,9002.5,31.25],[0,9003.0,0.0132,0.0,["typed"]]]'
    lines.append(f'{{"kind":"rows","channels":[["left bias","V"],["heatsink","degC"]],"rows":{rows}}}')
    lines.append(
        '{"kind":"rows","channels":[["left bias","V"]],"rows":[[0,9004.0,1e-5],[0,9005.0,-2.5e-05]]}'
    )
    lines.append('{"kind":"rows","channels":[["left bias","V"]],"rows":[[0,9006.0,')
    (copied / JOURNAL).write_text("\n".join(lines) + "\n", encoding="utf-8")
    return copied


def _same_as_judged(folder: Path) -> None:
    slow, quick = restore(open_session(folder)), recall(folder)
    expected, found = slow.store.newest(), quick.store.newest()
    assert {t.channel for t in expected.traces} == {t.channel for t in found.traces}
    for trace in expected.traces:
        other = found.trace(trace.channel)
        assert other is not None
        assert other.unit is trace.unit
        for name in ("seconds", "values", "missed"):
            assert np.array_equal(getattr(trace, name), getattr(other, name)), name
        assert np.array_equal(trace.joined[:-1], other.joined[:-1])
    assert list(expected.inputs) == list(found.inputs)
    said = [fact for fact in slow.session.journal.facts if not isinstance(fact, ChannelReading | Tick)]
    assert quick.session.journal.facts == said
    assert quick.session.journal.problems == slow.session.journal.problems
    assert quick.last_s == slow.last_s


def test_the_readings_are_exactly_those_of_the_journal(folder: Path) -> None:
    """Without a column file, and again with the one that the first opening left behind."""
    _same_as_judged(folder)
    assert (folder / COLUMNS).is_file()
    _same_as_judged(folder)


def test_what_came_after_the_column_file_is_read_from_the_journal(folder: Path) -> None:
    """A session that went on after a crash."""
    recall(folder)
    with open(folder / JOURNAL, "a", encoding="utf-8") as file:
        file.write('{"kind":"segment","at_s":9100.0,"reason":"cut off","unwatched_s":9.0,"supply":"mains"}\n')
        file.write(
            '{"kind":"rows","channels":[["left bias","V"]],"rows":[[0,9101.0,0.0135],[0,9102.0,0.0136]]}\n'
        )
    _same_as_judged(folder)


@pytest.mark.parametrize("damage", ["torn", "nonsense", "another session", "longer than the journal"])
def test_a_column_file_that_does_not_fit_is_ignored(folder: Path, damage: str) -> None:
    """Never a wrong picture: the journal is the record."""
    recall(folder)
    stored = (folder / COLUMNS).read_bytes()
    if damage == "torn":
        (folder / COLUMNS).write_bytes(stored[: len(stored) // 2])
    elif damage == "nonsense":
        (folder / COLUMNS).write_bytes(b"\x00" * 500)
    elif damage == "another session":
        text = (folder / JOURNAL).read_text(encoding="utf-8")
        (folder / JOURNAL).write_text(text.replace('"program":"', '"program":"x', 1), encoding="utf-8")
    else:
        lines = (folder / JOURNAL).read_text(encoding="utf-8").splitlines()[:-400]
        (folder / JOURNAL).write_text("\n".join(lines) + "\n", encoding="utf-8")
    _same_as_judged(folder)


def test_winding_shows_only_what_was_known_by_then(folder: Path) -> None:
    """Readings, marks, steps and the mains as of the moment; at once, however far it is wound."""
    bench = LongReview(recall(folder), "Kestrow K-40", seconds=lambda: 5.0)
    port: BenchPort = bench
    assert isinstance(port, Replayed)
    whole = bench.picture()
    assert whole.review
    assert len(whole.view.recorded) > 0
    bench.seek(0.5)
    early = bench.picture()
    assert early.view.supply is Supply.OFF
    assert all(t.seconds[-1] <= 0.5 for t in early.traces if len(t.seconds))
    assert early.view.recorded == ()
    bench.seek(bench.length_s)
    assert len(bench.picture().view.recorded) == len(whole.view.recorded)


def test_the_last_session_of_a_unit_is_found_and_aligned(folder: Path) -> None:
    """By amplifier and serial; its power-on falls on the one of now."""
    unit = open_session(folder).journal.header.unit
    now = folder.parent / "now"
    assert earlier_session(now, "another unit") is None
    assert earlier_session(None, unit) is None
    earlier = earlier_session(now, f" {unit.upper()} ")
    assert earlier is not None
    first = earlier.traces[0].seconds[0]
    assert earlier.aligned(1000.0)[0].seconds[0] == pytest.approx(first + 1000.0 - earlier.power_on_s)


def test_the_workshop_opens_a_long_session_so(folder: Path) -> None:
    """By the size of its journal."""
    opened = app.workshop.RecordedSessions(folder.parent).open(folder.name)
    assert isinstance(opened, LongReview)


def test_the_column_file_of_a_long_session_is_there_when_it_is_opened_first(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is made when the session is closed; a short one has none."""
    monkeypatch.setattr("app.records.session_folder.LONG_BYTES", 4_000_000)  # as in the other process
    header = (folder / JOURNAL).read_text(encoding="utf-8").split("\n", 1)[0]
    rows = ",".join(f"[0,{n / 100.0},0.0131,0.005]" for n in range(1000))
    line = f'{{"kind":"rows","channels":[["left bias","V"]],"rows":[{rows}]}}\n'
    (folder / JOURNAL).write_text(header + "\n" + line * (4_100_000 // len(line)), encoding="utf-8")

    preparing = prepare_columns(folder)
    assert preparing is not None
    preparing.join()

    stored = load_columns(folder)
    assert stored.covered == (folder / JOURNAL).stat().st_size
    assert [path.name for path in folder.glob(f"{COLUMNS}*")] == [COLUMNS]
    (folder / JOURNAL).write_text(header + "\n", encoding="utf-8")
    assert prepare_columns(folder) is None


def test_columns_that_cover_what_a_power_cut_lost_are_not_believed(folder: Path) -> None:
    """Read by a second window, lost, and then gone on with: the journal is longer, and another."""
    recall(folder)
    covered = load_columns(folder).covered
    lines = (folder / JOURNAL).read_text(encoding="utf-8").splitlines()[:-2]
    rows = ",".join(f"[0,{9100.0 + n},0.0135]" for n in range(200))
    lines.append(f'{{"kind":"rows","channels":[["left bias","V"]],"rows":[{rows}]}}')
    (folder / JOURNAL).write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert (folder / JOURNAL).stat().st_size > covered

    assert load_columns(folder).covered == 0
    _same_as_judged(folder)
    assert load_columns(folder).covered == (folder / JOURNAL).stat().st_size


def test_no_columns_are_kept_while_the_last_line_is_half_written(folder: Path) -> None:
    """What is read of it now would not be read again when it is whole."""
    with open(folder / JOURNAL, "a", encoding="utf-8") as file:
        file.write('{"kind":"rows","channels":[["left bias","V"]],"rows":[[0,9101.0,0.0135],[0,91')
    recall(folder)
    assert not (folder / COLUMNS).exists()
    with open(folder / JOURNAL, "a", encoding="utf-8") as file:
        file.write("02.0,0.0136]]}\n")
    _same_as_judged(folder)
    _same_as_judged(folder)
