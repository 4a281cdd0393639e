"""Where sessions and settings live on this computer, and whether they can be written there."""

from __future__ import annotations

import contextlib
import os
import uuid
from datetime import UTC, datetime
from pathlib import Path

import platformdirs

MOST_BYTES = 1_000_000  # of details of errors


def default_sessions_folder() -> Path:
    """The folder for session folders that suits this operating system."""
    return platformdirs.user_data_path("warmtrim", appauthor=False) / "sessions"


def settings_file() -> Path:
    """The file that the settings are kept in."""
    return platformdirs.user_config_path("warmtrim", appauthor=False) / "settings.json"


def dialects_folder() -> Path:
    """The folder for a user's own files that describe meters; it need not exist."""
    return platformdirs.user_config_path("warmtrim", appauthor=False) / "dialects"


def audio_dialects_folder() -> Path:
    """The folder for a user's own files that describe generators and digitisers; it need not exist."""
    return dialects_folder() / "audio"


def error_log_file() -> Path:
    """The file that keeps the details of unexpected errors."""
    return platformdirs.user_log_path("warmtrim", appauthor=False) / "errors.log"


def keep_error(details: str) -> Path | None:
    """Add the details of an unexpected error to the log; where they are, or None if that failed too.

    A log that has grown long is put aside once, so that an error a second does not fill the disk.
    """
    path = error_log_file()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.exists() and path.stat().st_size > MOST_BYTES:
            os.replace(path, path.with_suffix(".before"))
        with open(path, "a", encoding="utf-8", errors="backslashreplace") as file:
            file.write(f"{datetime.now(UTC).isoformat(timespec='seconds')}\n{details}\n")
    except OSError:
        return None
    return path


class FolderUnusable(OSError):
    """A folder cannot hold sessions; the text says why and what to do."""


def require_writable(folder: Path) -> None:
    """Make the folder and try a file in it, before anything is measured.

    Raises:
        FolderUnusable: with one sentence for a person.
    """
    trial = folder / f".try-{uuid.uuid4().hex}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        trial.write_bytes(b"x")
        trial.unlink()
    except OSError as error:
        with contextlib.suppress(OSError):
            trial.unlink(missing_ok=True)  # a full disk takes a name, and then no letter
        reason = os.strerror(error.errno) if error.errno else str(error)
        raise FolderUnusable(
            f"{folder} cannot be written ({reason}), so nothing would be recorded: "
            "choose another folder for the sessions, or give yourself the right to write there."
        ) from error
