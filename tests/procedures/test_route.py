"""A route: procedures strung into one job, with every part to be passed over."""

from __future__ import annotations

import pytest

from procedures.checking import FileProblems
from procedures.library import shipped_procedures
from procedures.procedure import Procedure
from procedures.route import is_route, load_route

HEAD = 'format = 1\nid = "mine"\ntitle = "Mine"\npurpose = "To be tested."\n'


TWICE = {"dc-offset-after-bias": "dc-offset"}  # a part that comes a second time, and its procedure


def _known() -> dict[str, Procedure]:
    return {name: one for name, one in shipped_procedures().items() if name != "service-route"}


def _problems(text: str) -> list[str]:
    with pytest.raises(FileProblems) as refused:
        load_route(text, "mine.toml", _known())
    return [str(problem) for problem in refused.value.problems]


def test_every_step_of_every_part_is_in_the_job_under_the_name_of_its_part() -> None:
    """But for the parts' own last words: the job has one."""
    whole, parts = shipped_procedures()["service-route"], _known()
    ids = [line.id for line in whole.step]

    assert len(set(ids)) == len(ids)
    for name in ids:
        part, _, step = name.partition("--")
        if step and step != "passed-over":
            assert parts[TWICE.get(part, part)].step_named(step) is not None
    assert [line.id for line in whole.step if line.kind == "summary"] == ["summary"]


def test_what_a_step_refers_to_is_in_its_own_part() -> None:
    """Conditions, jumps and repeats stay within the part that they were written for."""
    for line in shipped_procedures()["service-route"].step:
        part = line.id.partition("--")[0]
        if line.id.endswith("--passed-over"):
            continue
        for needed in (*line.if_all, *line.if_any):
            assert needed.step is None or needed.step.startswith(f"{part}--")
        for target in (getattr(line, "to", None), getattr(line, "back_to", None)):
            assert target is None or target.startswith(f"{part}--")


def test_every_procedure_that_ships_is_a_part_of_the_job() -> None:
    """But for watching, the warm-up that others contain, and the check of a bench without a recorder."""
    parts = {line.id.partition("--")[0] for line in shipped_procedures()["service-route"].step}
    parts -= {"summary", *TWICE}

    assert set(_known()) - parts == {"watch", "warm-up", "voltmeter-check"}


@pytest.mark.parametrize(
    ("parts", "sentence"),
    [
        (
            '[[part]]\nprocedure = "soack"',
            'part 1, procedure: no procedure is called "soack"; did you mean "soak"?',
        ),
        (
            '[[part]]\nprocedure = "soak"\n[[part]]\nprocedure = "soak"',
            'part 2, procedure: "soak" stands in this route already; give it an id of its own.',
        ),
        ("[[part]]\nusual = true", "part 1, procedure: this is missing."),
        ("part = []", "part: at least 1 is needed here."),
        (
            '[[part]]\nprocedure = "soak"\nusally = true',
            'part 1, usally: this is not known here; did you mean "usual"?',
        ),
    ],
)
def test_what_is_wrong_with_a_route_is_said(parts: str, sentence: str) -> None:
    """With the place, and what would be right."""
    assert sentence in _problems(HEAD + parts)


def test_a_file_tells_what_it_is() -> None:
    """Parts make a route, steps a procedure, and what is broken is neither."""
    assert is_route(HEAD + '[[part]]\nprocedure = "soak"')
    assert not is_route(HEAD + '[[step]]\nid = "a"')
    assert not is_route("[[part")


def test_a_procedure_can_come_twice_under_another_name() -> None:
    """Its steps keep to the part that they belong to."""
    again = '[[part]]\nprocedure = "soak"\n[[part]]\nid = "soak-again"\nprocedure = "soak"'
    ids = [line.id for line in load_route(HEAD + again, "mine.toml", _known()).step]

    assert [name.replace("soak-again", "soak") for name in ids if name.startswith("soak-again")] == [
        name for name in ids if name.startswith("soak") and not name.startswith("soak-again")
    ]
