"""Refusals of every kind as the one that the window expects: a ValueError with a sentence."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import ParamSpec, TypeVar

from drivers.errors import DriverError
from procedures.checking import FileProblems
from procedures.records.codec import LineRefused

P = ParamSpec("P")
T = TypeVar("T")


def refusing(work: Callable[P, T]) -> Callable[P, T]:
    """Turn every kind of refusal into the one that the window expects."""

    @functools.wraps(work)
    def wrapped(*args: P.args, **kwargs: P.kwargs) -> T:
        try:
            return work(*args, **kwargs)
        except (DriverError, FileProblems, LineRefused) as refusal:
            raise ValueError(str(refusal)) from refusal

    return wrapped
