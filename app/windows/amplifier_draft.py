"""An amplifier's file while it is edited: entries as they were typed, and what the loader says of them.

No rule of its own: whether the entries can be used is asked of the same check as for a file. What no field
shows stays in it untouched.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from app.windows.amplifier_fields import FormField, OneOf, Place, Section, Shape
from app.windows.amplifier_ports import AmplifierSource
from app.windows.wording import number_from, tr
from procedures.amplifier import Amplifier
from procedures.checking import FileProblems, Problem, checked_entries


@dataclass(frozen=True, slots=True)
class Findings:
    """The amplifier, where the entries make one; else everything that is wrong with them."""

    amplifier: Amplifier | None
    problems: tuple[Problem, ...] = ()


class Draft:
    """Entries that are being edited."""

    def __init__(self, source: AmplifierSource) -> None:
        self.source = source
        self._entries: dict[str, Any] = deepcopy(dict(source.entries))
        self._kept = deepcopy(self._entries)
        self._unread: dict[Place, tuple[str, str]] = {}
        self.told = ""  # that it is a draft which was taken up, and of when

    # --- facts ------------------------------------------------------------------------------------------

    @property
    def changed(self) -> bool:
        """Whether anything differs from what is kept."""
        return self._entries != self._kept or bool(self._unread)

    def kept_as(self, source: AmplifierSource) -> None:
        """What is entered has been saved."""
        self.told = ""
        self.source = source
        self._kept = deepcopy(self._entries)

    def contents(self) -> dict[str, Any]:
        """What has to be kept to go on with it later."""
        unread = [[list(place), *one] for place, one in self._unread.items()]
        return {"entries": self._entries, "unread": unread}

    def take_up(self, contents: Mapping[str, Any], told: str) -> None:
        """Go on with what was kept; what is damaged in it is left out."""
        if isinstance(contents.get("entries"), dict):
            self._entries = deepcopy(contents["entries"])
            self.told = told
        rows = contents.get("unread", [])
        for row in rows if isinstance(rows, list) else []:
            if isinstance(row, list) and len(row) == 3 and isinstance(row[0], list):
                self._unread[tuple(row[0])] = (str(row[1]), str(row[2]))

    def give_up(self) -> None:
        """What was changed is not wanted."""
        self.told = ""
        self._entries = deepcopy(self._kept)
        self._unread = {}

    @property
    def channels(self) -> tuple[str, ...]:
        """The names of the channels, as far as they have any."""
        found = self.raw(("channel",))
        rows = found if isinstance(found, list) else []
        return tuple(str(row.get("name", "")) if isinstance(row, Mapping) else "" for row in rows)

    @property
    def name(self) -> str:
        """Maker and model, as far as they are entered."""
        return " ".join(str(self._entries[key]) for key in ("maker", "model") if self._entries.get(key))

    def raw(self, place: Place) -> Any:
        """What stands at a place; None where nothing does."""
        here: Any = self._entries
        for key in place:
            row = isinstance(here, list) and isinstance(key, int) and key < len(here)
            if not row and not (isinstance(here, Mapping) and key in here):
                return None
            here = here[key]
        return here

    def count(self, place: Place) -> int:
        """How many rows a list has."""
        found = self.raw(place)
        return len(found) if isinstance(found, list) else 0

    def text(self, place: Place, field: FormField) -> str:
        """An entry as it is shown in its field."""
        if place in self._unread:
            return self._unread[place][0]
        return _shown(self.raw(place), field.shape)

    def flag(self, place: Place, field: FormField) -> bool:
        """Whether a flag is set."""
        found = self.raw(place)
        return found if isinstance(found, bool) else field.usual

    def way(self, section: Section, one: OneOf) -> int:
        """In which way an entry is given: the first of which anything is entered."""
        for number, (_, keys) in enumerate(one.ways):
            if any(self.raw((*section.place, *key.split("."))) is not None for key in keys):
                return number
        return 0

    # --- changing ---------------------------------------------------------------------------------------

    def put(self, place: Place, field: FormField, text: str) -> None:
        """Take what was typed into a field; nothing typed leaves the entry out."""
        self._unread.pop(place, None)
        if not text.strip():
            self._drop(place)
            return
        try:
            value = _read(text, field)
        except ValueError as refusal:
            self._unread[place] = (text, str(refusal))
            value = text.strip()
        self._set(place, value)

    def put_flag(self, place: Place, field: FormField, on: bool) -> None:
        """Set a flag; as it is while nothing is said, it is left out."""
        if on is field.usual:
            self._drop(place)
        else:
            self._set(place, on)

    def leave_out(self, place: Place) -> None:
        """Take an entry out, whatever it is."""
        self._forget(place)
        self._drop(place)

    def take_from(self, other: Place, place: Place, but: str) -> None:
        """Put into a table what another has, but for one of its entries."""
        theirs, own = self.raw(other), self.raw(place)
        if isinstance(theirs, dict) and isinstance(own, dict):
            self._forget(place)
            kept = {but: own[but]} if but in own else {}
            own.clear()
            own.update(kept | {key: deepcopy(value) for key, value in theirs.items() if key != but})

    def _forget(self, place: Place) -> None:
        """What could not be read there does not count any more."""
        self._unread = {at: one for at, one in self._unread.items() if at[: len(place)] != place}

    def add(self, place: Place, row: Mapping[str, Any]) -> int:
        """Put a row behind the others of a list; its number."""
        rows = self.raw(place)
        if not isinstance(rows, list):
            rows = []
            self._set(place, rows)
        rows.append(dict(row))
        return len(rows) - 1

    def remove(self, place: Place, number: int) -> None:
        """Take a row out of a list; those behind it move up."""
        rows = self.raw(place)
        if not isinstance(rows, list) or number >= len(rows):
            return
        del rows[number]
        depth = len(place)
        moved: dict[Place, tuple[str, str]] = {}
        for at, one in self._unread.items():
            row = at[depth] if len(at) > depth and at[:depth] == place else None
            if not isinstance(row, int) or row < number:
                moved[at] = one
            elif row > number:
                moved[(*place, row - 1, *at[depth + 1 :])] = one
        self._unread = moved
        if not rows:
            self._drop(place)

    def source_of(self, key: str) -> str:
        """Where a value comes from."""
        found = self.raw(("sources", key))
        return found if isinstance(found, str) else ""

    def put_source(self, key: str, text: str) -> None:
        """Say where a value comes from."""
        if text.strip():
            self._set(("sources", key), text.strip())
        else:
            self._drop(("sources", key))

    def _set(self, place: Place, value: Any) -> None:
        here: Any = self._entries
        for key in place[:-1]:
            if isinstance(here, list) and isinstance(key, int):
                if not isinstance(here[key], dict):
                    here[key] = {}
                here = here[key]
            else:
                if not isinstance(here.get(key), dict | list):
                    here[key] = {}
                here = here[key]
        here[place[-1]] = value

    def _drop(self, place: Place) -> None:
        table = self.raw(place[:-1])
        if isinstance(table, dict):
            table.pop(place[-1], None)
            if not table and len(place) > 1 and isinstance(place[-2], str):
                self._drop(place[:-1])

    # --- checking ---------------------------------------------------------------------------------------

    def findings(self) -> Findings:
        """What the loader of the file says of the entries; what could not be read comes first."""
        own = tuple(Problem("", sentence, at) for at, (_, sentence) in self._unread.items())
        try:
            amplifier = checked_entries(self._entries, "", Amplifier)
        except FileProblems as refusal:
            there = tuple(problem for problem in refusal.problems if not _is_under(problem.at, self._unread))
            return Findings(None, (*own, *there))
        return Findings(None if own else amplifier, own)


def _is_under(at: Place, places: Iterable[Place]) -> bool:
    return any(at[: len(place)] == place for place in places)


def _shown(value: Any, shape: Shape) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return f"{value:.12g}"
    if isinstance(value, list) and shape is Shape.TABLE:
        return "\n".join(_row_shown(row) for row in value)
    if isinstance(value, list) and shape in (Shape.LINES, Shape.NAMES):
        return ("\n" if shape is Shape.LINES else ", ").join(str(one) for one in value)
    return str(value)


def _row_shown(row: Any) -> str:
    if not isinstance(row, Mapping):
        return str(row)
    return "  ".join(_shown(row.get(key), Shape.NUMBER) for key in ("degrees_c", "millivolts"))


def _read(text: str, field: FormField) -> Any:
    """What stands in the file for what was typed. Raises ValueError with a sentence."""
    typed = text.strip()
    if field.shape in (Shape.NUMBER, Shape.WHOLE):
        bare = re.sub(rf"\s*{re.escape(field.unit.removeprefix('± '))}$", "", typed) if field.unit else typed
        value = number_from(bare.replace("−", "-"), field.example)
        return int(value) if value.is_integer() else value  # as a person would write it in the file
    if field.shape is Shape.LINES:
        return [line.strip() for line in typed.splitlines() if line.strip()]
    if field.shape is Shape.NAMES:
        return [name.strip() for name in typed.split(",") if name.strip()]
    if field.shape is Shape.TABLE:
        return [_row_read(line, n) for n, line in enumerate(typed.splitlines(), start=1) if line.strip()]
    if field.choices and typed in ("true", "false"):
        return typed == "true"
    return typed


def _row_read(line: str, number: int) -> dict[str, float]:
    parts = re.sub(r"°C|mV", " ", line).replace(";", " ").split()
    if len(parts) != 2:
        raise ValueError(
            tr("row {number}, “{line}”: write degrees and millivolts, such as 25  4.4").format(
                number=number, line=line.strip()
            )
        )
    return {"degrees_c": number_from(parts[0], "25"), "millivolts": number_from(parts[1], "4.4")}


# --- whose problem it is ------------------------------------------------------------------------------------


def owner(problem: Problem, places: Iterable[Place]) -> Place | None:
    """At which of the places that a form shows a problem is to be said.

    Its own, or the table around it, else an entry that its sentence names, inside the table that it is about.
    """
    known = list(places)
    around = [place for place in known if place and problem.at[: len(place)] == place]
    if around:
        return max(around, key=len)
    named: list[tuple[int, Place]] = []
    for place in known:
        inside = place[: len(problem.at)] == problem.at
        found = re.search(rf"\b{re.escape(str(place[-1]))}\b", problem.sentence) if place and inside else None
        if found is not None and len(place) - len(problem.at) <= 2:
            named.append((found.start(), place))
    return min(named)[1] if named else None


def with_labels(sentence: str, labels: Mapping[str, str]) -> str:
    """A sentence of the loader with the keys of the file as the form calls them."""
    keys = "|".join(sorted(map(re.escape, labels), key=len, reverse=True))
    return re.sub(rf"(?<![\w\"“.])({keys})(?![\w\"”])", lambda found: f"“{labels[found[1]]}”", sentence)


# --- sections -----------------------------------------------------------------------------------------------


def places_of(section: Section, draft: Draft) -> list[Place]:
    """Every place that a section has a field for, with the rows that its lists have now."""
    found: list[Place] = [
        (*section.place, *field.place) for field in section.fields if isinstance(field, FormField)
    ]
    for rows in section.lists:
        here: Place = (*section.place, *rows.place)
        found.append(here)
        for number in range(draft.count(here)):
            found += [(*here, number, *field.place) for field in rows.fields]
    return found


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence at its place: at a field, or, where `place` is None, at the head of a section.

    `surplus` is an entry that no field shows and that may be left out.
    """

    section: int
    place: Place | None
    sentence: str
    surplus: Place | None = None


