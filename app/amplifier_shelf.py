"""The amplifiers that a workshop knows: those that ship, and those described here, one TOML file each."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from procedures.amplifier import Amplifier
from procedures.checking import FileProblems, checked
from procedures.library import shipped_amplifiers


class AmplifierShelf:
    """A folder of amplifier files beside what ships."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def all(self) -> dict[str, Amplifier]:
        """By key (maker and model), the workshop's own first; files that cannot be used are passed over."""
        return {**self._own(), **{k: v for k, v in shipped_amplifiers().items() if k not in self._own()}}

    def _own(self) -> dict[str, Amplifier]:
        found: dict[str, Amplifier] = {}
        for path in sorted(self._folder.glob("*.toml")) if self._folder.is_dir() else ():
            try:
                amplifier = checked(path.read_text(encoding="utf-8"), path.name, Amplifier)
            except (OSError, UnicodeDecodeError, FileProblems):
                continue  # `check` says what is wrong with it
            found[amplifier.name] = amplifier
        return found

    def keep(self, amplifier: Amplifier) -> str:
        """Write an amplifier's file; its key. Raises OSError."""
        self._folder.mkdir(parents=True, exist_ok=True)
        stem = re.sub(r"[^a-z0-9]+", "-", amplifier.name.lower()).strip("-") or "amplifier"
        fresh = self._folder / f"{stem}.new"
        fresh.write_text(as_toml(amplifier), encoding="utf-8")
        os.replace(fresh, self._folder / f"{stem}.toml")
        return amplifier.name


def as_toml(amplifier: Amplifier) -> str:
    """The amplifier as the file that a person could have written."""
    data = amplifier.model_dump(mode="json", exclude_none=True, exclude_defaults=True)
    data = {"format": amplifier.format, **data}
    channels = data.pop("channel", [])
    lines = [f"{key} = {_value(value)}" for key, value in data.items()]
    for channel in channels:
        lines += ["", "[[channel]]", *(f"{key} = {_value(value)}" for key, value in channel.items())]
    return "\n".join(lines) + "\n"


def _value(value: Any) -> str:
    """A value in TOML: its basic strings, numbers and arrays are those of JSON, its tables are inline."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {_value(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(inner) for inner in value) + "]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
