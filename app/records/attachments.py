"""Photographs and other files that belong to a session or a job: kept under the digest of their content.

The journal names the digest, so a file that was exchanged is found out, and the same picture is kept once.
"""

from __future__ import annotations

import hashlib
import re
import stat
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from app.records.whole_file import write_whole

ATTACHMENTS = "attachments"
_DIGEST = re.compile(r"[0-9a-f]{64}")
LARGEST_BYTES = 64 * 1024 * 1024


class AttachmentRefused(ValueError):
    """A file cannot be attached; the text says why."""


@dataclass(frozen=True, slots=True)
class Attached:
    """A kept file: SHA-256 of its content, and the name that it is kept under."""

    digest: str
    name: str


def is_attachment(name: str) -> bool:
    """Whether a name in a record is that of a kept file: a digest, and how the file ended."""
    return re.fullmatch(r"[0-9a-f]{64}(\.[a-z0-9]{1,8})?", name) is not None


def attach(folder: Path, source: Path) -> Attached:
    """Keep a copy of a file with a session or job folder.

    Raises:
        AttachmentRefused: with one sentence.
        OSError: where nothing can be written.
    """
    try:
        found = source.stat()
        if not stat.S_ISREG(found.st_mode):
            raise AttachmentRefused(f"{source}: this is no file that can be copied; choose a picture")
        size = found.st_size
        if size > LARGEST_BYTES:
            raise AttachmentRefused(
                f"{source}: {size / 1e6:.0f} MB are too much for an attachment; up to 64 MB are kept"
            )
        content = source.read_bytes()
    except OSError as error:
        raise AttachmentRefused(f"{source}: cannot be read ({error.strerror or error})") from error
    suffix = source.suffix.lower()
    return keep(folder, content, suffix if re.fullmatch(r"\.[a-z0-9]{1,8}", suffix) else "")


def keep(folder: Path, content: bytes, suffix: str = "") -> Attached:
    """Keep bytes under their digest, whole or not at all. Raises OSError."""
    digest = hashlib.sha256(content).hexdigest()
    place = folder / ATTACHMENTS / f"{digest}{suffix}"
    if not place.exists():
        place.parent.mkdir(exist_ok=True)
        write_whole(place, content)
    return Attached(digest, place.name)


def attached_files(folder: Path) -> tuple[Path, ...]:
    """The kept files of a folder, by name."""
    found = folder / ATTACHMENTS
    if not found.is_dir():
        return ()
    return tuple(sorted(path for path in found.iterdir() if path.is_file() and not path.name.startswith(".")))


def changed_attachments(folder: Path) -> tuple[str, ...]:
    """One sentence for each kept file whose content is not what its name says. Raises OSError."""
    return tuple(
        f"{path.name} is not what was attached: its digest has changed."
        for path in attached_files(folder)
        if (named := _DIGEST.match(path.name)) and named.group() != _digest_of(path)
    )


def missing_attachments(folder: Path, named: Iterable[str]) -> tuple[str, ...]:
    """One sentence for each file that a journal names, by its name or digest, and the folder has not."""
    there = {_digest_in(path.name) for path in attached_files(folder)}
    missing = dict.fromkeys(name for name in named if _digest_in(name) not in there)
    return tuple(f"{name} is named in the record and is missing." for name in missing)


def _digest_in(name: str) -> str:
    return name.partition(".")[0]


def _digest_of(path: Path) -> str:
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
