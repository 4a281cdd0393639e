"""Report and measurement sheet: every number from the record, every blank said, text escaped."""

from __future__ import annotations

import unicodedata
from datetime import UTC, datetime
from pathlib import Path

import pypdf
import pytest

from app.main import main
from app.records.job_folder import jobs_root, open_new_job
from app.records.places import settings_file
from app.reports.gathering import Visit, Wanted, find_visit, write_report
from app.reports.page import Document
from app.reports.paper import write_pdf
from app.reports.sections import Section
from app.settings import Letterhead, Settings, load_settings
from procedures.events import RecordedValue

SAMPLES = Path(__file__).resolve().parents[3] / "sample_sessions"
PRINTED = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)
HOSTILE = '<script>alert("x")</script> & "quoted" \u202egnorw\u202c \N{SNOWMAN} ' + "unbroken" * 40


def settings(paper: str = "A4") -> Settings:
    return Settings(letterhead=Letterhead(name="Hollow Lane Bench", paper=paper))  # type: ignore[arg-type]


def printed(path: Path, visit: Visit, wanted: Wanted, paper: str = "A4") -> tuple[str, pypdf.PdfReader]:
    write_report(visit, settings(paper), wanted, pdf=path, printed=PRINTED)
    reader = pypdf.PdfReader(path)
    return " ".join(read(page) for page in reader.pages), reader


def read(page: pypdf.PageObject) -> str:
    """The words of a page, ligatures taken apart and one space between them."""
    return " ".join(unicodedata.normalize("NFKC", page.extract_text()).replace("\u200b", "").split())


@pytest.mark.parametrize("name", ["healthy-trim", "one-meter-right-as-found"])
def test_every_value_as_left_and_as_found_is_that_of_the_record(tmp_path: Path, name: str) -> None:
    visit = find_visit(SAMPLES, str(SAMPLES / name))
    text, _ = printed(tmp_path / "report.pdf", visit, Wanted())
    values = [
        fact
        for fact in visit.sessions[0].journal.facts
        if isinstance(fact, RecordedValue) and fact.name in ("as found", "as left") and fact.value is not None
    ]
    assert values
    newest = {(value.name, value.channel): value for value in values}
    for value in newest.values():
        assert value.value is not None
        assert f"{1000.0 * value.value:.2f} mV" in text


def test_what_the_unit_came_with_is_a_finding_and_no_failed_verification(tmp_path: Path) -> None:
    """A customer would read “failed” under Verification as if the work had failed."""
    visit = find_visit(SAMPLES, str(SAMPLES / "healthy-trim"))
    text, _ = printed(tmp_path / "report.pdf", visit, Wanted())
    before, _, verification = text.partition("What Read Verdict")
    assert "failed" in before
    assert "passed" in verification
    assert "failed" not in verification


def test_a_figure_of_range_has_its_unit(tmp_path: Path) -> None:
    visit = find_visit(SAMPLES, str(SAMPLES / "healthy-trim"))
    assert "of the range of 0.1 V" in printed(tmp_path / "report.pdf", visit, Wanted())[0]


@pytest.mark.parametrize(("paper", "width"), [("A4", 595.3), ("Letter", 612.0)])
def test_practice_is_marked_on_every_page_of_either_paper(tmp_path: Path, paper: str, width: float) -> None:
    visit = find_visit(SAMPLES, str(SAMPLES / "healthy-trim"))
    _, reader = printed(tmp_path / "report.pdf", visit, Wanted(), paper)
    assert len(reader.pages) > 1
    for page in reader.pages:
        assert "Practice on a simulated amplifier" in read(page)
        assert float(page.mediabox.width) == pytest.approx(width, abs=1.0)


def test_the_sheet_is_one_page_and_the_bench_has_more_than_the_customer(tmp_path: Path) -> None:
    visit = find_visit(SAMPLES, str(SAMPLES / "healthy-trim"))
    _, sheet = printed(tmp_path / "sheet.pdf", visit, Wanted(sheet=True))
    customer, _ = printed(tmp_path / "customer.pdf", visit, Wanted())
    bench, _ = printed(tmp_path / "bench.pdf", visit, Wanted(bench=True))
    assert len(sheet.pages) == 1
    assert len(bench) > len(customer)


def test_blanks_of_a_half_filled_job_are_said(tmp_path: Path) -> None:
    text, _ = printed(tmp_path / "empty.pdf", Visit(), Wanted())
    assert "not measured" in text
    assert "not noted" in text
    for word in ("None", "nan", "{{"):
        assert word not in text


def test_hostile_words_are_shown_and_never_obeyed(tmp_path: Path) -> None:
    from procedures.job import Filled, SheetField

    words = [Filled(PRINTED, SheetField.COMPLAINT, HOSTILE)]
    job = open_new_job(jobs_root(tmp_path), words, PRINTED)
    visit = find_visit(tmp_path, job.folder.name)
    html = tmp_path / "report.html"
    write_report(visit, settings(), Wanted(), html=html, printed=PRINTED)
    page = html.read_text(encoding="utf-8")
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert "\u202e" not in page
    text, reader = printed(tmp_path / "report.pdf", visit, Wanted())
    assert "unbrokenunbroken" in text.replace(" ", "")
    assert len(reader.pages) < 6


