"""Whatever stands in a file, the form opens it, shows every problem somewhere, and loses nothing."""

from __future__ import annotations

import tomllib
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pytestqt.qtbot import QtBot

from app.amplifier_shelf import amplifier_entries
from app.windows.amplifier_draft import Draft, places_of, told
from app.windows.amplifier_fields import FormField, Shape, sections
from app.windows.amplifier_form import AmplifierForm
from app.windows.amplifier_ports import AmplifierSource
from procedures.amplifier import Amplifier
from procedures.checking import checked_entries
from procedures.library import shipped_amplifiers

CORPUS = tomllib.loads((Path(__file__).parents[1] / "broken_files.toml").read_text(encoding="utf-8"))[
    "broken"
]
ODD = st.one_of(
    st.none(), st.booleans(), st.integers(-5, 5), st.floats(), st.text(max_size=8), st.just([]), st.just({}),
    st.just([1, "x"]), st.just([[]]), st.just([{"row": 3}]), st.just({"row": [1]}),
)  # fmt: skip


def _entries() -> list[tuple[str, dict[str, Any]]]:
    found = []
    for one in CORPUS:
        try:
            found.append((one["what"], tomllib.loads(one["text"])))
        except ValueError:
            continue
    return found


def _walked(entries: dict[str, Any]) -> None:
    """Every problem is said in a section that there is; every field shows something."""
    draft = Draft(AmplifierSource(entries))
    found = draft.findings()
    parts = sections(draft.channels)
    said = told(found.problems, parts, draft)
    assert len(said) == len(found.problems)
    assert all(0 <= one.section < len(parts) for one in said)
    for part in parts:
        for place in places_of(part, draft):
            draft.text(place, FormField(str(place[-1]), "", Shape.WORDS))
    assert draft.raw(()) == entries
    assert not draft.changed


@pytest.mark.parametrize(("what", "entries"), _entries(), ids=[what for what, _ in _entries()])
def test_every_broken_file_can_be_opened(what: str, entries: dict[str, Any]) -> None:
    _walked(entries)


def test_the_form_shows_a_broken_file_on_every_page(qtbot: QtBot) -> None:
    """Tables where text should be, text where tables should be."""
    entries: dict[str, Any] = {
        "format": 2, "maker": ["a"], "pairs": "two", "bridged": "yes", "ratings": {"power": "much"},
        "preset": [3, {"interacts_with": "VR2"}], "rail_state": {}, "sources": 5, "notes": "one",
        "channel": [{"target_table": {"row": [{"millivolts": "x"}, 3]}, "condition": 7}, "right"],
    }  # fmt: skip
    form = AmplifierForm(AmplifierSource(entries))
    qtbot.addWidget(form)
    for row in range(form.list.count()):
        form.list.setCurrentRow(row)
    assert form.amplifier is None
    assert form.draft.raw(()) == entries


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_any_entry_may_be_anything(data: st.DataObject) -> None:
    known = amplifier_entries(shipped_amplifiers()["Tessen AB-500"])
    entries = deepcopy(known)
    here: Any = entries
    for _ in range(data.draw(st.integers(1, 3))):
        key = data.draw(st.sampled_from(sorted(here) if isinstance(here, dict) else range(len(here))))
        deeper = here[key]
        if not isinstance(deeper, dict | list) or not deeper or data.draw(st.booleans()):
            here[key] = data.draw(ODD)
            break
        here = deeper
    _walked(entries)


@pytest.mark.parametrize("key", list(shipped_amplifiers()))
def test_typing_what_is_shown_changes_nothing(key: str) -> None:
    """What a field shows is read back as what stands in the file."""
    known = shipped_amplifiers()[key]
    draft = Draft(AmplifierSource(amplifier_entries(known)))
    for part in sections(draft.channels):
        rows = [(part.place, field) for field in part.fields if isinstance(field, FormField)]
        for listed in part.lists:
            place = (*part.place, *listed.place)
            rows += [((*place, n), field) for n in range(draft.count(place)) for field in listed.fields]
        for place, field in rows:
            at = (*place, *field.place)
            if field.shape is Shape.FLAG:
                draft.put_flag(at, field, draft.flag(at, field))
            else:
                draft.put(at, field, draft.text(at, field))
    assert draft.findings().amplifier == known
    assert checked_entries(draft.raw(()), "", Amplifier) == known
