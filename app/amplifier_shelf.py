"""The amplifiers that a workshop knows: those that ship, and those described here, one TOML file each."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator, Mapping
from itertools import count
from pathlib import Path
from typing import Any

from app.records.whole_file import write_whole
from procedures.amplifier import Amplifier
from procedures.checking import FileProblems, checked
from procedures.library import shipped_amplifiers


class AmplifierShelf:
    """A folder of amplifier files beside what ships."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def all(self) -> dict[str, Amplifier]:
        """By key (maker and model), the workshop's own first; files that cannot be used are passed over."""
        own = self._own()
        return own | {key: one for key, one in shipped_amplifiers().items() if key not in own}

    @property
    def folder(self) -> Path:
        """Where the workshop's own files are."""
        return self._folder

    def _own(self) -> dict[str, Amplifier]:
        return {amplifier.name: amplifier for _, amplifier in self._files()}

    def _paths(self) -> list[Path]:
        return sorted(self._folder.glob("*.toml")) if self._folder.is_dir() else []

    def _files(self) -> Iterator[tuple[Path, Amplifier]]:
        for path in self._paths():
            try:
                yield path, checked(path.read_text(encoding="utf-8"), path.name, Amplifier)
            except (OSError, UnicodeDecodeError, FileProblems):
                continue  # `broken` names it, `check` says what is wrong with it

    def keep(self, amplifier: Amplifier, over: Path | None = None) -> str:
        """Write an amplifier's file; its key.

        It replaces `over` where that is a file of this folder, else the file in which an amplifier of this
        name stands, else it is a new one. What stood there before is kept beside it, with its comments.
        Raises OSError.
        """
        self._folder.mkdir(parents=True, exist_ok=True)
        own = over is not None and over.resolve().parent == self._folder.resolve()
        path = over if own else self.file_of(amplifier.name)
        path = path or self._free(amplifier.name)
        if path.exists():
            shutil.copy2(path, path.with_name(f"{path.name}.before"))
        write_whole(path, as_toml(amplifier).encode("utf-8"))
        return amplifier.name

    def file_of(self, key: str) -> Path | None:
        """The workshop's own file of an amplifier; None where there is none."""
        return next((path for path, amplifier in self._files() if amplifier.name == key), None)

    def broken(self) -> tuple[Path, ...]:
        """The workshop's files that cannot be used."""
        fine = {path for path, _ in self._files()}
        return tuple(path for path in self._paths() if path not in fine)

    def _free(self, name: str) -> Path:
        """A file name that nothing has yet."""
        stem = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "amplifier"
        names = (f"{stem}.toml" if n == 1 else f"{stem}-{n}.toml" for n in count(1))
        return next(path for name in names if not (path := self._folder / name).exists())


def amplifier_entries(amplifier: Amplifier) -> dict[str, Any]:
    """What stands in an amplifier's file: everything that is not as it is anyway."""
    said = amplifier.model_dump(mode="json", exclude_none=True, exclude_defaults=True)
    return {"format": amplifier.format, **said}


def as_toml(amplifier: Amplifier) -> str:
    """The amplifier as the file that a person could have written: tables for what are tables."""
    data = amplifier_entries(amplifier)
    plain = {key: value for key, value in data.items() if not _is_tables(value)}
    lines = _pairs(plain)
    for key, value in data.items():
        if isinstance(value, Mapping):
            lines += ["", f"[{key}]", *_pairs(value)]
    for key, value in data.items():
        if isinstance(value, list) and _is_tables(value):
            for entry in value:
                lines += ["", f"[[{key}]]", *_pairs(entry)]
    return "\n".join(lines) + "\n"


def _is_tables(value: Any) -> bool:
    """Whether it stands under a heading of its own."""
    return isinstance(value, Mapping) or (
        isinstance(value, list) and bool(value) and all(isinstance(entry, Mapping) for entry in value)
    )


def _pairs(table: Mapping[str, Any]) -> list[str]:
    return [f"{_key(key)} = {_value(value)}" for key, value in table.items()]


def _key(key: str) -> str:
    """A key as it is, or in quotes where it has more in it than letters, digits, _ and -."""
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _value(key)


def _value(value: Any) -> str:
    """A value in TOML: its basic strings, numbers and arrays are those of JSON, its tables are inline."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(_pairs(value)) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(inner) for inner in value) + "]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
