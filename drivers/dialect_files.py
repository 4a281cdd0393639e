"""Dialect files of meters and of audio instruments: parsed, found, and refused in one sentence each.

Not here: what may stand in one, which is the business of `drivers.scpi.dialect` and `drivers.audio.dialect`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from drivers.errors import DialectError

Described = TypeVar("Described")


def parsed(text: str, where: str, describe: Callable[[dict[str, Any]], Described]) -> Described:
    """What a file describes. `where` names the file in the sentences.

    Raises:
        DialectError: with the file, the place and what is wrong there.
    """
    try:
        return describe(tomllib.loads(text))
    except tomllib.TOMLDecodeError as problem:
        raise DialectError(f"{where}: {problem}") from problem
    except RecursionError:
        raise DialectError(f"{where}: it is nested too deeply to be read") from None
    except ValidationError as problem:
        first = problem.errors()[0]
        place = ".".join(str(part) for part in first["loc"]) or "the whole file"
        words = first["msg"].removeprefix("Value error, ")
        if first["type"] == "extra_forbidden":
            words = "no such entry; see the dialects that come with the program"
        raise DialectError(f"{where}: at {place}: {words}") from problem
    except ValueError as problem:  # Python reads no whole number of more than 4300 digits
        raise DialectError(
            f"{where}: a number in it has more digits than can be read; is it the right file?"
        ) from problem


def shipped(package: str, read: Callable[[str, str], Described]) -> list[Described]:
    """What the files in a package's folder `dialects` describe, in the order of their names."""
    return [
        read(entry.read_text(encoding="utf-8"), entry.name)
        for entry in sorted((resources.files(package) / "dialects").iterdir(), key=lambda entry: entry.name)
        if entry.name.endswith(".toml")
    ]


def own(
    folders: Iterable[Path], read: Callable[[str, str], Described]
) -> tuple[list[Described], tuple[str, ...]]:
    """What a user's own files describe, and a sentence for each that cannot be used."""
    found: list[Described] = []
    problems: list[str] = []
    for path in (path for folder in folders for path in sorted(folder.glob("*.toml"))):
        try:
            found.append(read(path.read_text(encoding="utf-8"), str(path)))
        except DialectError as problem:
            problems.append(str(problem))
        except (OSError, UnicodeDecodeError) as problem:
            problems.append(f"{path}: cannot be read ({problem})")
    return found, tuple(problems)
