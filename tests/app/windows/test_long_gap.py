"""A meter that is lost says why at length: all of that can be read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from fake_bench import LEFT, FakeBench

from app.windows.lettering import LEAST_LETTER, Sentence
from app.windows.working_screen import WorkingScreen

Show = Callable[[FakeBench], WorkingScreen]
WHY = "192.0.2.10 port 5025 refuses the connection; check the port, and that no other program holds the meter"


def test_a_long_reason_for_a_gap_is_not_cut(bench: FakeBench, shown: Show) -> None:
    """In few words large, at length small; a screen reader is told all of it."""
    states = tuple(replace(one, gap=WHY, value=None, level=None) for one in bench.picture().view.channels)
    bench.show_view(channels=states, advice=())
    row = shown(bench).rows[LEFT]
    assert WHY in row.accessibleName()
    told = [one for one in row.findChildren(Sentence) if one.isVisible() and one.text]
    assert any(WHY in one.text for one in told)
    for one in told:
        assert one.height_for(one.width(), LEAST_LETTER) <= one.height()
