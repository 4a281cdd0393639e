"""A procedure file: what is to be done, step by step. Loaded and checked completely before a run.

The file is TOML: a few lines about the procedure, then one `[[step]]` after the other. A step is carried out
when its `if_all` and `if_any` hold, else it is passed over. A step of kind `repeat` goes back, a bounded
number of times. There are no expressions: conditions name a step and its outcome words, or a channel and
what its newest measurement found.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from procedures.checking import Place, checked, nearest
from procedures.steps import KINDS, Step
from procedures.steps.findings import FINDINGS
from procedures.steps.step import ChannelName, StepFields, StepId, Words

BIAS_KINDS = frozenset({"trim", "turn-down", "warm-up", "nudge", "round"})


class Procedure(BaseModel):
    """A checked procedure. `id` is its short name, `purpose` one sentence on what it is for."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)

    format: Literal[1]
    id: StepId
    title: Words
    purpose: Words
    channels: tuple[ChannelName, ...] = Field(default=(), max_length=64)
    step: tuple[Step, ...] = Field(min_length=1, max_length=600)

    def step_named(self, step: str) -> Step | None:
        """A step by its id, or None."""
        return next((line for line in self.step if line.id == step), None)

    @property
    def trimmed(self) -> tuple[ChannelName, ...]:
        """The channels that it trims, which makes no sense without a target."""
        return tuple(line.channel for line in self.step if line.kind == "trim")

    @property
    def sets_bias(self) -> bool:
        """Whether it is about an idle current that can be set or judged."""
        return any(line.kind in BIAS_KINDS for line in self.step)

    @property
    def needs_hands(self) -> bool:
        """Whether it sends hands to the unit, so that the cautions come first."""
        return any(line.HANDS for line in self.step)


def load_procedure(text: str, file: str = "procedure") -> Procedure:
    """Read and check a procedure.

    Raises:
        FileProblems: with everything that is wrong with it.
    """
    return checked(text, file, Procedure, _references)


def _references(data: Mapping[str, Any]) -> Iterable[tuple[Place, str]]:
    """What is wrong between the entries; the entries themselves may be malformed."""
    steps = data.get("step")
    lines = [line if isinstance(line, Mapping) else {} for line in steps] if isinstance(steps, list) else []
    ids = [line.get("id") for line in lines]
    channels = [name for name in _list(data.get("channels")) if isinstance(name, str)]
    for at, line in enumerate(lines):
        if isinstance(ids[at], str) and ids[at] in ids[:at]:
            yield (
                ("step", at, "id"),
                f'another step is called "{ids[at]}" already; every step needs its own id.',
            )
        for key in ("if_all", "if_any", "until"):
            for number, needed in enumerate(_list(line.get(key))):
                if isinstance(needed, Mapping):
                    yield from _requirement(needed, ("step", at, key, number), lines[:at], channels)
        back = line.get("back_to")
        if isinstance(back, str) and back not in ids[:at]:
            yield (
                ("step", at, "back_to"),
                f'no earlier step is called "{back}"; {nearest(back, _texts(ids[:at]))}',
            )
        onwards = line.get("to") if line.get("kind") == "jump" else None
        if isinstance(onwards, str) and onwards not in ids[at + 1 :]:
            later = _texts(ids[at + 1 :])
            yield ("step", at, "to"), f'no later step is called "{onwards}"; {nearest(onwards, later)}'
        for number, limit in enumerate(_list(line.get("limit"))):
            if isinstance(limit, Mapping) and limit.get("step") is not None:
                yield from _requirement(limit, ("step", at, "limit", number), lines[:at], channels)
        named = [(("channel",), line.get("channel")), *_numbered("channels", line.get("channels"))]
        for place, name in named:
            if isinstance(name, str) and name not in channels:
                wrong = f'"{name}" is not among the channels of this procedure'
                yield ("step", at, *place), f"{wrong}; {nearest(name, channels)}"


def _numbered(key: str, values: object) -> Iterable[tuple[Place, Any]]:
    return [((key, number), value) for number, value in enumerate(_list(values))]


def _requirement(
    needed: Mapping[str, Any], place: Place, earlier: list[Mapping[str, Any]], channels: list[str]
) -> Iterable[tuple[Place, str]]:
    step, channel = needed.get("step"), needed.get("channel")
    if (step is None) == (channel is None):
        yield place, "say either step with ended, or channel with found."
        return
    if isinstance(step, str):
        line = next((line for line in earlier if line.get("id") == step), None)
        if line is None:
            ids = _texts(line.get("id") for line in earlier)
            yield (*place, "step"), f'no earlier step is called "{step}"; {nearest(step, ids)}'
        else:
            yield from _words(needed, "ended", place, _outcomes(line))
    if isinstance(channel, str):
        if channel not in channels:
            yield (*place, "channel"), f'"{channel}" is not among the channels; {nearest(channel, channels)}'
        yield from _words(needed, "found", place, FINDINGS)


def _words(
    needed: Mapping[str, Any], key: str, place: Place, known: tuple[str, ...] | None
) -> Iterable[tuple[Place, str]]:
    words = _texts(_list(needed.get(key)))
    if not words:
        yield (*place, key), f"say which words count{': ' + _named(known) if known else ''}."
    for word in words:
        if known is not None and word not in known:
            yield (*place, key), f'"{word}" cannot come of it; {nearest(word, known)}'


def _outcomes(line: Mapping[str, Any]) -> tuple[str, ...] | None:
    kind = line.get("kind")
    model = KINDS.get(kind) if isinstance(kind, str) else None
    if model is None:
        return None
    choices = [c.get("key") for c in _list(line.get("choices")) if isinstance(c, Mapping)]
    own = tuple(_texts(choices)) if "choices" in model.model_fields else ()
    return own or model.OUTCOMES


def _named(words: tuple[str, ...]) -> str:
    return ", ".join(f'"{word}"' for word in words)


def _list(value: object) -> list[Any]:
    return value if isinstance(value, list) else []


def _texts(values: Iterable[object]) -> list[str]:
    return [value for value in values if isinstance(value, str)]


__all__ = ["Procedure", "StepFields", "load_procedure"]
