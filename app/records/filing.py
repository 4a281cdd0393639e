"""Filing closed sessions away beside the work; its library is imported there, so that nobody waits for it."""

from __future__ import annotations

import contextlib
import threading
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from app.apart import apart
from app.records.places import keep_error

if TYPE_CHECKING:
    from app.records.archive import Archive


def file_in_background(make: Callable[[], Archive], sessions_root: Path) -> threading.Thread:
    """File what is missing in a thread of its own, which holds up nobody and says nothing.

    What it cannot file now is filed the next time; `archive file` says what is in the way.
    """

    def work() -> None:
        try:
            with contextlib.closing(make()) as archive:
                archive.file_missing(sessions_root)
        except (OSError, ValueError):
            pass
        except Exception:  # a defect of this program: its details are of no use to a person at work
            keep_error(traceback.format_exc())

    thread = threading.Thread(target=work, name="archive", daemon=True)
    thread.start()
    return thread


def file_apart(chosen: str, sessions_root: Path) -> threading.Thread:
    """The same for a window, in a process of its own: a day of readings would be felt in it.

    `chosen` is the archive that the settings choose.
    """

    def work() -> None:
        with contextlib.suppress(OSError, ValueError):
            apart(_filed, chosen, sessions_root)

    thread = threading.Thread(target=work, name="archive", daemon=True)
    thread.start()
    return thread


def _filed(chosen: str, sessions_root: Path) -> None:
    file_in_background(lambda: opened_archive(chosen), sessions_root).join()


def opened_archive(chosen: str) -> Archive:
    """The archive that the settings choose; see `app.records.archive_place.open_archive`."""
    from app.records.archive_place import open_archive

    return open_archive(chosen)
