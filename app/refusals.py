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


def telling(work: Callable[P, T]) -> Callable[P, T]:
    """As `refusing`, and say of a file that cannot be read or written which, why, and what to do."""

    @functools.wraps(work)
    @refusing
    def wrapped(*args: P.args, **kwargs: P.kwargs) -> T:
        try:
            return work(*args, **kwargs)
        except OSError as error:
            if error.errno is None or error.filename is None:
                raise  # it is a sentence already
            words = f"{error.filename}: {error.strerror or error}; check the folder, your rights and the disk"
            raise OSError(words) from error

    return wrapped
