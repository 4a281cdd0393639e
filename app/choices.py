"""What a person chooses about the window, the foot switch and the head of the report; kept at once."""

from __future__ import annotations

from collections.abc import Callable

from app.settings import Settings
from app.settings_file import SettingsFile


class ChoiceDesk:
    """Changes the settings in force and the file they are kept in."""

    def __init__(
        self, current: Callable[[], Settings], take: Callable[[Settings], None], file: SettingsFile
    ) -> None:
        self._current = current
        self._take = take
        self._file = file

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
            self._file.keep(fresh)
        except OSError as error:
            return (
                f"In use now, but not kept for the next start: {error.strerror or error} ({self._file.path})"
            )
        return ""
