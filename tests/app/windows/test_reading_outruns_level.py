"""Where a reading has left its level behind, the words follow the reading."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from fake_bench import LEFT, RIGHT, FakeBench

from app.windows.working_screen import WorkingScreen
from procedures.analysis.channel import Forecast, Position

Show = Callable[[FakeBench], WorkingScreen]


def _row_words(bench: FakeBench, shown: Show, value: float) -> str:
    heading = Forecast(1200.0, 2100.0, 0.0150, 0.0148, 0.0152, spoken=True)
    moved = {"value": value, "level": 0.0152, "forecast": heading, "position": Position.ABOVE}
    states = [replace(one, **moved) if one.channel == RIGHT else one for one in bench.picture().view.channels]
    bench.show_view(channels=tuple(states), advice=(), focus=LEFT)
    return shown(bench).rows[RIGHT].accessibleName()


def test_a_channel_that_another_trimmer_moves_is_told_as_it_reads(bench: FakeBench, shown: Show) -> None:
    """The level lags by seconds: 22.65 mV is not 2 mV high."""
    assert "2.0 mV high" not in _row_words(bench, shown, 0.02265)


def test_noise_does_not_take_the_level_away(bench: FakeBench, shown: Show) -> None:
    """What noise and crackle do stays inside."""
    near, far = _row_words(bench, shown, 0.0153), _row_words(bench, shown, 0.0165)
    assert near.partition(",")[2] == far.partition(",")[2]
