"""Every shipped unit says why it was brought in, and what is the matter with it in words there are."""

from __future__ import annotations

import tomllib
from importlib import resources

import pytest

from drivers.simulated.units import drawn_unit, load_unit, shipped_units
from drivers.simulated.units.loading import DEFECTS
from procedures.defects import DEFECT_WORDS


def test_every_kind_of_defect_has_words() -> None:
    """And there are no words for what no unit can have."""
    assert set(DEFECT_WORDS) == set(DEFECTS)


@pytest.mark.parametrize("name", shipped_units())
def test_a_unit_says_why_it_came_and_what_is_the_matter(name: str) -> None:
    """Also that nothing is: an empty list is said, not left out."""
    file = resources.files("drivers.simulated.units") / f"{name}.toml"
    tables = tomllib.loads(file.read_text(encoding="utf-8"))
    assert tables["brought_in"].endswith((".", "!"))
    assert "defects" in tables
    assert DEFECT_WORDS.keys() >= {one.kind for one in load_unit(name).defects}


def test_units_for_other_work_are_not_drawn_by_lot() -> None:
    """A lot is drawn for a bias trim: a unit that hums, or is set cold, is chosen by name."""
    drawn = {drawn_unit(seed) for seed in range(200)}
    assert drawn == {name for name in shipped_units() if load_unit(name).drawn}
    assert not drawn & {"humming_supply", "set_cold", "rail_link", "worn_relay"}
