"""What a person chooses about the window, the foot switch and the head of the report; kept at once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from app.settings import Settings, save_settings


class ChoiceDesk:
    """Changes the settings in force and the file they are kept in."""

    def __init__(self, current: Callable[[], Settings], take: Callable[[Settings], None], path: Path) -> None:
        self._current = current
        self._take = take
        self._path = path

    @property
    def now(self) -> Settings:
        """What is chosen."""
        return self._current()

    def choose(self, **changes: object) -> str:
        """Take other values for some settings by name; a sentence where they are not kept, else empty.

        Raises pydantic.ValidationError (a ValueError) for a value out of range, and changes nothing then.
        """
        fresh = Settings.model_validate(self._current().model_dump() | changes)
        self._take(fresh)
        try:
            save_settings(self._path, fresh)
        except OSError as error:
            return f"In use now, but not kept for the next start: {error.strerror or error} ({self._path})"
        return ""
