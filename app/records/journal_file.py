"""One journal on disk: append-only UTF-8, one JSON object a line, header first.

What the lines mean is for `procedures.records`; here is only how they are kept: appended and flushed in
batches, forced to disk by another thread, closed with a count and a digest, read back with a torn last line
set aside. A line may be appended after the closing one only to file the session (its unit, its job).
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import threading
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

Line = Mapping[str, Any]
CLOSED = "closed"
FILED = "filed"


class JournalDamaged(ValueError):
    """A journal that cannot be read; the text says which line and what to do."""


@dataclass(frozen=True, slots=True)
class JournalText:
    """A journal as it stands on disk.

    `closed` is None where the session was not closed. `torn` counts the bytes of a last line that was
    never finished. `intact` says whether the count and digest of the closing line are true (None: open).
    """

    header: Line
    lines: tuple[Line, ...]
    closed: Line | None
    filed: tuple[Line, ...]
    torn: int
    intact: bool | None


def encode(line: Line) -> bytes:
    """One line as it is written; raises ValueError for what JSON cannot hold (NaN)."""
    text = json.dumps(line, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.encode("utf-8") + b"\n"


class JournalFile:
    """A journal that is being written. `append` and `close` belong to one thread; `force` to any."""

    def __init__(self, path: Path, count: int, digest: hashlib._Hash) -> None:
        self.path = path
        # Unbuffered: what `append` returned from is with the operating system and survives a kill.
        self._file = open(path, "ab", buffering=0)  # noqa: SIM115 - kept until `close` or `abandon`
        self._size = self._file.tell()
        self._count = count
        self._digest = digest
        self._forcing = threading.Lock()

    @classmethod
    def create(cls, path: Path, header: Line) -> JournalFile:
        """Begin a journal with its header, forced to disk. Raises OSError."""
        with open(path, "xb"):
            pass
        journal = cls(path, 0, hashlib.sha256())
        journal.append([header])
        journal.force()
        return journal

    @classmethod
    def reopen(cls, path: Path) -> JournalFile:
        """Go on with a journal that was not closed; a torn last line is moved beside it first."""
        whole, torn = split_torn(path.read_bytes())
        if torn:
            with open(path.with_suffix(".torn"), "ab") as aside:
                aside.write(torn + b"\n")
            os.truncate(path, len(whole))
        return cls(path, whole.count(b"\n"), hashlib.sha256(whole))

    def append(self, lines: Iterable[Line]) -> None:
        """Hand lines to the operating system. Raises OSError; then nothing of them was kept."""
        batch = b"".join(encode(line) for line in lines)
        if not batch:
            return
        try:
            if self._file.write(batch) != len(batch):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(self.path))
        except OSError:
            # Leave no half batch behind, so that the same batch may be tried again.
            with contextlib.suppress(OSError):
                self._file.truncate(self._size)
            raise
        self._size += len(batch)
        self._digest.update(batch)
        self._count += batch.count(b"\n")

    def force(self) -> None:
        """Make the operating system put everything on the disk. Any thread. Raises OSError."""
        with self._forcing:
            if not self._file.closed:
                os.fsync(self._file.fileno())

    def close(self, ending: Line) -> None:
        """Append the closing line with count and digest, force, and let go. Raises OSError."""
        self.append([{"kind": CLOSED, **ending, "count": self._count, "digest": self._digest.hexdigest()}])
        self.force()
        self.abandon()

    def abandon(self) -> None:
        """Let go without closing the session: it will be found as unfinished."""
        with self._forcing:
            self._file.close()


def split_torn(raw: bytes) -> tuple[bytes, bytes]:
    """Whole lines, and what stands after the last line end."""
    end = raw.rfind(b"\n") + 1
    return raw[:end], raw[end:]


def read_journal(path: Path) -> JournalText:
    """Read a whole journal.

    Raises:
        OSError: the file cannot be read.
        JournalDamaged: a line before the last is not a JSON object, or there is no header.
    """
    whole, torn = split_torn(path.read_bytes())
    lines = list(_decoded(path, whole))
    if not lines:
        raise JournalDamaged(f"{path}: there is no complete header; nothing was recorded in this session")
    end = next((i for i, line in enumerate(lines) if line.get("kind") == CLOSED), None)
    if end is None:
        return JournalText(lines[0], tuple(lines[1:]), None, (), len(torn), None)
    before = _upto_line(whole, end)
    closed = lines[end]
    intact = closed.get("count") == end and closed.get("digest") == hashlib.sha256(before).hexdigest()
    return JournalText(lines[0], tuple(lines[1:end]), closed, tuple(lines[end + 1 :]), len(torn), intact)


def _upto_line(whole: bytes, count: int) -> bytes:
    position = 0
    for _ in range(count):
        position = whole.index(b"\n", position) + 1
    return whole[:position]


def _decoded(path: Path, whole: bytes) -> Iterator[Line]:
    for number, raw in enumerate(whole.split(b"\n")[:-1], start=1):
        try:
            line = json.loads(raw)
        except ValueError as error:
            raise JournalDamaged(
                f"{path}, line {number}: this is not a record ({error}); the lines before it can be read "
                "by copying them into a new file"
            ) from error
        if not isinstance(line, dict):
            raise JournalDamaged(f"{path}, line {number}: this is not a record but {type(line).__name__}")
        yield line


def read_ends(path: Path, tail_bytes: int = 16384) -> tuple[Line, Line | None, tuple[Line, ...]]:
    """The header, the closing line (None: not closed) and what was filed after it, without the rest.

    Raises OSError, JournalDamaged.
    """
    with open(path, "rb") as file:
        first = file.readline()
        header = next(_decoded(path, first), None) if first.endswith(b"\n") else None
        if header is None:
            raise JournalDamaged(f"{path}: there is no complete header; nothing was recorded in this session")
        size = file.seek(0, os.SEEK_END)
        start = file.seek(max(len(first), size - tail_bytes))
        whole, _ = split_torn(file.read())
    if start > len(first):  # the tail begins in the middle of a line
        whole = whole.partition(b"\n")[2]
    closed: Line | None = None
    filed: list[Line] = []
    for raw in whole.split(b"\n"):
        if b'"kind":"closed"' in raw or (closed is not None and raw):
            line = json.loads(raw)
            if line.get("kind") == CLOSED:
                closed = line
            else:
                filed.append(line)
    return header, closed, tuple(filed)
