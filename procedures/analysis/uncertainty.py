"""Uncertainty of a reading: combination, coverage factor, and a budget that a person can read.

Follows JCGM 100 (GUM) for the combination, and GUM G.4 for the coverage factor where few degrees of freedom
decide; otherwise the distributions are convolved, which gives 1.65 where one rectangular term dominates
and 2 where none does. Not here: the window and its decision rules (`window`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import scipy  # special is imported when it is first used; stats would take half a second

from drivers.meter import MeterAccuracy
from drivers.reading import Unit
from procedures.analysis.figures import figure, percent

COVERAGE = 0.9545
"""Probability for which expanded uncertainties are stated: k = 2 for a normal distribution (EA-4/02)."""

_FEW_DOF = 100.0  # from here on a t factor is a normal one to three digits
_DOMINANT_SHARE = 0.5
_GRID = 4001


class Distribution(StrEnum):
    """What is assumed inside the half-width."""

    NORMAL = "normal"
    RECTANGULAR = "rectangular"
    TRIANGULAR = "triangular"
    ARCSINE = "arcsine"


_DIVISOR = {
    Distribution.RECTANGULAR: math.sqrt(3.0),
    Distribution.TRIANGULAR: math.sqrt(6.0),
    Distribution.ARCSINE: math.sqrt(2.0),
}


@dataclass(frozen=True, slots=True)
class Contribution:
    """One thing that a reading may be wrong by.

    `divisor` turns the half-width into a standard uncertainty. It follows from the distribution except for
    a normal one, where it is the k of the statement (1 for a standard deviation, 2 for a certificate).
    """

    name: str
    half_width: float
    distribution: Distribution = Distribution.RECTANGULAR
    divisor: float = 0.0
    dof: float = math.inf
    sensitivity: float = 1.0
    source: str = ""

    @property
    def effective_divisor(self) -> float:
        """The divisor given, or the one of the distribution."""
        return self.divisor or _DIVISOR.get(self.distribution, 1.0)

    @property
    def u(self) -> float:
        """Standard uncertainty of the result that comes from this."""
        return abs(self.sensitivity) * self.half_width / self.effective_divisor


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """One line of the table; `share` is the fraction of the combined variance."""

    name: str
    half_width: float
    distribution: Distribution
    divisor: float
    u: float
    share: float
    source: str = ""


@dataclass(frozen=True, slots=True)
class Budget:
    """A combined uncertainty: `u`, effective degrees of freedom, k and U = k u for `probability`."""

    rows: tuple[BudgetRow, ...]
    u: float
    dof: float
    k: float
    expanded: float
    probability: float
    k_reason: str
    unit: Unit = Unit.VOLT

    def lines(self) -> tuple[tuple[str, ...], ...]:
        """The table as text: header, one line a contribution, and the combined line."""
        header = ("what", "half-width", "distribution", "divisor", "u", "share", "where from")
        body = tuple(
            (
                row.name,
                figure(row.half_width, self.unit),
                row.distribution.value,
                f"{row.divisor:.2f}",
                figure(row.u, self.unit),
                percent(row.share),
                row.source,
            )
            for row in self.rows
        )
        total = (
            "combined",
            f"± {figure(self.expanded, self.unit)}",
            f"{self.probability * 100:.0f} %",
            f"k = {self.k:.2f}",
            figure(self.u, self.unit),
            "100 %",
            self.k_reason,
        )
        return (header, *body, total)


def effective_dof(contributions: Sequence[Contribution]) -> float:
    """Welch-Satterthwaite degrees of freedom (JCGM 100 G.4.1), not yet truncated."""
    variance = sum(c.u**2 for c in contributions)
    weight = sum(c.u**4 / c.dof for c in contributions if math.isfinite(c.dof))
    return variance**2 / weight if weight > 0.0 else math.inf


def student_factor(dof: float, probability: float = COVERAGE) -> float:
    """Coverage factor t_p; a fractional number of degrees of freedom is truncated (JCGM 100 G.4.2)."""
    if math.isinf(dof):
        return float(scipy.special.ndtri(0.5 + probability / 2.0))
    return float(scipy.special.stdtrit(max(1, math.floor(dof)), 0.5 + probability / 2.0))


def combine(
    contributions: Sequence[Contribution], probability: float = COVERAGE, unit: Unit = Unit.VOLT
) -> Budget:
    """Combine independent contributions into a budget with the coverage factor that fits them."""
    variance = sum(c.u**2 for c in contributions)
    rows = tuple(
        BudgetRow(
            c.name,
            c.half_width * abs(c.sensitivity),
            c.distribution,
            c.effective_divisor,
            c.u,
            c.u**2 / variance if variance > 0.0 else 0.0,
            c.source,
        )
        for c in contributions
    )
    u = math.sqrt(variance)
    dof = effective_dof(contributions)
    k, reason = _coverage(contributions, u, dof, probability)
    return Budget(rows, u, dof, k, k * u, probability, reason, unit)


def _coverage(
    contributions: Sequence[Contribution], u: float, dof: float, probability: float
) -> tuple[float, str]:
    if u <= 0.0:
        return student_factor(math.inf, probability), "nothing contributes"
    flat = [c for c in contributions if c.distribution is not Distribution.NORMAL and c.u > 0.0]
    dominant = max(flat, key=lambda c: c.u, default=None)
    dominated = dominant is not None and dominant.u**2 > _DOMINANT_SHARE * u**2
    if dof < _FEW_DOF and not dominated:
        return student_factor(dof, probability), f"t factor for {math.floor(dof)} degrees of freedom"
    if not flat:
        return student_factor(math.inf, probability), "normal"
    if dominated and dominant is not None:
        reason = f"{dominant.distribution.value} term dominates: {dominant.name}"
    else:
        reason = "convolution of the distributions"
    return _convolved_factor(contributions, u, probability), reason


def _convolved_factor(contributions: Sequence[Contribution], u: float, probability: float) -> float:
    """Half-width that holds `probability` of the convolved distribution, divided by u.

    Probabilities of grid cells are exact for every term, so the cell width (U/300 or less) is the only error.
    """
    reach = sum(_reach(c) for c in contributions if c.u > 1e-6 * u)
    edges = np.linspace(-reach, reach, _GRID + 1)
    cells = np.zeros(_GRID)
    cells[_GRID // 2] = 1.0
    for c in contributions:
        if c.u > 1e-6 * u:
            weights = np.diff(_cumulative(c, edges))
            cells = np.convolve(cells, weights, mode="same")
    centre = _GRID // 2
    width = edges[1] - edges[0]
    inside = np.concatenate(([cells[centre]], cells[centre + 1 :] + cells[centre - 1 :: -1])).cumsum()
    inside /= inside[-1]
    at = np.interp(probability, inside, (np.arange(inside.size) + 0.5) * width)
    return float(at) / u


def _reach(c: Contribution) -> float:
    if c.distribution is not Distribution.NORMAL:
        return abs(c.sensitivity) * c.half_width
    return c.u * (6.0 if math.isinf(c.dof) else float(scipy.special.stdtrit(max(1.0, c.dof), 0.9999)))


def _cumulative(c: Contribution, x: np.ndarray) -> np.ndarray:
    if c.distribution is Distribution.NORMAL:
        cdf = (
            scipy.special.ndtr(x / c.u)
            if math.isinf(c.dof)
            else scipy.special.stdtr(max(1.0, c.dof), x / c.u)
        )
        return np.asarray(cdf)
    y = np.clip(x / (abs(c.sensitivity) * c.half_width), -1.0, 1.0)
    if c.distribution is Distribution.RECTANGULAR:
        return (1.0 + y) / 2.0
    if c.distribution is Distribution.TRIANGULAR:
        return np.where(y < 0.0, (1.0 + y) ** 2 / 2.0, 1.0 - (1.0 - y) ** 2 / 2.0)
    return 0.5 + np.arcsin(y) / math.pi


def temperature_factor(ambient_c: float | None, per_kelvin: float = 0.1) -> float:
    """How much wider a meter's accuracy is outside 18-28 °C, where makers state it (0.1 a kelvin)."""
    if ambient_c is None:
        return 1.0
    outside = max(0.0, 18.0 - ambient_c, ambient_c - 28.0)
    return 1.0 + per_kelvin * outside


