"""A session's readings as columns of numbers, in a file beside its journal that may be deleted at any time.

Reading a day back from the journal takes seconds, from here a moment. A commit says how many bytes of which
journal the blocks before it cover, and their checksum: after a power cut a journal may have lost bytes that
were read already, and have grown otherwise since. What the journal holds beyond that is read from the
journal; a file that does not fit is ignored, and written anew.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import struct
import threading
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from app.records.session_folder import JOURNAL

COLUMNS = "columns.cache"
_CHUNK = 1 << 20
_MAGIC = b"WTc2"
_HEAD = struct.Struct("<4sHHIQ")  # magic, kind, channel, how many, for a commit: bytes of the journal
_NAME, _READINGS, _MISSED, _COMMIT = 1, 2, 3, 4

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(slots=True)
class ChannelColumns:
    """One channel: session seconds, values, whether a line leads to each from the one before; misses."""

    channel: str
    unit: str
    seconds: Floats
    values: Floats
    led: Flags
    missed: Floats


@dataclass(slots=True)
class StoredColumns:
    """What a file holds. `covered`: so many bytes of the journal are in it."""

    covered: int = 0
    channels: list[ChannelColumns] = field(default_factory=list)


def journal_mark(journal: Path, covered: int) -> int | None:
    """The checksum of a journal's first bytes; None where it has fewer. Raises OSError."""
    mark, left = 0, covered
    with open(journal, "rb") as file:
        while left > 0:
            chunk = file.read(min(left, _CHUNK))
            if not chunk:
                return None
            mark, left = zlib.crc32(chunk, mark), left - len(chunk)
    return mark


class ColumnFile:
    """The file of a session that was just read. One thread."""

    def __init__(self, folder: Path) -> None:
        self._journal = folder / JOURNAL
        self._path = folder / COLUMNS
        self._numbers: dict[tuple[str, str], int] = {}

    def begin(self) -> None:
        """Begin an empty file. Raises OSError."""
        self._path.write_bytes(b"")
        self._numbers.clear()

    def append(self, channels: list[ChannelColumns], covered: int) -> None:
        """Add readings, and say up to where in the journal they go. Raises OSError; then nothing counts."""
        blocks: list[bytes] = []
        for one in channels:
            key = (one.channel, one.unit)
            if key not in self._numbers:
                self._numbers[key] = len(self._numbers)
                blocks.append(_block(_NAME, self._numbers[key], json.dumps(key).encode("utf-8")))
            number = self._numbers[key]
            if len(one.seconds):
                parts = (one.seconds, one.values, one.led)
                body = b"".join(np.ascontiguousarray(part).tobytes() for part in parts)
                blocks.append(_block(_READINGS, number, body, len(one.seconds)))
            if len(one.missed):
                blocks.append(_block(_MISSED, number, one.missed.tobytes(), len(one.missed)))
        mark = journal_mark(self._journal, covered)
        if mark is None:
            raise OSError(errno.ESTALE, os.strerror(errno.ESTALE), str(self._journal))
        blocks.append(_HEAD.pack(_MAGIC, _COMMIT, 0, mark, covered))
        with open(self._path, "ab") as file:
            file.write(b"".join(blocks))

    def write(self, channels: list[ChannelColumns], covered: int) -> None:
        """Write all of it at once; it is there whole or not at all, whoever else writes. Raises OSError."""
        place = self._path
        self._path = place.with_name(f"{COLUMNS}.{os.getpid()}.{threading.get_ident()}")
        try:
            self.begin()
            self.append(channels, covered)
            os.replace(self._path, place)
        finally:
            self.give_up()
            self._path = place

    def give_up(self) -> None:
        """Leave no file behind."""
        with contextlib.suppress(OSError):
            self._path.unlink(missing_ok=True)


def _block(kind: int, channel: int, body: bytes, count: int = 0) -> bytes:
    return _HEAD.pack(_MAGIC, kind, channel, count or len(body), len(body)) + body


def load_columns(folder: Path) -> StoredColumns:
    """What is stored for the journal of a folder; nothing where there is no file or it does not fit."""
    try:
        raw = (folder / COLUMNS).read_bytes()
        return _gathered(raw, folder / JOURNAL)
    except (OSError, ValueError, struct.error, KeyError, IndexError):
        return StoredColumns()


def _gathered(raw: bytes, journal: Path) -> StoredColumns:
    names: dict[int, tuple[str, str]] = {}
    readings: dict[int, list[tuple[Floats, Floats, Flags]]] = {}
    missed: dict[int, list[Floats]] = {}
    covered, counted = 0, (0, 0, 0)
    for kind, number, count, extra, body in _blocks(raw):
        if kind == _NAME:
            name, unit = json.loads(bytes(body))
            names[number] = (str(name), str(unit))
            readings[number], missed[number] = [], []
        elif kind == _READINGS:
            seconds, values = np.frombuffer(body, np.float64, 2 * count).reshape(2, count)
            readings[number].append((seconds, values, np.frombuffer(body, np.bool_, count, 16 * count)))
        elif kind == _MISSED:
            missed[number].append(np.frombuffer(body, np.float64, count))
        elif kind == _COMMIT:
            if count != journal_mark(journal, extra):
                break
            covered = extra
            counted = (len(names), sum(map(len, readings.values())), sum(map(len, missed.values())))
    if counted != (len(names), sum(map(len, readings.values())), sum(map(len, missed.values()))):
        return StoredColumns()  # torn after its last commit: the journal has it all
    return StoredColumns(covered, [_channel(names[n], readings[n], missed[n]) for n in names])


def _channel(
    name: tuple[str, str], readings: list[tuple[Floats, Floats, Flags]], missed: list[Floats]
) -> ChannelColumns:
    if not readings:
        readings = [(np.empty(0), np.empty(0), np.empty(0, dtype=np.bool_))]
    return ChannelColumns(
        name[0],
        name[1],
        np.concatenate([part[0] for part in readings]),
        np.concatenate([part[1] for part in readings]),
        np.concatenate([part[2] for part in readings]),
        np.concatenate(missed) if missed else np.empty(0),
    )


def _blocks(raw: bytes) -> Iterator[tuple[int, int, int, int, memoryview]]:
    view, place = memoryview(raw), 0
    while place + _HEAD.size <= len(raw):
        magic, kind, channel, count, extra = _HEAD.unpack_from(raw, place)
        if magic != _MAGIC:
            return
        place += _HEAD.size
        size = 0 if kind == _COMMIT else extra
        if place + size > len(raw):
            return
        yield kind, channel, count, extra, view[place : place + size]
        place += size
