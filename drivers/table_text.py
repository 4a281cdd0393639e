"""A file of delimited text as lines of cells, however it was written: marks, endings, quotes, alphabets.

Here: the alphabet (UTF-8, UTF-16, Latin-1), what separates the cells, the line of headers, and quotes that
are opened and never closed. Not here: what the cells mean (`readings_table`).
"""

from __future__ import annotations

import codecs
import csv
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from drivers.errors import MeterRefused

_LOOKED_AT = 65536
_LONGEST_LINE = 100_000
_DELIMITERS = (";", "\t", ",")
_KINDS = {
    b"PK\x03\x04": "this is a spreadsheet or an archive; save the sheet as CSV and give that file.",
    b"\xd0\xcf\x11\xe0": "this is a spreadsheet; save the sheet as CSV and give that file.",
    b"\x89PNG": "this is a picture; give the table that it was drawn from.",
    b"%PDF": "this is a printed page; give the table that it was made from.",
    b"\x1f\x8b": "this file is compressed; unpack it and give what was in it.",
}


class TableRefused(MeterRefused):
    """A table that cannot be read; the text is one sentence that says why and what would be right."""


@dataclass(frozen=True, slots=True)
class TextTable:
    """A delimited text file: its headers, and how its lines are to be read."""

    path: Path
    encoding: str
    delimiter: str
    headers: tuple[str, ...]
    skipped: int  # lines before the first row

    @property
    def decimal_comma(self) -> bool:
        """Whether a comma may stand for the decimal point."""
        return self.delimiter != ","

    def rows(self, readings: int) -> Iterator[tuple[int, list[str]]]:
        """The cells of each line behind the headers, with the number of the line.

        `readings` is the number of cells that hold no words: in them no line ends. Raises TableRefused.
        """
        try:
            with self.path.open(encoding=self.encoding, errors="replace", newline="") as file:
                for _ in range(self.skipped):
                    file.readline()
                yield from _Lines(_readable(file), self.delimiter, self.skipped).rows(readings)
        except OSError as error:
            raise _cannot(self.path, error) from None


class _Lines:
    """Lines that can be given back: a quote that is opened by mistake must not swallow those after it."""

    def __init__(self, lines: Iterator[str], delimiter: str, above: int) -> None:
        self._lines = lines
        self._delimiter = delimiter
        self._given_back: deque[str] = deque()
        self._taken: list[str] = []
        self._above = above

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        line = self._given_back.popleft() if self._given_back else next(self._lines)
        self._taken.append(line)
        return line

    def rows(self, readings: int) -> Iterator[tuple[int, list[str]]]:
        reader = csv.reader(self, delimiter=self._delimiter, strict=True)
        while True:
            self._taken.clear()
            try:
                cells = next(reader)
            except StopIteration:
                return
            except csv.Error:
                cells = self._first_alone()
            if len(self._taken) > 1 and any("\n" in cell or "\r" in cell for cell in cells[:readings]):
                cells = self._first_alone()
            yield self._above + 1, cells
            self._above += len(self._taken)

    def _first_alone(self) -> list[str]:
        """The cells of the first line that was taken; the others are given back."""
        self._given_back.extendleft(reversed(self._taken[1:]))
        del self._taken[1:]
        line = self._taken[0].rstrip("\r\n")
        try:
            return next(csv.reader([line], delimiter=self._delimiter), [])
        except csv.Error:
            return [line]


def open_text(path: Path) -> TextTable:
    """Look at a file's first lines. Raises TableRefused with one sentence."""
    try:
        with path.open("rb") as file:
            start = file.read(_LOOKED_AT)
        encoding = _encoding(path, start)
        with path.open(encoding=encoding, errors="replace", newline="") as lines:
            return _headed(path, encoding, _readable(lines))
    except OSError as error:
        raise _cannot(path, error) from None


def _headed(path: Path, encoding: str, lines: Iterator[str]) -> TextTable:
    """The first line that is neither blank nor a comment names the columns."""
    delimiter = ""
    for number, line in enumerate(lines, start=1):
        words, told = line.strip(), line.strip("\r\n")
        if told[:4].lower() == "sep=" and len(told) == 5:  # how a spreadsheet is told; a tab counts too
            delimiter = told[4]
        elif words and not words.startswith("#"):
            delimiter = delimiter or next((d for d in _DELIMITERS if d in line), ",")
            headers = tuple(next(csv.reader([line.rstrip("\r\n")], delimiter=delimiter)))
            return TextTable(path, encoding, delimiter, headers, number)
    raise TableRefused(f"{path}: the file is empty; its first line should name the columns.")


def _readable(lines: Iterator[str]) -> Iterator[str]:
    """A torn file may hold NUL, and no line of a table is as long as a book; the others are worth reading."""
    return (line.replace("\0", "")[:_LONGEST_LINE] for line in lines)


def _encoding(path: Path, start: bytes) -> str:
    if start[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    for first, what in _KINDS.items():
        if start.startswith(first):
            raise TableRefused(f"{path}: {what}")
    head = start[:200]
    if len(head) >= 4 and head[1::2].count(0) > 0.4 * len(head):  # common practice, no source
        return "utf-16-le"
    if len(head) >= 4 and head[0::2].count(0) > 0.4 * len(head):
        return "utf-16-be"
    first_line = start.lstrip(b"\r\n").split(b"\n", 1)[0]
    if any(byte < 32 and byte not in b"\t\r\f" for byte in first_line):
        raise TableRefused(
            f"{path}: this is not a text file; give a CSV table whose first line names the columns, "
            "or the folder of a session."
        )
    try:
        # Incremental: a character cut in two at the end of the piece is no fault of the file.
        codecs.getincrementaldecoder("utf-8")().decode(start)
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8-sig"


def _cannot(path: Path, error: OSError) -> TableRefused:
    if isinstance(error, FileNotFoundError):
        return TableRefused(f"{path}: there is no such file; check its name and folder.")
    if isinstance(error, IsADirectoryError):
        return TableRefused(f"{path}: this is a folder; give the file in it.")
    if isinstance(error, PermissionError):
        return TableRefused(f"{path}: this file may not be read; check whose it is.")
    return TableRefused(f"{path}: cannot be read ({error.strerror or error}); check the file and its disk.")
