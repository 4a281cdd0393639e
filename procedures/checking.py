"""Data files that people write: read completely, and told everything that is wrong with them at once.

Text in; a checked value or `FileProblems` out. Reading the file from disk is done elsewhere. Nothing in a
file is ever evaluated as code.
"""

from __future__ import annotations

import difflib
import json
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

Model = TypeVar("Model", bound=BaseModel)
Place = tuple[str | int, ...]
LONGEST_TEXT = 200_000  # characters; no data file that a person writes comes near it
MOST_PROBLEMS = 50
DEEPEST = 20  # tables and lists in each other


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong: where, and a sentence with what would be right.

    `at` is the place as keys and numbers, for whoever shows the entry itself; empty for the whole file.
    """

    place: str
    sentence: str
    at: Place = ()

    def __str__(self) -> str:
        """Place and sentence in one line."""
        return f"{self.place}: {self.sentence}" if self.place else self.sentence


class FileProblems(Exception):
    """A data file cannot be used; all that is wrong with it."""

    def __init__(self, file: str, problems: Sequence[Problem]) -> None:
        super().__init__("\n".join(f"{file}: {problem}" for problem in problems))
        self.file = file
        self.problems = tuple(problems)


def checked(
    text: str,
    file: str,
    model: type[Model],
    sense: Callable[[Mapping[str, Any]], Iterable[tuple[Place, str]]] | None = None,
) -> Model:
    """Read TOML into a model.

    Args:
        text: The whole file.
        file: Its name, for the sentences.
        model: What it must be.
        sense: A further look at the raw data (which may be malformed in any way) for what a model alone
            cannot see, such as references between entries; yields places and sentences.

    Raises:
        FileProblems: with everything that is wrong.
    """
    return checked_entries(entries_of(text, file), file, model, sense)


def checked_entries(
    data: Mapping[str, Any],
    file: str,
    model: type[Model],
    sense: Callable[[Mapping[str, Any]], Iterable[tuple[Place, str]]] | None = None,
) -> Model:
    """The same for entries that are read already, or were typed in a form. Raises FileProblems."""
    found: list[Problem] = []
    value: Model | None = None
    try:
        # By way of JSON: there a list is a tuple and a word is an enumeration, while numbers stay strict.
        value = model.model_validate_json(json.dumps(data, default=str), strict=True)
    except ValidationError as error:
        details = error.errors(include_url=False)
        found.extend(_problem(detail, data, model) for detail in details if not _echo(detail, data))
    if sense is not None:
        found.extend(Problem(_place(place, data), _ended(said), place) for place, said in sense(data))
    if found or value is None:
        raise FileProblems(file, tuple(dict.fromkeys(found))[:MOST_PROBLEMS])
    return value


def sentences(refusal: ValueError) -> str:
    """What is wrong with entries that were made in a form instead of a file, in the same sentences."""
    if not isinstance(refusal, ValidationError):
        return str(refusal)
    problems = [_problem(detail, {}, BaseModel) for detail in refusal.errors(include_url=False)]
    return " ".join(dict.fromkeys(_capital(str(problem)) for problem in problems))


def _capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]


def entries_of(text: str, file: str) -> dict[str, Any]:
    """The entries of a TOML text as they stand there, not looked at any further. Raises FileProblems."""
    if len(text) > LONGEST_TEXT:
        raise FileProblems(
            file, [Problem("", f"it is longer than {LONGEST_TEXT} characters; is it the right file?")]
        )
    if not text.strip("\ufeff \t\r\n"):
        raise FileProblems(file, [Problem("", "there is nothing in it; is it the right file?")])
    try:
        data = tomllib.loads(text.removeprefix("\ufeff"))
    except tomllib.TOMLDecodeError as error:
        said = str(error)
        where = re.search(r"\(at (.+)\)$", said)
        what = said[: where.start()].strip() if where else said
        plain = next((plain for start, plain in _TOML_WORDS if what.startswith(start)), what)
        at = where[1] if where else ""
        raise FileProblems(file, [Problem(at, f"it is not valid TOML: {plain}.")]) from None
    except RecursionError:
        raise FileProblems(file, [_TOO_DEEP]) from None
    except ValueError:  # Python reads no whole number of more than 4300 digits
        raise FileProblems(file, [_TOO_LONG_NUMBER]) from None
    if _is_deep(data):
        raise FileProblems(file, [_TOO_DEEP])
    return data


def _is_deep(data: object) -> bool:
    """Whether tables and lists are nested beyond anything that a data file needs."""
    layer = [data]
    for _ in range(DEEPEST):
        layer = [
            inner
            for one in layer
            if isinstance(one, dict | list)
            for inner in (one.values() if isinstance(one, dict) else one)
        ]
        if not layer:
            return False
    return True


_TOO_DEEP = Problem("", "it is nested too deeply to be read.")
_TOO_LONG_NUMBER = Problem("", "a number in it has more digits than can be read; is it the right file?")
# What Python's TOML reader says begins so; a person is told what stands there.
_TOML_WORDS = (
    ("Cannot overwrite", "the same name stands there twice"),
    ("Cannot declare", "the same table stands there twice"),
    ("Cannot redefine", "the same table stands there twice"),
    ("Cannot mutate", "something is added to a table that was closed before"),
    ("Duplicate inline", "the same name stands twice between braces"),
    ("Unterminated string", "a quotation mark is missing at the end of a text"),
    ("Expected '=' after", "a name must be followed by an equals sign and a value"),
    ("Expected ']", "a square bracket is missing after the name of a table"),
    ("Expected newline", "a line must end after its value"),
    ("Expected", "another character is needed here"),
    ("Found invalid", "a character stands here that has no place here"),
    ("Illegal character", "a character stands here that has no place here"),
    ("Invalid date", "this is no date and no time"),
    ("Invalid hex", "this is no number in base 16"),
    ("Invalid initial", "a name must begin with a letter, a digit or a quotation mark"),
    ("Invalid statement", "a line must be a name, an equals sign and a value"),
    ("Invalid value", "this is no value; put text in double quotes"),
    ("Unclosed array", "a square bracket is missing at the end of a list"),
    ("Unclosed inline", "a brace is missing at the end of a table"),
    ("Unescaped", "a backslash in a text must be written twice"),
    ("Escaped character", "there is no character of this number"),
)


def nearest(word: str, known: Iterable[str]) -> str:
    """A question about the nearest known word, or what is known at all; empty when nothing is."""
    words = list(known)
    lowered = {other.lower(): other for other in words}
    close = difflib.get_close_matches(word.lower(), list(lowered), n=1, cutoff=0.6)
    close = close or [other for other in lowered if len(word) > 2 and word.lower() in other.split()][:1]
    if close:
        return f'did you mean "{lowered[close[0]]}"?'
    return "it may be " + ", ".join(f'"{other}"' for other in words[:20]) if words else ""


# --- places -----------------------------------------------------------------------------------------------


def _place(place: Place, data: Mapping[str, Any]) -> str:
    """A place as a person finds it: `step 3 "trim left", limits.high_millivolts`."""
    parts: list[str] = []
    here: Any = data
    for key in place:
        if isinstance(key, int):
            here = here[key] if isinstance(here, list) and key < len(here) else None
            name = _name_of(here)
            parts[-1:] = [f"{parts[-1] if parts else ''} {key + 1}{name}".strip()]
            parts.append("")
        else:
            here = here.get(key) if isinstance(here, Mapping) else None
            parts[-1:] = [f"{parts[-1]}.{key}" if parts and parts[-1] else key] if parts else [key]
    return ", ".join(part for part in parts if part)


def _name_of(entry: object) -> str:
    if not isinstance(entry, Mapping):
        return ""
    for key in ("id", "name", "title"):
        if isinstance(entry.get(key), str):
            return f' "{entry[key][:60]}"'
    return ""


# --- sentences --------------------------------------------------------------------------------------------


def _problem(detail: ErrorDetails, data: Mapping[str, Any], model: type[BaseModel]) -> Problem:
    place = tuple(key for key in detail["loc"] if _is_in_file(key, detail["loc"], data))
    return Problem(_place(place, data), _ended(_sentence(detail, place, data, model)), place)


def _ended(sentence: str) -> str:
    """With a full stop, where it has none yet."""
    bare = sentence.rstrip("; ")
    return bare if bare.endswith((".", "?")) else f"{bare}."


def _echo(detail: ErrorDetails, data: Mapping[str, Any]) -> bool:
    """Whether it only repeats, for a list, that its entries are wrong."""
    here: Any = data
    for key in detail["loc"]:
        here = _entry(here, key)
    least = detail.get("ctx", {}).get("min_length", 0)
    return detail["type"] == "too_short" and isinstance(here, list) and len(here) >= least


def _entry(here: Any, part: str | int) -> Any:
    """What a table or list has under a key; itself where it has nothing (the key is not the file's)."""
    if isinstance(here, list) and isinstance(part, int):
        return here[part] if part < len(here) else here
    return here.get(part, here) if isinstance(here, Mapping) else here


def _is_in_file(key: str | int, loc: Place, data: Mapping[str, Any]) -> bool:
    """Whether a part of a location is a key of the file; a union's tag is put in by the checker."""
    at = loc.index(key)
    here: Any = data
    for part in loc[:at]:
        here = _entry(here, part)
    return not (
        isinstance(here, Mapping) and isinstance(key, str) and key == here.get("kind") and key not in here
    )


def _sentence(detail: ErrorDetails, place: Place, data: Mapping[str, Any], model: type[BaseModel]) -> str:
    kind = detail["type"]
    context = detail.get("ctx", {})
    value = detail.get("input")
    if kind == "extra_forbidden":
        return f"this is not known here; {nearest(str(place[-1]), _known_keys(detail['loc'], model))}"
    if kind in ("enum", "literal_error"):
        expected = str(context["expected"])
        only = f"write format = {expected}, the only one there is"
        meant = only if place and place[-1] == "format" else nearest(str(value), _quoted(expected))
        return f"{_shown(value)} is not known; {meant}"
    if kind == "union_tag_invalid":
        known = _quoted(context["expected_tags"])
        return f"{_shown(context['tag'])} is no kind of step; {nearest(str(context['tag']), known)}"
    if kind == "value_error":
        return str(context["error"])
    for types, said in _SIMPLE:
        if kind in types:
            return said.format(shown=_shown(value), **context)
    return f"{_shown(value)} cannot be used here: {detail['msg'][:1].lower()}{detail['msg'][1:]}."


_SIMPLE: tuple[tuple[tuple[str, ...], str], ...] = (
    (("missing",), "this is missing."),
    (("union_tag_not_found",), 'this step has no kind; say what is to be done, such as kind = "confirm".'),
    (
        ("float_type", "float_parsing", "int_type", "int_parsing", "int_from_float"),
        "{shown} is not a number of the right kind; write it without quotes and without its unit.",
    ),
    (("finite_number",), "{shown} is not a number that can be used; write a finite one."),
    (("string_type",), "{shown} is not text; put it in double quotes."),
    (("bool_type", "bool_parsing"), "{shown} is neither true nor false."),
    (("tuple_type", "list_type"), "{shown} is not a list; put it in square brackets."),
    (
        ("model_type", "model_attributes_type", "dict_type", "dataclass_type"),
        "{shown} is not a table of named entries.",
    ),
    (("greater_than",), "{shown} is too small; it must be above {gt:g}."),
    (("greater_than_equal",), "{shown} is too small; it must be at least {ge:g}."),
    (("less_than",), "{shown} is too large; it must be below {lt:g}."),
    (("less_than_equal",), "{shown} is too large; it may be at most {le:g}."),
    (("string_too_short",), "this is empty; it needs at least {min_length} character(s)."),
    (("string_too_long",), "this is too long; at most {max_length} characters fit."),
    (
        ("string_pattern_mismatch",),
        '{shown} cannot be used; write small letters, digits and hyphens, such as "trim-left".',
    ),
    (("too_short",), "at least {min_length} is needed here."),
    (("too_long",), "at most {max_length} are possible here."),
)


def _shown(value: object) -> str:
    if isinstance(value, str):
        return f'"{value[:40]}{"…" if len(value) > 40 else ""}"'
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)[:40]


