"""Data files that people write, found by name or by path: procedures, amplifiers, simulated units."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from drivers.simulated.units import UnitRefused, parsed
from procedures.amplifier import Amplifier
from procedures.checking import LONGEST_TEXT, FileProblems, Problem, checked, nearest
from procedures.library import shipped_procedures
from procedures.procedure import Procedure, load_procedure
from procedures.route import is_route, load_route


class DataFileRefused(ValueError):
    """A data file cannot be read or is not what it should be; the text says why."""


@dataclass(frozen=True, slots=True)
class CheckedFile:
    """What checking a file found, in words; the same apart: what is wrong, and which kind of file it is."""

    fine: bool
    words: str
    problems: tuple[Problem, ...] = ()
    kind: str = ""


def read_text(path: Path) -> str:
    """The text of a data file. Raises DataFileRefused."""
    try:
        if path.stat().st_size > 4 * LONGEST_TEXT:  # UTF-8 has at most four bytes a character
            raise DataFileRefused(
                f"{path}: it is longer than {LONGEST_TEXT} characters; is it the right file?"
            )
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise DataFileRefused(f"{path}: this is not UTF-8 text; save it as UTF-8") from None
    except OSError as error:
        raise DataFileRefused(f"{path}: cannot be read ({error.strerror or error})") from None


def procedure_from(name_or_path: str) -> Procedure:
    """A procedure that ships, by its name, or one from a file. Raises DataFileRefused, FileProblems."""
    known = shipped_procedures()
    if name_or_path in known:
        return known[name_or_path]
    if name_or_path.endswith(".toml") or Path(name_or_path).exists():
        text = read_text(Path(name_or_path))
        if is_route(text):
            return load_route(text, name_or_path, known)
        return load_procedure(text, name_or_path)
    raise DataFileRefused(f"there is no procedure {name_or_path!r}; {nearest(name_or_path, list(known))}")


def check_file(path: Path) -> CheckedFile:
    """Say all that is wrong with a data file, whatever kind it is."""
    try:
        text = read_text(path)
    except DataFileRefused as refusal:
        return CheckedFile(False, str(refusal), (Problem("", str(refusal).removeprefix(f"{path}: ")),))
    return check_text(text, str(path))


def check_text(text: str, file: str) -> CheckedFile:
    """The same for the text of a file that is called `file`."""
    kind = _kind(text)
    try:
        if kind == "procedure":
            procedure = load_procedure(text, file)
            words = f"the procedure {procedure.title!r}, {len(procedure.step)} steps"
        elif kind == "route":
            procedure = load_route(text, file, shipped_procedures())
            words = f"the route {procedure.title!r}, {len(procedure.step)} steps"
        elif kind == "unit":
            unit = parsed(text, Path(file).stem, file)
            words = f"the simulated unit {unit.title!r}"
        else:
            amplifier = checked(text, file, Amplifier)
            words = f"the amplifier {amplifier.name}, {len(amplifier.channel)} channels"
    except (FileProblems, UnitRefused) as refusal:
        problems = refusal.problems if isinstance(refusal, FileProblems) else _apart(str(refusal), file)
        return CheckedFile(False, str(refusal), problems, kind)
    return CheckedFile(True, f"{file}: fine; {words}.", kind=kind)


def _apart(words: str, file: str) -> tuple[Problem, ...]:
    """Sentences that were said of a file, without its name before each."""
    return tuple(Problem("", line.removeprefix(f"{file}: ")) for line in words.splitlines())


def _kind(text: str) -> str:
    """What a file means to be; a file that cannot be told apart is read as a procedure."""
    try:
        data: Mapping[str, Any] = tomllib.loads(text)
    except (ValueError, RecursionError):
        return "procedure"  # whose reader says where the TOML is broken
    if "step" in data:
        return "procedure"
    if "part" in data:
        return "route"
    tables = [data.get(name) for name in ("channels", "unit", "around")]
    if {"target_volts", "serial", "story"} & data.keys() or any(isinstance(one, dict) for one in tables):
        return "unit"
    return "amplifier" if {"output_stage", "channel", "maker"} & data.keys() else "procedure"
