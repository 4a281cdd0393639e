"""Which time constants a finished warm-up shows: a fit of decaying exponentials that needs no start values.

The model is linear in all but the rates, so that only these are searched: first on a grid, then by least
squares from the best grid points (variable projection). For a record that is complete; the forecast of a
warm-up under way is another matter (`forecast`), because a fit's own errors say nothing about a mode that has
not yet shown itself.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_GRID = 40
_REFINED = 5
_OVER, _UNDER = 30.0, 0.2  # rates searched: a decay within 1/30 of the span up to one five times as long


class Shape(StrEnum):
    """What stands beside the decaying terms."""

    DECAYS = "decays alone"
    OFFSET = "offset and decays"
    RISE = "a rise from zero"  # b (1 - exp(-rate x)) only


@dataclass(frozen=True, slots=True)
class DecayFit:
    """A fit: `offset` (0 without one), amplitudes (m,) and rates (m,), fastest last, with standard errors.

    The errors are those of least squares with white residuals; infinite where the data decide nothing.
    """

    shape: Shape
    offset: float
    offset_se: float
    amplitudes: Floats
    amplitude_ses: Floats
    rates: Floats
    rate_ses: Floats
    rest_square: float
    rest_sd: float

    @property
    def decided(self) -> bool:
        """Whether every rate is known to better than half of itself."""
        return bool(np.all(self.rate_ses < 0.5 * self.rates))


def fit_decays(x: Floats, y: Floats, count: int, shape: Shape = Shape.OFFSET) -> DecayFit:
    """Fit `count` decaying terms to `y` (n,) at `x` (n,), ascending.

    Raises ValueError for fewer points than parameters.
    """
    linear = count + (1 if shape is Shape.OFFSET else 0)
    if len(x) < linear + count:
        raise ValueError(f"{len(x)} points cannot decide {linear + count} parameters")
    span = float(x[-1] - x[0]) or 1.0
    grid = np.geomspace(_UNDER / span, _OVER / span, _GRID)
    scale = float(np.abs(y).max()) or 1.0

    def rest(log_rates: Floats) -> Floats:
        basis = _basis(x, np.exp(log_rates), shape)
        found, *_ = np.linalg.lstsq(basis, y, rcond=None)
        result: Floats = (y - basis @ found) / scale
        return result

    starts = [np.log(np.array(chosen)) for chosen in itertools.combinations(grid, count)]
    if len(starts) > 4000:
        starts = starts[:: len(starts) // 4000 + 1]
    best = sorted(starts, key=lambda start: float((rest(start) ** 2).sum()))[:_REFINED]
    from scipy.optimize import least_squares  # a tenth of a second that the start need not wait for

    fits = [least_squares(rest, start, xtol=1e-15, ftol=1e-15, gtol=1e-15) for start in best]
    chosen = min(fits, key=lambda fit: float(fit.cost))
    return _errors(x, y, np.sort(np.exp(chosen.x)), shape)


def _basis(x: Floats, rates: Floats, shape: Shape) -> Floats:
    decays = np.exp(-np.outer(x, rates))
    if shape is Shape.RISE:
        return 1.0 - decays
    if shape is Shape.OFFSET:
        return np.column_stack([np.ones(len(x)), decays])
    return decays


def _errors(x: Floats, y: Floats, rates: Floats, shape: Shape) -> DecayFit:
    """Amplitudes and standard errors at the rates found, by QR rather than normal equations."""
    basis = _basis(x, rates, shape)
    found, *_ = np.linalg.lstsq(basis, y, rcond=None)
    rest = y - basis @ found
    offset = float(found[0]) if shape is Shape.OFFSET else 0.0
    amplitudes: Floats = np.asarray(found[1:] if shape is Shape.OFFSET else found, dtype=np.float64)
    sign = 1.0 if shape is Shape.RISE else -1.0
    slopes = sign * amplitudes * x[:, None] * np.exp(-np.outer(x, rates))
    jacobian = np.column_stack([basis, slopes])
    free = len(x) - jacobian.shape[1]
    square = float(rest @ rest)
    sd = float(np.sqrt(square / free)) if free > 0 else float("inf")
    size = np.linalg.norm(jacobian, axis=0)
    size = np.where(size > 0.0, size, 1.0)
    triangle = np.linalg.qr(jacobian / size, mode="r")
    if np.abs(np.diag(triangle)).min() < 1e-12:
        errors = np.full(jacobian.shape[1], np.inf)
    else:
        inverse = np.linalg.solve(triangle, np.eye(len(triangle)))
        errors = sd * np.sqrt((inverse**2).sum(axis=1)) / size
    first = 1 if shape is Shape.OFFSET else 0
    count = len(rates)
    return DecayFit(
        shape, offset, float(errors[0]) if first else 0.0, amplitudes, errors[first : first + count],
        rates, errors[first + count :], square, sd,
    )  # fmt: skip


_WARM_UP_S = 2700.0
_POINTS = 180


def time_constants_s(elapsed_s: Floats, levels: Floats) -> tuple[float, float] | None:
    """The two time constants that a whole warm-up shows, short one first; None where it shows none clearly.

    `elapsed_s` (n,) from power-on, ascending, `levels` (n,); the first seconds and what comes after three
    quarters of an hour are left out.
    """
    used = (elapsed_s >= 10.0) & (elapsed_s <= _WARM_UP_S)
    x, y = elapsed_s[used], levels[used]
    if len(x) < 40 or x[-1] - x[0] < 900.0:
        return None
    pieces = np.array_split(np.arange(len(x)), min(_POINTS, len(x)))
    x = np.array([x[piece].mean() for piece in pieces])
    y = np.array([np.median(y[piece]) for piece in pieces])
    if float(np.ptp(y)) <= 1e-9 * float(np.abs(y).max()):
        return None
    fit = fit_decays(x, y, 2)
    moved = float(np.ptp(y))
    if not fit.decided or fit.rest_sd > 0.1 * moved or bool(np.any(np.abs(fit.amplitudes) < 0.03 * moved)):
        return None
    slow, quick = 1.0 / fit.rates
    return float(quick), float(slow)
