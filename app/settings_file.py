"""The settings' file as one process has it: one writes at a time, and never over what another changed."""

from __future__ import annotations

import contextlib
import errno
from collections.abc import Iterator
from pathlib import Path

from app.settings import Settings, save_settings

_PATIENCE_S = 2.0


class SettingsFile:
    """Where the settings are kept; `known` is what this process read there, or wrote last."""

    def __init__(self, path: Path, known: Settings) -> None:
        self.path = path
        self._known = known

    def keep(self, settings: Settings) -> None:
        """Write what was changed since the last time; what others changed meanwhile stays. Raises OSError."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        with _alone(self.path):
            there = _as_it_stands(self.path)
            whole = settings
            if there is not None:
                from app.settings_merge import put_together

                whole = put_together(settings, self._known, there)
            save_settings(self.path, whole)
        self._known = settings


@contextlib.contextmanager
def _alone(path: Path) -> Iterator[None]:
    """Keep other processes from reading and writing meanwhile. Raises OSError."""
    from filelock import FileLock, Timeout  # only when something is kept: a window is up before

    lock = FileLock(path.with_name(f".{path.name}.lock"), timeout=_PATIENCE_S)
    try:
        lock.acquire()
    except Timeout:
        raise OSError(errno.EAGAIN, "another window is writing the settings", str(path)) from None
    except NotImplementedError:  # a server's folder without locks: as good as it gets
        yield
        return
    try:
        yield
    finally:
        lock.release()


def _as_it_stands(path: Path) -> Settings | None:
    """What the file says now; None where there is none, or none that can be read."""
    try:
        return Settings.model_validate_json(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
