"""Where English comes from: the sentences in the program's modules and in the files that ship with it.

For translators and tests. A sentence with holes is taken from an f-string or a text with braces; the names of
its holes are made from what stands in them (`app.language.template` says what the names mean).
"""

from __future__ import annotations

import ast
import importlib
import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

from app.language.template import skeleton

ROOT = Path(__file__).resolve().parents[2]
MOST_WAYS = 16
BOTH = 2
# What a window shows is composed here; what only the terminal or a printed page says is not translated.
MODULES = {
    "window": ("app/windows",),
    "bench": (
        "app/bench",
        "app/workshop.py",
        "app/known_lists.py",
        "app/amplifier_shelf.py",
        "app/data_files.py",
        "app/meter_search.py",
        "app/refusals.py",
        "app/settings.py",
        "app/session_lines.py",
        "app/reports/audio_pictures.py",
        "app/records/session_folder.py",
        "app/records/history.py",
        "app/records/archive.py",
        "app/records/archive_rows.py",
        "app/records/attachments.py",
        "app/records/bundle.py",
        "app/records/job_folder.py",
        "app/records/places.py",
        "app/apart.py",
        "app/begun_for_job.py",
        "app/choices.py",
        "app/papers.py",
        "app/reports/page.py",
    ),
    "steps": ("procedures/steps",),
    "analysis": ("procedures/analysis",),
    "procedures": ("procedures",),
    "meters": ("drivers",),
}
PASSED_OVER = (
    "app/windows/screenshots",
    "app/windows/theme.py",
    "app/windows/worded.py",
    # what only `check`, `verify`, `replay` and the like say, in the terminal
    "app/bench/sound/speech.py",
    "drivers/simulated",
    "drivers/scpi/dialect.py",
    "drivers/audio/dialect.py",
    "drivers/dialect_files.py",
    "drivers/clock.py",
    "procedures/records/codec.py",
    "procedures/report",
    "procedures/verification.py",
    "procedures/replay.py",
)
# Of what is passed over: what the check of files says in the window too.
_SHOWN_TOO = ("drivers/simulated/units/loading.py", "drivers/simulated/around.py")
FILES = {
    "library": (
        "procedures/library/*.toml",
        ("title", "purpose", "text", "caution", "source", "wrong", "key"),
    ),
    "names": (
        "procedures/library/*.toml",
        ("name", "values", "channels"),
    ),
    "units": ("drivers/simulated/units/*.toml", ("title", "brought_in")),
    "dialects": ("drivers/scpi/dialects/*.toml", ("title", "name")),
}
ENUMS = (
    ("procedures.events", ("Supply", "StepState", "Outcome")),
    ("procedures.amplifier", ("OutputStage", "ConditionKind", "TestPoint")),
    ("procedures.analysis.channel", ("Position",)),
    ("procedures.analysis.disturbance", ("Kind",)),
    ("procedures.derived_target", ("Origin",)),
    ("procedures.verification", ("Finding",)),
    ("procedures.observed", ("CheckResult",)),
    ("procedures.job", ("State", "Reproduced", "JobOutcome", "SheetField", "EntryKind")),
    ("drivers.reading", ("GapReason", "ReadingFlag")),
)
_MARKERS = ("tr", "translate", "QT_TRANSLATE_NOOP")
_NEVER_SHOWN = (
    "RuntimeError",
    "AssertionError",
    "TypeError",
    "KeyError",
    "Field",
    "compile",
    "Literal",
    "warn",
)
_FIGURES = frozenset(
    {"n", "len", "round", "count", "number", "minutes", "seconds", "millivolts", "ohms", "percent", "clock"}
    | {"plain", "figure", "digits", "amount", "duration", "rate"}
)
_OWN = frozenset(
    {"address", "identity", "serial", "maker", "model", "path", "file", "folder", "error", "raw", "line"}
    | {
        "reply",
        "host",
        "port",
        "key",
        "url",
        "digest",
        "device",
        "version",
        "unit_name",
        "pattern",
        "command",
    }
    | {"library", "dialect"}
)
_PASSED_ON = ("lower", "strip", "rstrip", "capitalize", "removeprefix", "removesuffix", "replace")
_PASSING = ("str", "signed", "worded", "repr", "join")
_WORD = re.compile(r"[^\W\d_]{2,}")
_NO_SENTENCE = re.compile(
    r"font-|background|[{};]\s*\w+:|\\[swdb]|\(\?|%[sdY]|^[A-Z*:?]{2,} [^a-z]*$|://|^\W*$|^--|px\b|::"
)


