"""Practice is marked in every file that leaves the program, so that nobody takes it for a real unit."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from app.bench.opening import SimulatedChoice, open_simulated
from app.records.export_csv import export
from app.records.export_tables import PRACTICE, write_json, write_parquet, write_xlsx
from app.records.session_folder import Session, open_session
from app.settings import Settings
from drivers.clock import SteppedClock
from procedures.library import shipped_procedures


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
