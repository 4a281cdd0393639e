"""A session in one file: it comes back identical, and what is not what it says is refused whole."""

from __future__ import annotations

import json
import os
import zipfile
from pathlib import Path

import polars
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_session import BEGAN, keep_session

from app.main import main
from app.records.archive_rows import session_rows
from app.records.attachments import keep
from app.records.bundle import CONTENTS, BundleRefused, import_bundle, read_bundle, write_bundle
from app.records.export_csv import write_csv
from app.records.export_tables import write_parquet, write_xlsx
from app.records.job_folder import IDENTITY, change_customer, file_session, jobs_root, open_new_job
from app.records.session_folder import JOURNAL, SessionRecord, find_session, name_session, open_session
from drivers.reading import Unit
from procedures.events import ChannelReading, Note
from procedures.job import Filled, Naming, SheetField, UnitName
from procedures.records.journal import Anchor, Header

READINGS = st.lists(
    st.builds(
        ChannelReading,
        at_s=st.floats(0.0, 1e6),
        channel=st.sampled_from(["left bias", "=right"]),
        value=st.floats(-1e3, 1e3),
        unit=st.just(Unit.VOLT),
    ),
    max_size=20,
)
LEAN = settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture])


def _recorded(root: Path, readings: list[ChannelReading], words: str = "") -> Path:
    record = SessionRecord.create(root, Header("0f3a", BEGAN, {}, "1"))
    record.append([Anchor(0.0, BEGAN), *readings, Note(1e6, words)])
    record.close()
    return record.folder


