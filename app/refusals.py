"""Refusals of every kind as the one that the window expects: a ValueError with a sentence."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import ParamSpec, TypeVar

from pydantic import ValidationError

from drivers.errors import DriverError
from procedures.checking import FileProblems
from procedures.records.codec import LineRefused

P = ParamSpec("P")
T = TypeVar("T")


def checked_words(refusal: ValidationError) -> str:
    """What a check of a value found, in one sentence; the checking library says it over many lines."""
    first = refusal.errors(include_url=False)[0]
    place = ".".join(str(part) for part in first["loc"])
    about = f"{place.replace('_', ' ')}: " if place else ""
    return f"{about}{first['msg'][:1].lower()}{first['msg'][1:]}; nothing was kept of it."


def refusing(work: Callable[P, T]) -> Callable[P, T]:
    """Turn every kind of refusal into the one that the window expects."""

    @functools.wraps(work)
    def wrapped(*args: P.args, **kwargs: P.kwargs) -> T:
        try:
            return work(*args, **kwargs)
        except ValidationError as refusal:
            raise ValueError(checked_words(refusal)) from refusal
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
