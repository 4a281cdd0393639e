"""A route: procedures strung into one job. Each part can be passed over, and each can be carried out alone.

The file is TOML: a few lines about the route, then one `[[part]]` after the other, each naming a procedure.
Here: how a route becomes one procedure, with the steps of a part called `part--step`. Not here: the steps.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterable, Mapping
from typing import Any, Literal

from pydantic import Field

from procedures.checking import FileProblems, Place, Problem, checked, nearest, sentences
from procedures.entries import Entry
from procedures.procedure import Procedure
from procedures.steps.choose import AmplifierSays
from procedures.steps.step import StepId, Words

PART = "--"
CARRY_OUT, PASS_OVER = "carry out", "pass over"
_OWN_ENDING = "summary"  # one last word for the whole job


class Part(Entry):
    """One procedure of the route; `usual = false` where it is passed over unless somebody asks for it.

    With `searches` it looks for what is wrong: what it finds is told at the end and does not fail the job.
    `usual_where` and `unusual_where` are what an amplifier's file must say for the other to hold. A procedure
    that comes twice needs an `id` of its own the second time.
    """

    procedure: StepId
    id: StepId | None = None
    usual: bool = True
    usual_where: AmplifierSays | None = None
    unusual_where: AmplifierSays | None = None
    searches: bool = False

    @property
    def name(self) -> str:
        """What its steps are called after."""
        return self.id or self.procedure


class Route(Entry):
    """A checked route, before its parts are put together."""

    format: Literal[1]
    id: StepId
    title: Words
    purpose: Words
    part: tuple[Part, ...] = Field(min_length=1, max_length=40)


def is_route(text: str) -> bool:
    """Whether a file means to be a route; what is broken is none."""
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError):  # TOMLDecodeError is one; so is a number of thousands of digits
        return False
    return "part" in data and "step" not in data


def load_route(text: str, file: str, known: Mapping[str, Procedure]) -> Procedure:
    """Read and check a route, and put it together.

    Args:
        text: The whole file.
        file: Its name, for the sentences.
        known: The procedures that it may string together, by id.

    Raises:
        FileProblems: with everything that is wrong with it.
    """

    def sense(data: Mapping[str, Any]) -> Iterable[tuple[Place, str]]:
        named: list[str] = []
        parts = data.get("part")
        for number, part in enumerate(parts if isinstance(parts, list) else ()):
            name = part.get("procedure") if isinstance(part, Mapping) else None
            if not isinstance(name, str):
                continue
            place: Place = ("part", number, "procedure")
            if name not in known:
                yield place, f'no procedure is called "{name}"; {nearest(name, known)}'
            own = part.get("id", name)
            if own in named:
                yield (
                    place,
                    f'"{own}" stands in this route already; give it an id of its own.',
                )
            named.append(own)

    route = checked(text, file, Route, sense)
    try:
        return composed(route, known)
    except ValueError as refusal:
        raise FileProblems(
            file, [Problem("", f"its parts do not go together: {sentences(refusal)}")]
        ) from None


def composed(route: Route, known: Mapping[str, Procedure]) -> Procedure:
    """The route as one procedure: before each part the question whether it is carried out.

    Raises:
        ValueError: when what comes of it is no procedure (too many steps).
    """
    steps: list[dict[str, Any]] = []
    channels: dict[str, None] = {}
    names = [part.name for part in route.part]
    for number, part in enumerate(route.part):
        procedure = known[part.procedure]
        channels.update(dict.fromkeys(procedure.channels))
        following = names[number + 1] if number + 1 < len(names) else _OWN_ENDING
        steps += _question(procedure, part, following)
        dumped = [line.model_dump(mode="json", exclude_defaults=True) for line in _kept(procedure)]
        steps += [_renamed(line, part.name) for line in dumped]
    search = [part.name for part in route.part if part.searches]
    ending = {"id": _OWN_ENDING, "kind": "summary", "title": "The whole job", "only_judged": True}
    steps.append({**ending, "found_by": search})
    return Procedure.model_validate_json(
        json.dumps(
            {
                "format": 1,
                "id": route.id,
                "title": route.title,
                "purpose": route.purpose,
                "channels": list(channels),
                "step": steps,
            }
        )
    )


def _question(procedure: Procedure, part: Part, following: str) -> list[dict[str, Any]]:
    """Whether a part is carried out, and the way past it; the question of a part has its name."""
    offered = [
        (CARRY_OUT, f"{procedure.title}: carry it out", part.usual, part.usual_where),
        (PASS_OVER, "Pass it over", not part.usual, part.unusual_where),
    ]
    return [
        {
            "id": part.name,
            "kind": "choose",
            "title": procedure.title,
            "text": f"Say whether this comes now: {procedure.purpose}",
            "choices": [
                {"key": key, "text": text, "default": default}
                | ({"amplifier_says": where.model_dump(exclude_unset=True)} if where else {})
                for key, text, default, where in offered
            ],
        },
        {
            "id": f"{part.name}{PART}passed-over",
            "kind": "jump",
            "title": f"{procedure.title}: passed over",
            "to": following,
            "if_all": [{"step": part.name, "ended": [PASS_OVER]}],
        },
    ]


def _kept(procedure: Procedure) -> list[Any]:
    """The steps of a part; its own last word is said once, for the whole job."""
    return [line for line in procedure.step if line.kind != "summary"]


def _renamed(line: dict[str, Any], part: str) -> dict[str, Any]:
    """A step with its own id and those it refers to put behind the name of its part."""
    for key in ("id", "back_to", "to"):
        if key in line:
            line[key] = f"{part}{PART}{line[key]}"
    for key in ("if_all", "if_any", "until", "limit"):
        for needed in line.get(key, ()):
            if isinstance(needed, dict) and needed.get("step") is not None:
                needed["step"] = f"{part}{PART}{needed['step']}"
    return line