def _quoted(expected: str) -> list[str]:
    return re.findall(r"'([^']+)'", expected) or [expected]


def _known_keys(loc: Place, model: type[BaseModel]) -> list[str]:
    """The keys that the table at a location may have, found by walking the model's schema."""
    schema: Any = model.model_json_schema()
    definitions = schema.get("$defs", {})
    here: Any = schema
    for key in loc[:-1]:
        here = _inner(here, key, definitions)
    return sorted(_resolved(here, definitions).get("properties", {}))


def _resolved(schema: Any, definitions: Mapping[str, Any]) -> Any:
    while isinstance(schema, Mapping) and "$ref" in schema:
        schema = definitions[schema["$ref"].rsplit("/", 1)[-1]]
    for option in schema.get("anyOf", ()) if isinstance(schema, Mapping) else ():
        found = _resolved(option, definitions)
        if "properties" in found or "items" in found:
            return found
    return schema if isinstance(schema, Mapping) else {}


def _inner(schema: Any, key: str | int, definitions: Mapping[str, Any]) -> Any:
    here = _resolved(schema, definitions)
    if isinstance(key, int):
        return here.get("items", {})
    mapping = here.get("discriminator", {}).get("mapping", {})
    if key in mapping:
        return {"$ref": mapping[key]}
    return here.get("properties", {}).get(key, {})
