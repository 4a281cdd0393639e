"""Blocks of binary data as an instrument answers with them. Not here: how the bytes arrive.

Source: IEEE 488.2-1992, 8.7.9: `#`, one digit n from 1 to 9, n digits that say how many bytes follow, the
bytes. The form of indefinite length (8.7.10, `#0`) is refused: on a line nothing says where it ends.
"""

from __future__ import annotations

BLOCK_LIMIT = 64 * 1024 * 1024
_SHORTEST = 2


def block_place(data: bytes | bytearray) -> tuple[int, int] | None:
    """Where the bytes of a block begin and end, from what has come so far; None: not known yet.

    Raises:
        ValueError: this is the beginning of no such block, in words.
    """
    if data[:1] not in (b"", b"#"):
        raise ValueError("no block of data came but a line")
    if len(data) < _SHORTEST:
        return None
    digits = bytes(data[1:2])
    if digits == b"0":
        raise ValueError("a block came without its length, which cannot be told from a broken one")
    if not digits.isdigit():
        raise ValueError("the block's length is garbled")
    first = _SHORTEST + int(digits)
    written = bytes(data[_SHORTEST:first])
    if written and not written.isdigit():
        raise ValueError("the block's length is garbled")
    if len(written) < int(digits):
        return None
    return first, first + int(written)


def bounded_place(data: bytes | bytearray, most: int) -> tuple[int, int] | None:
    """The same, and ValueError too where the block is announced with more than `most` bytes."""
    place = block_place(data)
    if place is not None and place[1] - place[0] > most:
        raise ValueError(
            f"a block of {place[1] - place[0]} bytes was announced where at most {most} may come"
        )
    return place


def whole_block(message: bytes, most: int) -> bytes:
    """The bytes of the block that a whole message holds.

    Raises:
        ValueError: it holds none, a shorter one than announced, or something behind it; in words.
    """
    place = bounded_place(message, most)
    if place is None:
        raise ValueError("the message ended before the block had begun")
    first, last = place
    if len(message) < last:
        raise ValueError(f"{last - first} bytes were announced and {len(message) - first} came")
    if message[last:].strip(b"\0\r\n \t"):
        raise ValueError("something came behind the block")
    return message[first:last]
