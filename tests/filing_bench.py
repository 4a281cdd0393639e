"""A bench in a process of its own: it files a folder of sessions, however often the server goes away."""

from __future__ import annotations

import sys
import time
from pathlib import Path

from app.records.archive import Archive, ArchiveAway
from app.records.archive_place import address_of

LONGEST_S = 300.0


def file_all(address: str, bench: str, root: Path) -> None:
    """File everything, however often the server goes away."""
    until = time.monotonic() + LONGEST_S
    while True:
        archive = Archive(address_of(address), bench)
        try:
            archive.file_missing(root)
            return
        except ArchiveAway:
            if time.monotonic() > until:
                raise
            time.sleep(0.1)
        finally:
            archive.close()


if __name__ == "__main__":
    file_all(sys.argv[1], sys.argv[2], Path(sys.argv[3]))