def meter_half_width(value: float, accuracy: MeterAccuracy, ambient_c: float | None = None) -> float:
    """A maker's limit of error: ± (of reading + of range + counts), wider outside 18-28 °C."""
    limit = (
        accuracy.of_reading * abs(value)
        + accuracy.of_range * accuracy.range_value
        + accuracy.counts * accuracy.resolution
    )
    return limit * temperature_factor(ambient_c)


def reading_contributions(
    value: float,
    accuracy: MeterAccuracy,
    *,
    lead_offset: float = 0.0,
    ambient_c: float | None = None,
) -> tuple[Contribution, ...]:
    """What the instrument and its leads contribute to one reading, in the reading's unit."""
    rows = [
        Contribution(
            "meter accuracy", meter_half_width(value, accuracy, ambient_c), source=accuracy.declared_by
        ),
        Contribution("last digit", accuracy.resolution / 2.0, source="half a count"),
    ]
    if lead_offset > 0.0:
        rows.append(Contribution("leads not zeroed", lead_offset, source="thermal voltages of the joints"))
    return tuple(row for row in rows if row.half_width > 0.0)


def reading_budget(
    value: float,
    accuracy: MeterAccuracy | None,
    *,
    unit: Unit = Unit.VOLT,
    lead_offset: float = 0.0,
    ambient_c: float | None = None,
    wander: float = 0.0,
    settling_half_width: float = 0.0,
) -> Budget:
    """Budget of one reading.

    `lead_offset` is the half-width left after zeroing; `wander` the standard deviation of the reading's slow
    noise; `settling_half_width` half the 95 % interval of what the reading will still do, as its own line.
    """
    rows: list[Contribution] = []
    if accuracy is not None:
        rows.extend(reading_contributions(value, accuracy, lead_offset=lead_offset, ambient_c=ambient_c))
    if wander > 0.0:
        rows.append(Contribution("wander", wander, Distribution.NORMAL, 1.0, source="seen in this warm-up"))
    if settling_half_width > 0.0:
        rows.append(
            Contribution(
                "not yet at rest", settling_half_width, Distribution.NORMAL, 1.96, source="forecast, 95 %"
            )
        )
    return combine(rows, unit=unit)