def test_words_that_are_no_finding_of_the_program_do_not_stand_as_one(tmp_path: Path) -> None:
    visit = find_visit(SAMPLES, str(SAMPLES / "healthy-trim"))
    text, _ = printed(tmp_path / "report.pdf", visit, Wanted())
    for word in ("safe to", "certified", "optimal", "guaranteed"):
        assert word not in text.lower()


def test_the_command_names_what_it_wrote_and_keeps_the_letterhead(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pdf = tmp_path / "out.pdf"
    done = main(
        ["report", str(SAMPLES / "healthy-trim"), "--pdf", str(pdf), "--workshop", "Hollow Lane Bench"]
    )
    assert done == 0
    assert f"3 pages: {pdf}" in capsys.readouterr().out
    assert load_settings(settings_file())[0].letterhead.name == "Hollow Lane Bench"


def test_a_calibration_told_once_stands_on_every_report(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    start = ["report", str(SAMPLES / "healthy-trim"), "--pdf"]
    told = ["--calibration", "Fenrow,6120,FW000001,1.04", "2027-03-31", "--certificate", "C-118"]
    assert main([*start, str(tmp_path / "first.pdf"), *told]) == 0
    assert main([*start, str(tmp_path / "second.pdf")]) == 0
    text = " ".join(read(page) for page in pypdf.PdfReader(tmp_path / "second.pdf").pages)
    assert "2027-03-31, C-118" in text
    assert main([*start, str(tmp_path / "third.pdf"), "--calibration", "Fenrow", "31.3.2027"]) == 1
    assert "is no date: write year, month and day" in capsys.readouterr().err


def test_the_window_is_named_once_beside_a_verdict(tmp_path: Path) -> None:
    visit = find_visit(SAMPLES, str(SAMPLES / "healthy-trim"))
    text, _ = printed(tmp_path / "report.pdf", visit, Wanted())
    assert "13.61 mV is inside 12.15 mV to 14.85 mV. Accepted 12.16 mV to 14.84 mV" in text


def test_the_sheet_tells_the_bias_alone(tmp_path: Path) -> None:
    """Of a whole route too: not what was looked at on the way."""
    visit = find_visit(SAMPLES, str(SAMPLES / "service-route"))
    text, reader = printed(tmp_path / "sheet.pdf", visit, Wanted(sheet=True), "Letter")
    assert len(reader.pages) == 1
    assert "left bias: left alone" in text
    assert "contact drop" not in text


def test_no_row_is_cut_no_heading_left_behind_and_no_page_empty(tmp_path: Path) -> None:
    rows = tuple((f"row {n} begins", "some words " * (n % 9) * 7, f"row {n} ends") for n in range(60))
    sections = tuple(
        Section(f"Part {n}", head=("A", "B", "C"), shares=(20, 60, 20), rows=rows[n * 6 : n * 6 + 6])
        for n in range(10)
    )
    document = Document("Service report", "unit", sections)
    write_pdf(tmp_path / "rows.pdf", document)
    pages = [read(page) for page in pypdf.PdfReader(tmp_path / "rows.pdf").pages]
    assert len(pages) > 3
    for page in pages:
        assert "ends" in page
        assert [n for n in range(60) if f"row {n} begins" in page] == [
            n for n in range(60) if f"row {n} ends" in page
        ]
        for n in range(10):
            assert f"Part {n}" not in page or f"row {n * 6} begins" in page


def test_what_begins_a_page_is_found_without_laying_out_the_rest(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same pages, whether a page or everything is laid out to find them."""
    rows = tuple((f"row {n} begins", "some words " * (n % 9) * 2, f"row {n} ends") for n in range(150))
    sections = (
        Section("Lines", lines=("a line",)),
        Section("Part", head=("A", "B", "C"), shares=(20, 60, 20), rows=rows[:90]),
        Section("Another", head=("A", "B", "C"), shares=(20, 60, 20), rows=rows[90:]),
        Section("Signed", pairs=(("place", "here"),), signatures=("technician",)),
    )
    pages = []
    for ahead in (20, 10_000):
        monkeypatch.setattr("app.reports.page_breaks.AHEAD", ahead)
        write_pdf(tmp_path / "rows.pdf", Document("Service report", "unit", sections))
        pages.append([read(page) for page in pypdf.PdfReader(tmp_path / "rows.pdf").pages])
    assert len(pages[0]) > 3
    assert pages[0] == pages[1]


def test_a_row_higher_than_a_page_is_no_endless_task(tmp_path: Path) -> None:
    section = Section("Part", head=("A", "B"), shares=(20, 80), rows=(("long", "word " * 9000),))
    assert write_pdf(tmp_path / "long.pdf", Document("Service report", "unit", (section,))) > 1


def test_nothing_of_that_name_is_one_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", "nowhere"]) == 1
    captured = capsys.readouterr()
    assert captured.err.count("\n") == 1
    assert "there is no session 'nowhere'" in captured.err
