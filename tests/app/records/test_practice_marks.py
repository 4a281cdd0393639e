"""Practice is marked in every file that leaves the program, so that nobody takes it for a real unit."""

from __future__ import annotations

import dataclasses
import json
import zipfile
from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication

from app.bench.opening import SimulatedChoice, open_simulated
from app.main import main
from app.records.bundle import CONTENTS, write_bundle
from app.records.export_csv import PRACTICE, export
from app.records.export_tables import write_json, write_parquet, write_xlsx
from app.records.session_folder import Session, open_session
from app.reports.session_picture import picture_of, write_session_svg
from app.reports.trace_picture import PRACTISED, png_bytes
from app.settings import Settings
from drivers.clock import SteppedClock
from procedures.library import shipped_procedures
from procedures.records.practised import HandMoved


@pytest.fixture
def practised(session_root: Path) -> Session:
    watch = shipped_procedures()["watch"]
    bench = open_simulated(SimulatedChoice(), watch, session_root, SteppedClock(), Settings())
    bench.turns().run(lambda: False, 5.0)
    bench.leave()
    return open_session(bench.record.folder)


def test_the_csv_says_that_it_was_practice(practised: Session, tmp_path: Path) -> None:
    """In words, among the remarks."""
    export(tmp_path / "it.csv", practised.entries)
    assert PRACTICE in (tmp_path / "it.csv").read_text(encoding="utf-8")


def test_the_csv_of_a_torn_record_says_so_too(practised: Session, tmp_path: Path) -> None:
    """By its header, where what hands did was lost."""
    rest = [entry for entry in practised.entries if not isinstance(entry, HandMoved)]
    export(tmp_path / "it.csv", rest, practice=True)
    assert (tmp_path / "it.csv").read_text(encoding="utf-8").splitlines()[1].endswith(f"note: {PRACTICE}")


def test_the_pictures_of_traces_say_that_it_was_practice(
    qapp: QApplication, practised: Session, tmp_path: Path
) -> None:
    """Across the picture; without the mark other dots are drawn."""
    picture = picture_of(practised)
    assert picture.watermark == PRACTISED
    write_session_svg(tmp_path / "it.svg", practised)
    assert PRACTISED in (tmp_path / "it.svg").read_text(encoding="utf-8")
    assert png_bytes(picture) != png_bytes(dataclasses.replace(picture, watermark=""))


def test_the_bundle_says_that_it_was_practice(practised: Session, tmp_path: Path) -> None:
    """In its table of contents."""
    write_bundle(tmp_path / "it.zip", practised)
    with zipfile.ZipFile(tmp_path / "it.zip") as packed:
        assert json.loads(packed.read(CONTENTS))["practice"] is True


def test_what_is_judged_says_that_it_was_practice(
    practised: Session, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """In every row; the picture that `judge` draws is marked like any other."""
    monkeypatch.chdir(tmp_path)
    assert main(["judge", "--json", str(practised.folder)]) == 0
    rows = [json.loads(row) for row in capsys.readouterr().out.splitlines()]
    assert rows
    assert all(row["practice"] is True for row in rows)


def test_the_json_says_that_it_was_practice(practised: Session, tmp_path: Path) -> None:
    """In its header, as the record does."""
    write_json(tmp_path / "it.json", practised)
    document = json.loads((tmp_path / "it.json").read_text(encoding="utf-8"))
    assert document["header"]["practice"] is True


def test_the_workbook_says_that_it_was_practice(practised: Session, tmp_path: Path) -> None:
    """On the sheet's own name, and first among the remarks."""
    openpyxl = pytest.importorskip("openpyxl")
    write_xlsx(tmp_path / "it.xlsx", practised)
    book = openpyxl.load_workbook(tmp_path / "it.xlsx")
    assert book.sheetnames[0] == "readings of practice"
    assert book["remarks"]["B2"].value == PRACTICE
    book.close()


def test_the_parquet_says_that_it_was_practice(practised: Session, tmp_path: Path) -> None:
    """In the table's metadata; the columns stay those of a real session."""
    parquet = pytest.importorskip("pyarrow.parquet")
    write_parquet(tmp_path / "it.parquet", practised)
    assert parquet.read_schema(tmp_path / "it.parquet").metadata[b"practice"].decode() == PRACTICE
