"""Slope of recent levels with an honest standard error.

The residuals of a warm-up are red (mains, draughts), so that the textbook error of a slope is several
times too small. Here it is corrected for their correlation and for the steps of the display.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Trend:
    """Slope a second and its standard error, the level at the end of the span, the scatter about the line."""

    rate_per_s: float
    rate_se: float
    level: float
    scatter: float
    span_s: float
    count: int


def line(at_s: NDArray[np.float64], levels: NDArray[np.float64]) -> tuple[float, float, float, float, float]:
    """Least-squares line: intercept, slope, their standard errors, residual standard deviation."""
    middle_s, middle = float(at_s.mean()), float(levels.mean())
    off_s, off = at_s - middle_s, levels - middle
    spread = float((off_s * off_s).sum())
    slope = float((off_s * off).sum()) / spread
    rest = off - slope * off_s
    free = len(levels) - 2
    sd = math.sqrt(float((rest * rest).sum()) / free) if free > 0 else math.inf
    slope_se = sd / math.sqrt(spread)
    intercept_se = sd * math.sqrt(1.0 / len(levels) + middle_s**2 / spread)
    return middle - slope * middle_s, slope, intercept_se, slope_se, sd


def trend(at_s: NDArray[np.float64], levels: NDArray[np.float64], step: float = 0.0) -> Trend | None:
    """Slope of `levels`, shape (n,), against `at_s`, shape (n,), oldest first; None for fewer than three.

    `step` is the display's: a reading that sits between two of them can hide a slope of 1.5 steps over the
    span (worst case of a least-squares line through a staircase), which is added when the noise does not
    dither it away.
    """
    count = len(levels)
    if count < 3 or at_s[-1] <= at_s[0]:
        return None
    middle_s, middle = float(at_s.sum()) / count, float(levels.sum()) / count
    off_s, off = at_s - middle_s, levels - middle
    spread = float(off_s @ off_s)
    slope = float(off_s @ off) / spread
    rest = off - slope * off_s
    total = float(rest @ rest)
    sd = math.sqrt(total / (count - 2))
    red = float(rest[1:] @ rest[:-1]) / total if total > 0.0 else 0.0
    red = min(0.97, max(0.0, red + (1.0 + 4.0 * red) / count))  # small-sample bias of a lag-1 estimate
    error = sd / math.sqrt(spread) * math.sqrt((1.0 + red) / (1.0 - red))
    span_s = float(at_s[-1] - at_s[0])
    if step > 0.0 and sd < step:
        error = math.hypot(error, 1.5 * step / span_s / 1.96)
    return Trend(slope, error, middle + slope * float(off_s[-1]), sd, span_s, count)
