"""Drafts of amplifiers: what stands in the form and cannot be used yet, each in a file of its own.

They lie beside the amplifiers and end otherwise, so that none is ever loaded as one.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

ENDING = ".draft"
_KIND = "amplifier draft"
_LARGEST_BYTES = 4 * 1024 * 1024


def draft_file(folder: Path, of: str) -> Path:
    """Where the draft of an amplifier is, by its file or its name; without either, that of a new one."""
    stem = hashlib.sha256(of.encode("utf-8", "surrogatepass")).hexdigest()[:16] if of else "new"
    return folder / f"{stem}{ENDING}"


def keep_draft(path: Path, contents: Mapping[str, Any]) -> None:
    """Write a draft whole or not at all, forced to the disk. Raises OSError, ValueError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    fresh = path.with_name(f"{path.name}.new")
    with open(fresh, "w", encoding="utf-8") as file:
        json.dump({"kind": _KIND, **contents}, file, ensure_ascii=True)
        file.flush()
        os.fsync(file.fileno())
    os.replace(fresh, path)


def read_draft(path: Path) -> dict[str, Any] | None:
    """A draft as it was kept; None where there is none, or it is damaged: then it is set aside."""
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise ValueError("too large")
        contents = json.loads(path.read_text(encoding="utf-8"))
        if contents["kind"] != _KIND or not isinstance(contents["entries"], dict):
            raise ValueError("no draft")
    except OSError:
        return None
    except (ValueError, KeyError, TypeError, RecursionError):
        with contextlib.suppress(OSError):
            os.replace(path, path.with_name(f"{path.name}.damaged"))
        return None
    found: dict[str, Any] = contents
    return found


def drop_draft(path: Path) -> None:
    """The draft is not wanted any more. Raises OSError."""
    path.unlink(missing_ok=True)
