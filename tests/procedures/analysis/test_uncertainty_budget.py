from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.meter import MeterAccuracy
from procedures.analysis.uncertainty import (
    Contribution,
    Distribution,
    combine,
    meter_half_width,
    reading_budget,
    temperature_factor,
)

HANDHELD = MeterAccuracy(of_reading=0.0005, counts=3, resolution=1e-5, declared_by="its manual")


def test_a_budget_shows_each_line_and_the_combined_one() -> None:
    budget = reading_budget(
        0.0135, HANDHELD, lead_offset=2e-6, wander=3e-5, settling_half_width=1e-4, ambient_c=24.0
    )
    names = [row.name for row in budget.rows]
    assert names == ["meter accuracy", "last digit", "leads not zeroed", "wander", "not yet at rest"]
    assert sum(row.share for row in budget.rows) == pytest.approx(1.0)
    lines = budget.lines()
    assert lines[1][-1] == "its manual"
    assert lines[-1][0] == "combined"
    assert "mV" in lines[-1][1]
    assert len({len(line) for line in lines}) == 1


def test_what_the_reading_will_still_do_outweighs_a_good_meter() -> None:
    budget = reading_budget(0.0135, HANDHELD, settling_half_width=0.02 * 0.0135)
    largest = max(budget.rows, key=lambda row: row.share)
    assert largest.name == "not yet at rest"


def test_nothing_known_is_zero_width_with_its_reason() -> None:
    budget = reading_budget(0.0135, None)
    assert budget.u == 0.0
    assert budget.k_reason == "nothing contributes"


def test_accuracy_widens_outside_the_makers_temperature_range() -> None:
    assert temperature_factor(23.0) == 1.0
    assert temperature_factor(None) == 1.0
    assert temperature_factor(33.0) == pytest.approx(1.5)
    assert temperature_factor(13.0) == pytest.approx(1.5)
    assert meter_half_width(0.0135, HANDHELD, 38.0) == pytest.approx(2.0 * meter_half_width(0.0135, HANDHELD))


flat = st.sampled_from([Distribution.RECTANGULAR, Distribution.TRIANGULAR, Distribution.ARCSINE])


@given(st.lists(st.tuples(st.floats(1e-6, 1.0), flat), min_size=1, max_size=5), st.floats(0.0, 1.0))
def test_the_factor_stays_between_the_arcsine_and_the_normal_one(
    terms: list[tuple[float, Distribution]], sd: float
) -> None:
    rows = [Contribution("x", half, kind) for half, kind in terms]
    rows.append(Contribution("scatter", sd, Distribution.NORMAL, 1.0))
    budget = combine(rows)
    assert 1.40 < budget.k < 2.02
    assert budget.expanded <= sum(c.half_width for c in rows[:-1]) + 2.001 * sd + 1e-9


@given(st.floats(0.01, 100.0))
def test_units_do_not_change_the_factor(scale: float) -> None:
    def budget(s: float) -> float:
        return combine(
            [
                Contribution("a", 1.0 * s),
                Contribution("b", 0.5 * s, Distribution.TRIANGULAR),
                Contribution("c", 0.3 * s, Distribution.NORMAL, 1.0, dof=4),
            ]
        ).k

    assert budget(scale) == pytest.approx(budget(1.0), rel=1e-6)
    assert math.isfinite(budget(scale))
