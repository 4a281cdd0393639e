"""Settings that two processes changed at once, put together: what each of them changed survives.

A value is compared with what this process knew when it read or wrote it last: what differs was changed here,
everything else is as it stands in the file. Entries of a list are told apart by what they are about.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pydantic import BaseModel

from app.settings import (
    MOST_DECLARED,
    MOST_REMEMBERED,
    CalibrationDue,
    ChannelSound,
    DeclaredInput,
    Letterhead,
    RememberedMeter,
    Settings,
    SoundChoice,
)

# What is chosen piece by piece; devices for measuring belong together with their scales and their floor.
_PIECEWISE = (Settings, SoundChoice, Letterhead)
_ABOUT: dict[type, tuple[str, int]] = {
    RememberedMeter: ("address", MOST_REMEMBERED),
    ChannelSound: ("channel", MOST_REMEMBERED),
    DeclaredInput: ("address", MOST_DECLARED),
    CalibrationDue: ("identity", MOST_DECLARED),
}


def put_together(ours: Settings, known: Settings, theirs: Settings) -> Settings:
    """`theirs`, as they stand in the file, with what `ours` changes against `known`."""
    return theirs.model_copy(update=_changed(ours, known, theirs))


def _changed(ours: BaseModel, known: BaseModel, theirs: BaseModel) -> dict[str, object]:
    names = type(ours).model_fields
    return {name: _merged(getattr(ours, name), getattr(known, name), getattr(theirs, name)) for name in names}


def _merged(ours: Any, known: Any, theirs: Any) -> Any:
    if ours == known:
        return theirs
    if theirs in (known, ours):
        return ours
    if isinstance(ours, _PIECEWISE):
        return theirs.model_copy(update=_changed(ours, known, theirs))
    if isinstance(ours, tuple) and (ours or known) and type((*ours, *known)[0]) in _ABOUT:
        return _entries(ours, known, theirs)
    return ours


def _entries(ours: Sequence[Any], known: Sequence[Any], theirs: Sequence[Any]) -> tuple[Any, ...]:
    """Entries that were changed or are new on either side, less those that either side took away."""
    about, most = _ABOUT[type((*ours, *known)[0])]
    was = {getattr(one, about): one for one in known}
    here = {getattr(one, about): one for one in ours}
    there = {getattr(one, about): one for one in theirs}
    kept: list[Any] = []
    for key, one in here.items():
        if was.get(key) != one:
            kept.append(one)
        elif key in there:
            kept.append(there[key])
    kept += [one for key, one in there.items() if key not in here and key not in was]
    return tuple(kept[:most])
