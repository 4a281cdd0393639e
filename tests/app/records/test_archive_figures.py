"""What the archive tells of a session is what its report tells: the same figures, for any readings."""

from __future__ import annotations

import tempfile
from pathlib import Path

import sqlalchemy as sql
from hypothesis import given, settings
from hypothesis import strategies as st
from small_session import keep_session

from app.records import archive_tables as tables
from app.records.archive import Archive
from app.records.archive_place import address_of
from app.reports.gathering import find_visit
from app.reports.sections import measured_words, value_words
from drivers.reading import Unit


@settings(max_examples=15, deadline=None)
@given(
    level=st.floats(1e-6, 0.2),
    readings=st.integers(1, 60),
)
def test_the_archives_figures_are_those_of_the_report(level: float, readings: int) -> None:
    """Values under their names, and verdicts with their values, exactly; and so in the words of the paper."""
    with tempfile.TemporaryDirectory() as place:
        root = Path(place)
        folder = keep_session(root, level=level, readings=readings)
        archive = Archive(address_of(f"sqlite:///{root / 'archive.sqlite'}"), "bench")
        archive.file_session(folder)
        with archive.reading() as connection:
            filed = connection.execute(sql.select(tables.recorded).order_by(tables.recorded.c.place)).all()
            judged = connection.execute(sql.select(tables.results).order_by(tables.results.c.place)).all()
        archive.close()
        facts = find_visit(root, folder.name).facts

    part = facts.sessions[0]
    told = {(one.name, one.about): one for one in (*part.states, *part.others, *part.surroundings)}
    assert {key: one.value for key, one in told.items()} == {(r.name, r.channel): r.value for r in filed}
    for row in filed:
        if row.value is not None:
            words = measured_words(told[row.name, row.channel])
            assert words.startswith(value_words(row.value, Unit(row.unit)))
    whole = [part.whole] if part.whole is not None else []
    verdicts = [(one.outcome.value, one.reason, one.value) for one in (*part.judged, *whole)]
    assert sorted((row.outcome, row.reason, row.value) for row in judged) == sorted(verdicts)
