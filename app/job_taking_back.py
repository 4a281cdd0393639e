"""`job take-back`: which entry of a job's sheet is meant, and the fact that takes it back."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from procedures.job import EntryKind, JobFact, PartTakenBack, TakenBack
from procedures.records.job_sheet import JobSheet

PART = "part"
KINDS = (*(kind.value.replace(" ", "-") for kind in EntryKind), PART)
_TOLD = 5  # entries that a refusal names


class NothingMeant(ValueError):
    """No entry, or several, can be meant; the text says which there are."""


def taking_back(sheet: JobSheet, kind: str, which: str, words: str, now: datetime) -> JobFact:
    """The fact that takes an entry back.

    Args:
        sheet: The job as it stands.
        kind: One of `KINDS`.
        which: Words of the entry, its identifier, or the beginning of a picture's file; for an outcome none.
        words: Why.
        now: When that is said.

    Raises:
        NothingMeant: with one sentence.
    """
    told = kind.replace("-", " ")
    if told == EntryKind.OUTCOME.value:
        if sheet.outcome is None:
            raise NothingMeant("no outcome was written down: the job is under way")
        return TakenBack(now, EntryKind.OUTCOME, "", words)
    key = _one_of(_entries(sheet, told), told, which)
    if told == PART:
        return PartTakenBack(now, key, words)
    return TakenBack(now, EntryKind(told), key, words)


def _entries(sheet: JobSheet, kind: str) -> Mapping[str, str]:
    """What a person may say of each entry, by its key."""
    match kind:
        case "state":
            return {
                one.key: " ".join(filter(None, (one.state.value, one.name, one.channel)))
                for one in sheet.states
            }
        case "work":
            return {
                one.key: " ".join(filter(None, (one.entry, one.step, one.reference, one.fault, one.action)))
                for one in sheet.work
            }
        case "test left out":
            return {one.key: one.test for one in sheet.left_out}
        case "photograph":
            return {one.key: " ".join(filter(None, (one.file, one.words))) for one in sheet.photographs}
        case _:
            return {one.part: f"{one.part} {one.reference}" for one in sheet.parts}


def _one_of(entries: Mapping[str, str], kind: str, which: str) -> str:
    if which in entries:
        return which
    wanted = which.casefold().split()
    exact = [key for key, said in entries.items() if wanted and said.casefold().split() == wanted]
    meant = exact or [
        key for key, said in entries.items() if wanted and all(word in said.casefold() for word in wanted)
    ]
    if len(meant) == 1:
        return meant[0]
    if not entries:
        raise NothingMeant(f"no entry of the kind {kind!r} stands on the sheet")
    shown = [_short(entries[key]) for key in meant or entries]
    listed = "; ".join(shown[:_TOLD]) + (" …" if len(shown) > _TOLD else "")
    if meant:
        raise NothingMeant(f"{which!r} could be any of {len(meant)}: {listed}")
    raise NothingMeant(f"no {kind} is called {which!r}; there are: {listed}")


def _short(said: str) -> str:
    return said if len(said) <= 60 else f"{said[:59]}…"
