"""What the sheet of settings needs of the rest of the program."""

from __future__ import annotations

from typing import Protocol

from app.settings import Settings


class Choices(Protocol):
    """The settings, and how to change them."""

    @property
    def now(self) -> Settings:
        """What is chosen."""
        ...

    def choose(self, **changes: object) -> str:
        """Take other values by name; a sentence where they are not kept, else empty. Raises ValueError."""
        ...


class Chosen(Protocol):
    """Whatever has choices."""

    @property
    def choices(self) -> Choices:
        """What a person chooses about the window, the foot switch and the head of the report."""
        ...
