"""`python3 -m tests`: the environment first, then pytest or one benchmark.

    python3 -m tests [pytest's arguments]     all but what takes minutes
    python3 -m tests --long [arguments]       all
    python3 -m tests --bench NAME --seed N [--json]      (without a name: which there are)

A benchmark is a file `tests/benchmarks/bench_NAME.py` with `run(seed: int) -> dict`. Nested dictionaries are
shown as rows; one that holds `met: False` anywhere makes the exit code 1.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import os
import sys
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
BENCHMARKS = ROOT / "tests" / "benchmarks"


def _run(arguments: list[str]) -> int:
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from app.environment import ensure

    ensure("test")
    parser = argparse.ArgumentParser(prog="python3 -m tests", add_help=False)
    parser.add_argument("--long", action="store_true")
    parser.add_argument("--bench", nargs="?", const="")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    known, rest = parser.parse_known_args(arguments)
    if known.bench is not None:
        return bench(known.bench, known.seed, known.json)
    import pytest

    from tests.postgresql_server import install_as_root

    install_as_root()
    chosen = [] if known.long else ["-m", "not long"]
    return int(pytest.main([*_spread(rest), *chosen, *rest]))


def _spread(arguments: list[str]) -> list[str]:
    """One process a core, a file's tests together; in one process where a person wants to look inside."""
    looking = {"-s", "--pdb", "--trace", "-n", "--capture=no", "--collect-only", "--co"}
    return [] if looking & set(arguments) else ["-n", "auto", "--dist", "loadfile"]


def bench(name: str, seed: int, as_json: bool) -> int:
    """Run one benchmark and print what it found; 0: every figure is met, 1: not, 2: no such name."""
    path = BENCHMARKS / f"bench_{name}.py"
    names = sorted(x.stem.removeprefix("bench_") for x in BENCHMARKS.glob("bench_*.py"))
    if not name:
        print("\n".join(names))
        return 0
    if not path.is_file():
        print(f"There is no benchmark {name!r}; there are: {', '.join(names) or 'none'}.", file=sys.stderr)
        return 2
    for folder in (str(ROOT), str(ROOT / "tests")):
        if folder not in sys.path:
            sys.path.insert(0, folder)
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    found: Mapping[str, Any] = module.run(seed)
    if as_json:
        print(json.dumps(found, indent=2, default=str))
    else:
        _print_table(name, seed, found)
    return 1 if any(path[-1] == "met" and value is False for path, value in _leaves(found)) else 0


def _leaves(found: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Every single value with the keys that lead to it."""
    if isinstance(found, Mapping):
        for key, value in found.items():
            yield from _leaves(value, (*path, str(key)))
    elif (
        isinstance(found, Sequence)
        and not isinstance(found, str)
        and any(isinstance(item, Mapping) for item in found)
    ):
        for index, item in enumerate(found):
            label = str(item.get("name", index)) if isinstance(item, Mapping) else str(index)
            yield from _leaves(item, (*path, label))
    else:
        yield (path or ("",)), found


def _print_table(name: str, seed: int, found: Mapping[str, Any]) -> None:
    from rich.console import Console
    from rich.table import Table

    table = Table(title=f"{name}, seed {seed}")
    table.add_column("figure")
    table.add_column("value", justify="right")
    for path, value in _leaves(found):
        shown = f"{value:.6g}" if isinstance(value, float) else str(value)
        style = "bold red" if path[-1] == "met" and value is False else ""
        table.add_row(" / ".join(path), shown, style=style)
    Console().print(table)


if __name__ == "__main__":
    sys.exit(_run(sys.argv[1:]))
