"""The decimal sign of the numbers that are shown; files and records always have the point."""

from __future__ import annotations

import re

from PySide6.QtCore import QLocale

from app.language import write_figures_with

# One point between digits; not those of an address or a version with several.
_POINT = re.compile(r"(?<![\w.])(\d+)\.(?=\d+(?!\d|\.\d))")


class NumberSign:
    """The sign in force; whatever shows a number asks for it."""

    def __init__(self) -> None:
        self.sign = "."

    def take(self, choice: str) -> None:
        """Take up `point`, `comma`, or `system`: that of the language, and of the system where it is its."""
        self.sign = sign_of(choice)
        write_figures_with(self.sign)


def sign_of(choice: str) -> str:
    """The sign for a choice. A locale with neither point nor comma is shown the point."""
    if choice in ("point", "comma"):
        return "." if choice == "point" else ","
    return "," if QLocale().decimalPoint() == "," else "."


NUMBER_SIGN = NumberSign()


def signed(text: str) -> str:
    """Words with their numbers in the sign in force."""
    return text if NUMBER_SIGN.sign == "." else _POINT.sub(rf"\1{NUMBER_SIGN.sign}", text)
