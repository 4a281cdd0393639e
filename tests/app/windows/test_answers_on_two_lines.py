"""Two lines of answers above the readings, and a big key with nothing to do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from fake_bench import AS_FOUND, HIGH, FakeBench, FakePractice, trimming_picture
from PySide6.QtWidgets import QApplication, QScrollArea

from app.windows.working_screen import WorkingScreen
from procedures.events import AnswerKind, Choice
from procedures.view import ActiveAlarm

Show = Callable[[FakeBench], WorkingScreen]


def test_answers_on_two_lines_cut_nothing_at_1280_by_800(shown: Show) -> None:
    """Five answers, as to a reading that could not be taken: rows, traces and practice panel stay whole."""
    bench = FakeBench(trimming_picture(practice=True), FakePractice())
    reasons = ("now", "dead", "too hot", "unsafe", "already changed")
    choices = tuple(Choice(f"c{n}", f"Not measured: {reason}") for n, reason in enumerate(reasons))
    bench.show_view(question=replace(AS_FOUND, choices=choices))
    screen = shown(bench)
    bench.show()
    screen.refresh()
    for _ in range(3):
        QApplication.processEvents()
    assert screen.size().height() == 800
    page = [area for area in screen.findChildren(QScrollArea) if area.parent() is screen]
    assert page
    assert not any(area.verticalScrollBar().isVisible() for area in page)
    for row in screen.rows.values():
        assert row.figures.visibleRegion().contains(row.figures.rect())


def test_the_big_key_says_what_comes_first_where_it_has_nothing_to_do(shown: Show) -> None:
    """An alarm that nobody has seen, and a value that is to be typed; never that there is nothing to do."""
    bench = FakeBench(trimming_picture())
    screen = shown(bench)
    bench.show_view(next_label="", alarms=(ActiveAlarm(HIGH),))
    screen.refresh()
    assert (screen.key.isEnabled(), screen.key.cap) == (False, "F8")
    assert screen.key.accessibleName() == "the alarm first (F8)"
    value = replace(AS_FOUND, kind=AnswerKind.VALUE, choices=())
    bench.show_view(next_label="", alarms=(), question=value)
    screen.refresh()
    assert screen.key.accessibleName() == "when the value is typed (Enter)"