@dataclass(frozen=True, slots=True)
class Source:
    """A sentence, and where it stands. `marked`: said to be shown, by the word for that (`tr`)."""

    english: str
    place: str
    marked: bool = False


def composed(group: str) -> list[Source]:
    """The sentences of a group of modules, each once."""
    done = {path for other in _before(group) for path in _paths(other)}
    found = [one for path in _paths(group) if path not in done for one in _in_module(path)]
    return _once(found)


def written(group: str) -> list[Source]:
    """The sentences of a group of data files, each once."""
    pattern, keys = FILES[group]
    found = [
        Source(text.strip(), str(path.relative_to(ROOT)), True)
        for path in sorted(ROOT.glob(pattern))
        for key, text in _texts(tomllib.loads(path.read_text(encoding="utf-8")), "")
        if key in keys and _WORD.search(text)
    ]
    if group == "units":
        for path in sorted(ROOT.glob("drivers/simulated/**/*.toml")):
            around = tomllib.loads(path.read_text(encoding="utf-8")).get("around", {})
            place = str(path.relative_to(ROOT))
            found += [Source(text.strip(), place) for _, text in _texts(around, "") if " " in text]
    return _once(found)


def named() -> list[Source]:
    """The words of the enumerations that are shown."""
    found: list[Source] = []
    for module, names in ENUMS:
        for name in names:
            kinds: type[Enum] = getattr(importlib.import_module(module), name)
            found += [
                Source(str(one.value), f"{module}.{name}", True)
                for one in kinds
                if _WORD.search(str(one.value))
            ]
    return _once(found)


def by_hand() -> list[Source]:
    """What is made of parts that no sentence of the modules shows, listed by hand."""
    lines = (Path(__file__).parent / "also_shown.txt").read_text(encoding="utf-8").splitlines()
    return [Source(line, "app/language/also_shown.txt", True) for line in lines if line and line[0] != "#"]


def everything() -> dict[str, list[Source]]:
    """All groups; what stands in several is in the first of them."""
    groups = {"enums": named(), "words": by_hand()}
    groups |= {name: written(name) for name in FILES}
    groups |= {name: composed(name) for name in MODULES}
    seen: set[str] = set()
    for name, sources in groups.items():
        fresh = [one for one in sources if skeleton(one.english) not in seen]
        seen |= {skeleton(one.english) for one in fresh}
        groups[name] = fresh
    return groups


# --- modules ------------------------------------------------------------------------------------------


def _before(group: str) -> list[str]:
    names = list(MODULES)
    return names[: names.index(group)]


def _paths(group: str) -> list[Path]:
    paths = [
        path
        for name in MODULES[group]
        for path in ([ROOT / name] if name.endswith(".py") else sorted((ROOT / name).rglob("*.py")))
        if path.exists()
    ]
    places = {path: str(path.relative_to(ROOT)) for path in paths}
    return [
        path
        for path, place in places.items()
        if place.startswith(_SHOWN_TOO) or not place.startswith(PASSED_OVER)
    ]


def _in_module(path: Path) -> Iterator[Source]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    where = str(path.relative_to(ROOT))
    skipped, marked = _skipped(tree), _marked(tree)
    for node in sorted(ast.walk(tree), key=lambda one: getattr(one, "lineno", 0)):
        if id(node) in skipped:
            continue
        for text in _sentences(node):
            place = f"{where}:{getattr(node, 'lineno', 0)}"
            if id(node) in marked:
                if _WORD.search(skeleton(text)):
                    yield Source(text, place, True)
            elif _is_sentence(text):
                yield Source(text, place)


def _is_sentence(text: str) -> bool:
    bare = skeleton(text)
    return " " in bare.strip() and bool(_WORD.search(bare)) and not _NO_SENTENCE.search(bare)


def _skipped(tree: ast.Module) -> set[int]:
    """Docstrings, parts of f-strings, and what is said to programmers alone."""
    skipped: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            skipped.add(id(node.value))
        elif isinstance(node, ast.JoinedStr):
            skipped |= {id(part) for part in node.values if isinstance(part, ast.Constant)}
            for part in node.values:
                if isinstance(part, ast.FormattedValue) and part.format_spec is not None:
                    skipped |= {id(inner) for inner in ast.walk(part.format_spec)}
                if _alternatives(part) != [part]:
                    skipped |= {id(inner) for inner in ast.walk(part)}
        elif isinstance(node, ast.Assert) and node.msg is not None:
            skipped |= {id(inner) for inner in ast.walk(node.msg)}
        elif isinstance(node, ast.Call) and _name(node.func) in _NEVER_SHOWN:
            skipped |= {id(inner) for inner in ast.walk(node)}
    return skipped


