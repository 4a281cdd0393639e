"""One journal on disk: append-only UTF-8, one JSON object a line, header first.

What the lines mean is for `procedures.records`; here is only how they are kept: appended in batches that
are whole or absent, forced to disk by another thread, closed with a count and a digest, read back from both
ends without the middle, and taken up again with a torn last line set aside.
"""

from __future__ import annotations

import contextlib
import errno
import mmap
import os
import threading
from collections.abc import Iterable
from pathlib import Path

from app.records.whole_file import force_names
from procedures.records.journal import Seal


class JournalFile:
    """A journal that is being written. Any thread; a batch is never mixed with another."""

    def __init__(self, path: Path, whole: bytes = b"") -> None:
        self.path = path
        # Unbuffered: what `append` returned from is with the operating system and survives a kill.
        self._file = open(path, "ab", buffering=0)  # noqa: SIM115 - kept until `close` or `abandon`
        self._size = self._file.tell()
        self._half = False  # whether a batch that was refused may have left bytes behind
        self._seal = Seal()
        for line in whole.split(b"\n")[:-1]:
            self._seal.add(line.decode("utf-8", "replace"))
        self._writing = threading.Lock()
        self._forcing = threading.Lock()

    @classmethod
    def create(cls, path: Path, header: str) -> JournalFile:
        """Begin a journal with its header, forced to disk. Raises OSError."""
        with open(path, "xb"):
            pass
        journal = cls(path)
        try:
            journal.append([header])
            journal.force()
            force_names(path.parent)
            force_names(path.parent.parent)
        except OSError:
            journal.abandon()
            raise
        return journal

    @classmethod
    def reopen(cls, path: Path) -> JournalFile:
        """Go on with a journal; a torn last line is moved beside it first. Raises OSError."""
        whole, torn = split_torn(path.read_bytes())
        if torn:
            with open(path.with_suffix(".torn"), "ab") as aside:
                aside.write(torn + b"\n")
            os.truncate(path, len(whole))
        return cls(path, whole)

    def append(self, lines: Iterable[str]) -> None:
        """Hand lines to the operating system. Raises OSError; then nothing of them was kept."""
        given = list(lines)
        batch = b"".join(line.encode("utf-8") + b"\n" for line in given)
        if not batch:
            return
        with self._writing:
            self._without_half()
            try:
                if self._file.write(batch) != len(batch):
                    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(self.path))
            except OSError:
                # Leave no half batch behind, so that the same batch may be tried again.
                self._half = True
                with contextlib.suppress(OSError):
                    self._without_half()
                raise
            self._size += len(batch)
            for line in given:
                self._seal.add(line)

    def _without_half(self) -> None:
        """Take away what a refused batch left; a disk that is gone lets it be taken away later."""
        if self._half:
            self._file.truncate(self._size)
            self._half = False

    def force(self) -> None:
        """Make the operating system put everything on the disk. Raises OSError."""
        with self._forcing:
            if not self._file.closed:
                os.fsync(self._file.fileno())

    def close(self, *last: str) -> None:
        """Append these last lines with the closing line behind them, force, and let go. Raises OSError.

        They come in one batch: a cut between them would leave a session that looks unfinished.
        """
        whole = self._seal.copy()
        for line in last:
            whole.add(line)
        self.append([*last, whole.closing().line()])
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


def read_ends(path: Path, tail_bytes: int = 16384) -> tuple[str, list[str]]:
    """The first line, and the last whole lines as far as they fit into `tail_bytes`. Raises OSError."""
    with open(path, "rb") as file:
        first = file.readline()
        size = file.seek(0, os.SEEK_END)
        start = file.seek(max(len(first), size - tail_bytes))
        whole, _ = split_torn(file.read())
    lines = whole.decode("utf-8", "replace").split("\n")[:-1]
    if start > len(first):  # the tail begins in the middle of a line
        lines = lines[1:]
    return first.decode("utf-8", "replace").rstrip("\n"), lines


def last_line(path: Path, beginning: bytes) -> str:
    """The last whole line that begins with these bytes, wherever it stands; empty where there is none.

    Nothing is decoded on the way, so a day is searched in a moment. Raises OSError.
    """
    with open(path, "rb") as file:
        if os.fstat(file.fileno()).st_size == 0:
            return ""
        with mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as text:
            begin = text.rfind(b"\n" + beginning) + 1
            end = text.find(b"\n", begin)
            return text[begin:end].decode("utf-8", "replace") if begin and end > 0 else ""
