"""Traces are told apart by shape as well as by colour."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPointF
from PySide6.QtGui import QColor, QImage, QPainter

from app.windows.trace_shapes import SHAPES, draw_shape, marked_columns


def _drawn(shape: int) -> np.ndarray:
    """Which dots of a square of 24 are inked, drawn in black on white."""
    image = QImage(24, 24, QImage.Format.Format_RGB32)
    image.fill(QColor("white"))
    painter = QPainter(image)
    draw_shape(painter, shape, QPointF(12.0, 12.0), "#000000", "#ffffff")
    painter.end()
    return np.array([[image.pixelColor(x, y).lightness() < 128 for x in range(24)] for y in range(24)])


@pytest.mark.parametrize(("one", "other"), list(combinations(range(SHAPES), 2)))
def test_no_two_shapes_look_alike_without_colour(one: int, other: int) -> None:
    """At least an eighth of the dots that either inks is inked by one of them alone."""
    first, second = _drawn(one), _drawn(other)
    assert first.any()
    assert (first ^ second).sum() >= (first | second).sum() / 8


@given(st.integers(0, SHAPES - 1), st.floats(0.0, 5000.0), st.floats(5.0, 90000.0), st.floats(200.0, 2000.0))
def test_shapes_stand_apart_and_inside(shape: int, begin_s: float, length_s: float, width: float) -> None:
    """Never closer than they are wide, always in the picture, and some wherever readings fill it."""
    end_s = begin_s + length_s
    seconds = np.linspace(begin_s, end_s, 2000)
    chosen = seconds[marked_columns(seconds, shape, begin_s, end_s, width)]
    assert ((chosen >= begin_s) & (chosen <= end_s)).all()
    dots = np.diff(chosen) * width / length_s
    assert (dots > 100.0).all()
    if width > 500.0:
        assert len(chosen)


def test_a_shape_moves_with_its_trace() -> None:
    """Panned by a little, the shapes stay at the readings where they were."""
    seconds = np.arange(0.0, 3600.0, 0.5)
    before = set(seconds[marked_columns(seconds, 1, 600.0, 1800.0, 900.0)])
    after = set(seconds[marked_columns(seconds, 1, 630.0, 1830.0, 900.0)])
    assert len(before & after) >= len(before) - 1


def test_no_shape_stands_in_a_gap() -> None:
    """Where nothing was read there is none."""
    seconds = np.concatenate((np.arange(0.0, 100.0), np.arange(900.0, 1000.0)))
    chosen = seconds[marked_columns(seconds, 0, 0.0, 1000.0, 1000.0)]
    assert len(chosen)
    step_s = 128.0
    assert all((moment % step_s) < step_s / SHAPES for moment in chosen)


def test_no_readings_no_shapes() -> None:
    assert not len(marked_columns(np.empty(0), 2, 0.0, 100.0, 500.0))