def _marked(tree: ast.Module) -> set[int]:
    return {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and _name(node.func) in _MARKERS and node.args
        for inner in ast.walk(node.args[-1])
        if isinstance(inner, ast.Constant | ast.JoinedStr)
    }


def _sentences(node: ast.AST) -> list[str]:
    """The sentences that a node can become: one, or one for each way through what it decides inside."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [_with_plain_holes(node.value)]
    if not isinstance(node, ast.JoinedStr):
        return []
    ways: list[list[ast.expr | str]] = [[]]
    for part in node.values:
        fresh = _alternatives(part)
        ways = [[*way, one] for way in ways for one in fresh][:MOST_WAYS]
    return [_with_holes(way) for way in ways]


def _alternatives(part: ast.expr) -> Sequence[ast.expr | str]:
    """What a part can be: plain text where it chooses among texts, else itself."""
    if isinstance(part, ast.Constant):
        return [str(part.value)]
    if isinstance(part, ast.FormattedValue) and isinstance(part.value, ast.IfExp):
        texts = [one.value for one in (part.value.body, part.value.orelse) if isinstance(one, ast.Constant)]
        if len(texts) == BOTH:
            return [str(text) for text in texts]
    return [part]


def _with_holes(way: Sequence[ast.expr | str]) -> str:
    names: list[str] = []
    parts: list[str] = []
    for part in way:
        if isinstance(part, str):
            parts.append(part)
        elif isinstance(part, ast.FormattedValue):
            spec = "".join(
                str(p.value) for p in getattr(part.format_spec, "values", []) if isinstance(p, ast.Constant)
            )
            hole = _hole(part.value, spec)
            if part.conversion == ord("r") and kind_is_words(hole):
                hole = f"own_{hole}"
            parts.append("{" + _fresh(hole, names) + "}")
    return "".join(parts)


def _with_plain_holes(text: str) -> str:
    names: list[str] = []

    def hole(found: re.Match[str]) -> str:
        name = found[1].lower()
        spec = found[2] or ""
        return "{" + _fresh(_as_hole(name, spec), names) + "}"

    return re.sub(r"\{([A-Za-z_]\w*)(?:![rs])?(:[^}]*)?\}", hole, text)


def _hole(value: ast.expr, spec: str) -> str:
    """The name of the hole for what is put there; what only passes a text on gives it its own name."""
    if isinstance(value, ast.Call):
        if isinstance(value.func, ast.Attribute) and value.func.attr in _PASSED_ON:
            return _hole(value.func.value, spec)
        if _name(value.func) in _PASSING and value.args:
            return _hole(value.args[0], spec)
        name = _name(value.func)
    elif isinstance(value, ast.Subscript) or (isinstance(value, ast.Attribute) and value.attr == "value"):
        return _hole(value.value, spec)
    elif isinstance(value, ast.BoolOp):
        return _hole(value.values[0], spec)
    else:
        name = "n" if isinstance(value, ast.BinOp) else _name(value)
    return _as_hole(name, spec)


def _as_hole(name: str, spec: str) -> str:
    name = re.sub(r"[^a-z0-9_]", "", name.lower()).strip("_") or "words"
    if name == "n" or re.search(r"[fgdeE%]$", spec) or name in _FIGURES:
        return name if name == "n" else f"n_{name}"
    if name in _OWN:
        return f"own_{name}"
    return name if kind_is_words(name) else f"the_{name}"


def kind_is_words(name: str) -> bool:
    """Whether a name is not one of those that mean a figure or somebody's own words."""
    return name.split("_", maxsplit=1)[0].rstrip("0123456789") not in ("n", "own")


def _fresh(name: str, names: list[str]) -> str:
    fresh, number = name, 2
    while fresh in names:
        fresh, number = f"{name}_{number}", number + 1
    names.append(fresh)
    return fresh


def _name(node: ast.AST) -> str:
    if isinstance(node, ast.Attribute):
        return node.attr
    return node.id if isinstance(node, ast.Name) else ""


# --- data files ---------------------------------------------------------------------------------------


def _texts(data: object, key: str) -> Iterator[tuple[str, str]]:
    if isinstance(data, dict):
        for name, inner in data.items():
            yield from _texts(inner, str(name))
    elif isinstance(data, list):
        for inner in data:
            yield from _texts(inner, key)
    elif isinstance(data, str):
        yield key, data


def _once(found: list[Source]) -> list[Source]:
    kept: dict[str, Source] = {}
    for one in found:
        known = kept.get(skeleton(one.english))
        if known is None or (one.marked and not known.marked):
            kept[skeleton(one.english)] = one
    return list(kept.values())