def told(problems: Iterable[Problem], sections: Sequence[Section], draft: Draft) -> tuple[Said, ...]:
    """Where each problem is to be said, in the order of the sections."""
    home = {place: n for n, section in enumerate(sections) for place in places_of(section, draft)}
    labels = _labels(sections)
    found: list[Said] = []
    for problem in problems:
        place = owner(problem, home)
        words = with_labels(problem.sentence, labels)
        words = words[:1].upper() + words[1:]
        if place is not None:
            rows = [key + 1 for key in problem.at[len(place) :] if isinstance(key, int)]
            words = tr("Row {number}: {words}").format(number=rows[0], words=words) if rows else words
            found.append(Said(home[place], place, words))
            continue
        surplus = problem.at if problem.at and draft.raw(problem.at) is not None else None
        if surplus is not None and isinstance(surplus[-1], str):
            words = f"“{surplus[-1]}”: {words}"
        found.append(Said(_section_of(problem, sections), None, words, surplus))
    return tuple(sorted(found, key=lambda one: one.section))


def _labels(sections: Sequence[Section]) -> dict[str, str]:
    """What the form calls the keys that no plain word could be taken for."""
    fields = [field for section in sections for field in section.fields]
    return {
        str(field.place[-1]): f"{field.label} ({field.unit})" if field.unit else field.label
        for field in fields
        if isinstance(field, FormField) and "_" in str(field.place[-1])
    }


def _section_of(problem: Problem, sections: Sequence[Section]) -> int:
    """The section of a problem without a field: by its place, else by how its sentence begins."""
    best, depth = 0, 0
    for number, section in enumerate(sections):
        own = len(section.place)
        listed = any(problem.at[: own + 1] == (*section.place, *rows.place) for rows in section.lists)
        if listed or (own > depth and problem.at[:own] == section.place):
            best, depth = number, own + listed
    if depth:
        return best
    for number, section in enumerate(sections):
        name = f'channel "{section.title}"' if section.place[:1] == ("channel",) else None
        words = [
            name,
            *(f"{rows.one} " for rows in section.lists),
            *(f"two {rows.one}" for rows in section.lists),
        ]
        if any(word and problem.sentence.startswith(word) for word in words):
            return number
    return 0
