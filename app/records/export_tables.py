"""A session's readings for other programs: JSON, and XLSX and Parquet where their packages are installed.

One row a reading, in SI units as in the record: elapsed seconds, channel, value, unit, half its interval and
flags. What happened besides is in the JSON, and on a sheet of its own in the XLSX.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

from app.records.export_csv import PRACTICE, plain, said
from app.records.session_folder import Entry, Session
from app.records.whole_file import write_whole
from procedures.events import ChannelReading
from procedures.records import codec

COLUMNS = ("elapsed [s]", "channel", "value", "unit", "half interval [s]", "flags")


class ExtraMissing(ValueError):
    """A package is not installed; the text says which extra brings it."""


def _missing(what: str, package: str) -> ExtraMissing:
    return ExtraMissing(
        f"{what} needs the package {package}: install it with `pip install 'warmtrim[tables]'`"
    )


def _rows(entries: Sequence[Entry]) -> list[tuple[float, str, float, str, float, str]]:
    return [
        (e.at_s, e.channel, e.value, e.unit.value, e.half_s, " ".join(sorted(f.value for f in e.flags)))
        for e in entries
        if isinstance(e, ChannelReading)
    ]


def write_json(path: Path, session: Session) -> int:
    """Write header, names and every entry as one JSON document; how many entries. Raises OSError."""
    journal = session.journal
    facts = [json.loads(line) for fact in journal.facts for line in codec.encode([fact])]
    document: dict[str, Any] = {
        "header": json.loads(journal.header.line()),
        "unit": str(journal.naming.unit) if journal.naming else journal.header.unit,
        "job": journal.naming.job if journal.naming else "",
        "closed": journal.closed,
        "problems": journal.problems,
        "anchors": [json.loads(anchor.line()) for anchor in journal.anchors],
        "readings": [dict(zip(COLUMNS, row, strict=True)) for row in _rows(session.entries)],
        "facts": [fact for fact in facts if fact["kind"] != "rows"],
    }
    write_whole(path, json.dumps(document, ensure_ascii=False, indent=1).encode("utf-8"))
    return len(facts)


def write_xlsx(path: Path, session: Session) -> int:
    """Write readings and remarks as a workbook; how many readings. Raises ExtraMissing, OSError."""
    try:
        from openpyxl import Workbook
        from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
    except ImportError:
        raise _missing("XLSX", "openpyxl") from None

    def words(text: str) -> str:
        return plain(str(ILLEGAL_CHARACTERS_RE.sub(" ", text)))[:32_000]

    book = Workbook(write_only=True)
    practised = session.journal.header.practice
    sheet = book.create_sheet("readings of practice" if practised else "readings")
    sheet.append(COLUMNS)
    rows = _rows(session.entries)
    for at_s, channel, value, unit, half_s, flags in rows:
        sheet.append([at_s, words(channel), value, unit, half_s, flags])
    remarks = book.create_sheet("remarks")
    remarks.append(("elapsed [s]", "remark"))
    if practised:
        remarks.append([0.0, PRACTICE])
    for entry in session.entries:
        remark = said(entry)
        if remark:
            remarks.append([getattr(entry, "at_s", None), words(remark)])
    content = BytesIO()
    book.save(content)  # not into the file: what cannot be saved would be said once more at the end
    write_whole(path, content.getvalue())
    return len(rows)


def write_parquet(path: Path, session: Session) -> int:
    """Write readings as one Parquet table; how many. Raises ExtraMissing, OSError."""
    try:
        import pyarrow as arrow
        from pyarrow import parquet
    except ImportError:
        raise _missing("Parquet", "pyarrow") from None
    rows = _rows(session.entries)
    kinds = (
        arrow.float64(),
        arrow.string(),
        arrow.float64(),
        arrow.string(),
        arrow.float64(),
        arrow.string(),
    )
    columns = list(zip(*rows, strict=True)) if rows else [()] * len(COLUMNS)
    table = arrow.table(
        {
            name: arrow.array(list(column), kind)
            for name, column, kind in zip(COLUMNS, columns, kinds, strict=True)
        }
    )
    if session.journal.header.practice:
        table = table.replace_schema_metadata({"practice": PRACTICE})
    content = BytesIO()
    parquet.write_table(table, content)
    write_whole(path, content.getvalue())
    return len(rows)
