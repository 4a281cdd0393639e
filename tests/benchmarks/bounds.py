"""Shares with their 95 % confidence bound, and the form in which a benchmark reports a figure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from scipy.stats import beta


def upper(hits: int, of: int) -> float:
    """One-sided 95 % upper bound of a share (Clopper and Pearson, exact)."""
    return 1.0 if hits >= of else float(beta.ppf(0.95, hits + 1, of - hits))


def lower(hits: int, of: int) -> float:
    """One-sided 95 % lower bound of a share (Clopper and Pearson, exact)."""
    return 0.0 if hits <= 0 else float(beta.ppf(0.05, hits, of - hits + 1))


def at_most(hits: int, of: int, wanted: float) -> Mapping[str, Any]:
    """A share that is wanted to be small, with its upper bound."""
    if of == 0:
        return {"value": None, "bound": None, "of": 0, "wanted": wanted, "met": True}
    share, bound = hits / of, upper(hits, of)
    return {
        "value": round(share, 4),
        "bound": round(bound, 4),
        "of": of,
        "wanted": wanted,
        "met": share <= wanted,
    }


def at_least(hits: int, of: int, wanted: float) -> Mapping[str, Any]:
    """A share that is wanted to be large, with its lower bound."""
    if of == 0:
        return {"value": None, "bound": None, "of": 0, "wanted": wanted, "met": wanted <= 0.0}
    share, bound = hits / of, lower(hits, of)
    return {
        "value": round(share, 4),
        "bound": round(bound, 4),
        "of": of,
        "wanted": wanted,
        "met": share >= wanted,
    }
