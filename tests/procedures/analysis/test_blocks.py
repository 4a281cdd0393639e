"""Blocks: spike-proof, late readings join, slow channels get a block a reading, displays' steps are found."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.analysis.blocks import (
    Block,
    BlockBuilder,
    DisplayStep,
    RecentBlocks,
    interquartile_mean,
)


def blocks_of(readings: list[tuple[float, float]], *, typed: bool = False) -> list[Block]:
    builder = BlockBuilder(typed=typed)
    closed = [block for at_s, value in readings for block in builder.add(at_s, value)]
    last = builder.close()
    return [*closed, last] if last else closed


def test_a_spike_does_not_move_a_block() -> None:
    readings = [(0.25 + 0.5 * n, 13.0 if n != 4 else 900.0) for n in range(10)]

    (block,) = blocks_of(readings)

    assert block.level == pytest.approx(13.0)
    assert block.high == 900.0


def test_a_late_reading_joins_the_open_block() -> None:
    (first, second) = blocks_of([(n + 0.5, 1.0) for n in range(6)] + [(4.9, 2.0)])

    assert (first.count, second.count) == (5, 2)


def test_readings_slower_than_blocks_are_blocks_of_their_own_at_once() -> None:
    builder = BlockBuilder()
    builder.add(0.0, 1.0)

    closed = builder.add(10.0, 2.0)

    assert [block.level for block in closed] == [1.0, 2.0]


def test_a_typed_reading_is_a_block_at_once() -> None:
    assert len(BlockBuilder(typed=True).add(3.0, 13.5e-3)) == 1


@given(st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=60))
def test_a_level_lies_between_the_extremes(values: list[float]) -> None:
    level = interquartile_mean(sorted(values))

    assert min(values) - 1e-9 <= level <= max(values) + 1e-9


@pytest.mark.parametrize("step", [1e-4, 1e-5, 2e-5, 1e-6])
def test_the_step_of_a_display_is_found_from_what_it_shows(step: float) -> None:
    display = DisplayStep()
    noisy = 13.37e-3 + 5.0 * step * np.random.default_rng(3).standard_normal(200)
    for value in np.round(noisy / step) * step:
        display.see(float(value))

    assert display.step == pytest.approx(step)


def test_values_that_no_display_rounds_have_no_step() -> None:
    display = DisplayStep()
    for value in np.random.default_rng(4).uniform(0.01, 0.02, 50):
        display.see(float(value))

    assert display.step == 0.0


def test_recent_blocks_keep_the_newest_and_give_the_span_asked_for() -> None:
    recent = RecentBlocks(10)
    for n in range(100):
        recent.append(Block(5.0 * n, 5.0 * n + 5.0, 5.0 * n + 2.5, float(n), None, 1, float(n), float(n)))

    at_s, levels = recent.within(20.0)

    assert len(recent) == 10
    assert levels.tolist() == [95.0, 96.0, 97.0, 98.0, 99.0]
    assert at_s[-1] == 497.5
    assert len(recent.within(0.0, 4)[0]) == 4
