"""A session's readings as columns of numbers, in a file beside its journal that may be deleted at any time.

Reading a day back from the journal takes seconds, from here a moment. The file is appended to while the
journal grows and is never trusted beyond it: a commit says how many bytes of which journal the blocks before
it cover. What the journal holds beyond that is read from the journal; a file that does not fit is ignored.
"""

from __future__ import annotations

import contextlib
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

COLUMNS = "columns.cache"
_MAGIC = b"WTc1"
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


def header_mark(header_line: str) -> int:
    """What tells one journal from another."""
    return zlib.crc32(header_line.encode("utf-8"))


class ColumnFile:
    """The file of a session that is under way, or of one that was just read. One thread."""

    def __init__(self, folder: Path, header_line: str) -> None:
        self._path = folder / COLUMNS
        self._mark = header_mark(header_line)
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
        blocks.append(_HEAD.pack(_MAGIC, _COMMIT, 0, self._mark, covered))
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


def load_columns(folder: Path, header_line: str, journal_bytes: int) -> StoredColumns:
    """What is stored for a journal of so many bytes; nothing where there is no file or it does not fit."""
    try:
        raw = (folder / COLUMNS).read_bytes()
    except OSError:
        return StoredColumns()
    try:
        return _gathered(raw, header_mark(header_line), journal_bytes)
    except (ValueError, struct.error, KeyError, IndexError):
        return StoredColumns()


def _gathered(raw: bytes, mark: int, journal_bytes: int) -> StoredColumns:
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
            if count != mark or extra > journal_bytes:
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
