"""A file that is there whole or not at all, whatever happens while it is written.

It is written beside its place under a name of its own, so that two windows may write at once, forced to the
disk, and only then put in place; nothing is left behind where that fails.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
from collections.abc import Iterator
from pathlib import Path


@contextlib.contextmanager
def written_whole(path: Path) -> Iterator[Path]:
    """Where to write; what stands there at the end takes the place of `path`.

    Raises OSError, with the place that was asked for, and whatever the writing raises.
    """
    if path.is_dir():
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    if path.exists() and not path.is_file():  # else a device or a pipe would be replaced by a file
        raise OSError(errno.EINVAL, "Is no ordinary file", str(path))
    path = path.resolve() if path.is_symlink() else path
    fresh = path.with_name(f".{path.name[:100]}.{secrets.token_hex(4)}")
    try:
        yield fresh
        with open(fresh, "r+b") as file:
            os.fsync(file.fileno())
        os.replace(fresh, path)
        force_names(path.parent)
    except OSError as error:
        if error.filename not in (fresh, str(fresh)):
            raise
        raise OSError(error.errno, error.strerror, str(path)) from error
    finally:
        with contextlib.suppress(OSError):
            fresh.unlink(missing_ok=True)


def force_names(folder: Path) -> None:
    """Put the names in a folder on the disk, where the system can; what the files hold is forced by itself.

    A file that is forced and whose name is not can be gone after a power cut.
    """
    with contextlib.suppress(OSError):  # no system folder that can be opened (Windows), or one of a server
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def write_whole(path: Path, content: bytes) -> None:
    """Write bytes. Raises OSError; then what was there stays."""
    with written_whole(path) as fresh:
        fresh.write_bytes(content)