@LEAN
@given(readings=READINGS, words=st.text(max_size=20), picture=st.binary(max_size=50))
def test_a_session_comes_back_identical(
    readings: list[ChannelReading],
    words: str,
    picture: bytes,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """Byte for byte, with what was attached; a second time it is here already."""
    place = tmp_path_factory.mktemp("bundle")
    folder = _recorded(place / "one", readings, words)
    kept = keep(folder, picture, ".png")
    write_bundle(place / "b.zip", open_session(folder))

    taken = import_bundle(place / "b.zip", place / "two")

    assert (taken.session / JOURNAL).read_bytes() == (folder / JOURNAL).read_bytes()
    assert open_session(taken.session).journal == open_session(folder).journal
    assert (taken.session / "attachments" / kept.name).read_bytes() == picture
    assert not import_bundle(place / "b.zip", place / "two").new


@LEAN
@given(readings=READINGS)
def test_csv_and_parquet_read_elsewhere_equal_the_session(
    readings: list[ChannelReading], tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Every value of every channel, to the last bit."""
    place = tmp_path_factory.mktemp("tables")
    session = open_session(_recorded(place, readings))
    write_csv(place / "a.csv", session.entries)
    write_parquet(place / "a.parquet", session)

    told = [(e.at_s, e.channel, e.value) for e in session.entries if isinstance(e, ChannelReading)]
    rows = polars.read_parquet(place / "a.parquet").select("elapsed [s]", "channel", "value").rows()
    assert rows == told
    table = polars.read_csv(place / "a.csv", infer_schema_length=None)
    for channel, header in (("left bias", "left bias [mV]"), ("=right", "'=right [mV]")):
        wanted = [value * 1e3 for _, name, value in told if name == channel]
        found = table[header].drop_nulls().cast(polars.Float64).to_list() if wanted else []
        assert found == pytest.approx(wanted, rel=1e-12)


def test_who_the_customer_is_goes_along_only_when_asked(session_root: Path, tmp_path: Path) -> None:
    """The job does in any case."""
    folder = keep_session(session_root, "0f3a")
    job = open_new_job(jobs_root(session_root), [Filled(BEGAN, SheetField.NUMBER, "117")])
    job = file_session(job.folder, session_root, "0f3a")
    change_customer(job.folder, {"name": "Ada Example"})
    start = ["--folder", str(session_root), "export", folder.name, "--bundle"]

    assert main([*start, str(tmp_path / "a.zip")]) == 0
    assert main([*start, str(tmp_path / "b.zip"), "--with-customer"]) == 0

    plain, whole = read_bundle(tmp_path / "a.zip"), read_bundle(tmp_path / "b.zip")
    assert f"job/{IDENTITY}" not in plain
    assert f"job/{IDENTITY}" in whole
    for name in ("report.html", "report.pdf", "traces.png", "traces.svg"):
        assert len(plain[name]) > 1000
    assert b"Ada Example" not in plain["report.html"]
    assert b"Ada Example" in whole["report.html"]
    assert main(["--folder", str(tmp_path / "far" / "s"), "import", str(tmp_path / "a.zip")]) == 0
    assert open_session(folder).journal == open_session(tmp_path / "far" / "s" / folder.name).journal


def _altered(path: Path, change: dict[str, bytes | None]) -> Path:
    with zipfile.ZipFile(path) as packed:
        files: dict[str, bytes] = {name: packed.read(name) for name in packed.namelist()}
    out = path.with_name("altered.zip")
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in {**files, **change}.items():
            if content is not None:
                packed.writestr(name, content)
    return out


def _contents(**files: tuple[int, str]) -> bytes:
    listed = {name.replace("__", "/"): {"bytes": s, "sha256": d} for name, (s, d) in files.items()}
    return json.dumps({"kind": "warmtrim bundle", "format": 1, "files": listed}).encode()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"../outside.txt": b"x"}, "does not belong"),
        ({"/etc/outside": b"x"}, "does not belong"),
        ({"session/../../outside": b"x"}, "does not belong"),
        ({"session/journal.jsonl": b"changed"}, "larger or smaller|digest has changed"),
        ({"session/journal.jsonl": b"0" * 30_000_000}, "larger or smaller"),
        ({"session/attachments/" + "0" * 64: b"x"}, "table of contents"),
        ({CONTENTS: None}, "no table of contents"),
        ({CONTENTS: b"[]"}, "damaged"),
        ({CONTENTS: b'{"kind": "song", "format": 1}'}, "does not know"),
        ({CONTENTS: _contents(session__x=(10**12, ""))}, "unpack to more"),
        ({CONTENTS: b" " * 2_000_000}, "larger or smaller"),
    ],
)
def test_a_bundle_that_was_tampered_with_is_refused_whole(
    change: dict[str, bytes | None], said: str, session_root: Path, tmp_path: Path
) -> None:
    """One sentence, and nothing is left anywhere."""
    write_bundle(tmp_path / "b.zip", open_session(keep_session(session_root)))
    bad = _altered(tmp_path / "b.zip", change)

    with pytest.raises(BundleRefused, match=said) as refused:
        import_bundle(bad, tmp_path / "into" / "sessions")
    assert "\n" not in str(refused.value)
    assert not (tmp_path / "into").exists()


@pytest.mark.parametrize("name", ["report.html", "report.pdf", "traces.png", "traces.svg"])
def test_a_paper_of_another_kind_is_refused(name: str, session_root: Path, tmp_path: Path) -> None:
    """Its digest may be right, but it is no such picture or report."""
    write_bundle(tmp_path / "b.zip", open_session(keep_session(session_root)), more={name: b"MZ no paper"})
    with pytest.raises(BundleRefused, match="not of the kind"):
        read_bundle(tmp_path / "b.zip")


def test_a_damaged_bundle_is_refused_in_one_sentence(session_root: Path, tmp_path: Path) -> None:
    """Cut off, changed in some places, or no zip at all."""
    write_bundle(tmp_path / "b.zip", open_session(keep_session(session_root)))
    raw = (tmp_path / "b.zip").read_bytes()
    bad = tmp_path / "bad.zip"
    for content in [b"", b"no zip", *(raw[:length] for length in range(0, len(raw), 101))]:
        bad.write_bytes(content)
        with pytest.raises(BundleRefused):
            read_bundle(bad)
    whole = read_bundle(tmp_path / "b.zip")
    for place in range(0, len(raw), 37):
        bad.write_bytes(raw[:place] + bytes([raw[place] ^ 0x40]) + raw[place + 1 :])
        try:
            assert read_bundle(bad) == whole
        except BundleRefused as refused:
            assert "\n" not in str(refused)  # noqa: PT017 - a byte may not matter


def test_a_workbook_and_a_drawing_are_written(session_root: Path, tmp_path: Path) -> None:
    """No cell of the workbook is a formula."""
    from openpyxl import load_workbook

    session = open_session(_recorded(session_root, [ChannelReading(1.0, "=1+1", 0.1)], "=cmd()"))
    write_xlsx(tmp_path / "a.xlsx", session)
    book = load_workbook(tmp_path / "a.xlsx")
    cells = [cell for sheet in book for row in sheet for cell in row]
    assert book["readings"]["C2"].value == 0.1
    assert not [cell.value for cell in cells if cell.data_type == "f"]

    folder = keep_session(session_root, "bbbb")
    assert (
        main(["export", str(folder), "--svg", str(tmp_path / "a.svg"), "--json", str(tmp_path / "a.json")])
        == 0
    )
    assert b"<svg" in (tmp_path / "a.svg").read_bytes()
    assert json.loads((tmp_path / "a.json").read_text("utf-8"))["header"]["session"] == "bbbb"


@pytest.mark.parametrize("packing", [zipfile.ZIP_LZMA, zipfile.ZIP_BZIP2])
def test_another_way_of_packing_is_refused_in_one_sentence(
    packing: int, session_root: Path, tmp_path: Path
) -> None:
    """Only what is written here is read here; the other ways fail in ways of their own."""
    write_bundle(tmp_path / "b.zip", open_session(_recorded(session_root, [])))
    with (
        zipfile.ZipFile(tmp_path / "b.zip") as held,
        zipfile.ZipFile(tmp_path / "c.zip", "w", packing) as other,
    ):
        for name in held.namelist():
            other.writestr(name, held.read(name))
    with pytest.raises(BundleRefused, match="packed in another way"):
        read_bundle(tmp_path / "c.zip")


def test_a_session_that_was_recorded_in_another_zone_is_here_already(
    session_root: Path, tmp_path: Path
) -> None:
    """Its folder is called after another day; a second copy would be counted twice."""
    folder = _recorded(session_root, [])
    write_bundle(tmp_path / "b.zip", open_session(folder))
    folder.rename(folder.with_name("2026-01-04-2330-0f3a"))

    taken = import_bundle(tmp_path / "b.zip", session_root)

    assert not taken.new
    assert [path.name for path in session_root.iterdir()] == ["2026-01-04-2330-0f3a"]


def test_what_no_bundle_can_hold_is_said_before_it_is_sent(
    session_root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not by the bench that it was sent to; a file that nobody attached does not count."""
    folder = _recorded(session_root, [])
    (folder / "attachments" / "Thumbs.db").write_bytes(b"x" * 5000)
    write_bundle(tmp_path / "b.zip", open_session(folder))
    monkeypatch.setattr("app.records.bundle.LARGEST_BYTES", 10)
    with pytest.raises(BundleRefused, match="copy the folders"):
        write_bundle(tmp_path / "c.zip", open_session(folder))
    assert not (tmp_path / "c.zip").exists()


def test_what_is_taken_in_is_on_the_disk(
    session_root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every file of it: a power cut after the import costs nothing."""
    folder = _recorded(session_root, [])
    keep(folder, b"a picture", ".png")
    write_bundle(tmp_path / "b.zip", open_session(folder))
    forced: set[tuple[int, int]] = set()

    def force(handle: int) -> None:
        told = os.fstat(handle)
        forced.add((told.st_dev, told.st_ino))

    monkeypatch.setattr(os, "fsync", force)
    taken = import_bundle(tmp_path / "b.zip", tmp_path / "far" / "sessions")

    files = [path for path in taken.session.rglob("*") if path.is_file()]
    assert len(files) == 2
    assert {(path.stat().st_dev, path.stat().st_ino) for path in files} <= forced


def test_a_session_that_was_named_here_since_is_here_already(session_root: Path, tmp_path: Path) -> None:
    """Or at the other bench: it is the same recording, and the name that it has here stays."""
    folder = _recorded(session_root, [ChannelReading(1.0, "left bias", 0.013)])
    write_bundle(tmp_path / "before.zip", open_session(folder))
    name_session(folder, Naming(UnitName("Amsel", "A-60", "0042"), job="117"))
    write_bundle(tmp_path / "named.zip", open_session(folder))
    before = (folder / JOURNAL).read_bytes()

    taken = import_bundle(tmp_path / "before.zip", session_root)
    assert (taken.session, taken.new) == (folder, False)
    assert "the one here stays" in taken.note
    assert (folder / JOURNAL).read_bytes() == before

    first = import_bundle(tmp_path / "before.zip", tmp_path / "far" / "sessions")
    again = import_bundle(tmp_path / "named.zip", tmp_path / "far" / "sessions")
    assert (first.new, again.new, again.session) == (True, False, first.session)
    assert "name it anew" in again.note


def test_two_records_of_a_session_that_differ_are_both_kept(session_root: Path, tmp_path: Path) -> None:
    """And a third time nothing comes: both are here. Each is filed by itself."""
    folder = _recorded(tmp_path / "one", [ChannelReading(1.0, "left bias", 0.013)])
    other = _recorded(session_root, [ChannelReading(1.0, "left bias", 0.014)])
    write_bundle(tmp_path / "b.zip", open_session(folder))

    taken = import_bundle(tmp_path / "b.zip", session_root)
    again = import_bundle(tmp_path / "b.zip", session_root)

    assert taken.new
    assert taken.session not in (folder, other)
    assert "both are kept" in taken.note
    assert (taken.session / JOURNAL).read_bytes() == (folder / JOURNAL).read_bytes()
    assert (again.session, again.new) == (taken.session, False)
    filed = [
        session_rows(open_session(one), "bench")["session"][0]["session"] for one in (other, taken.session)
    ]
    assert len(set(filed)) == 2
    assert find_session(session_root, filed[1]) == taken.session


def test_what_was_gone_on_with_here_stays_longer(session_root: Path, tmp_path: Path) -> None:
    """The bundle holds its beginning."""
    folder = _recorded(session_root, [ChannelReading(1.0, "left bias", 0.013)])
    write_bundle(tmp_path / "b.zip", open_session(folder))
    record = SessionRecord.resume(folder)
    record.append([ChannelReading(2.0, "left bias", 0.013)])
    record.close()

    taken = import_bundle(tmp_path / "b.zip", session_root)
    assert (taken.session, taken.new) == (folder, False)
    assert "longer record stays" in taken.note
