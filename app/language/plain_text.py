"""What is written by rule and not by a catalogue: figures, units, key names, addresses."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from app.language.template import UNIT

_DECIMAL = re.compile(r"(?<![\w.,:/])([-+−±]?\d+)\.(\d+)(?![\w]*[.:/]?\d)")
_KEY = re.compile(
    r"(?:(?:Ctrl|Shift|Alt|Meta)\+)*"
    r"(?:F\d{1,2}|Space|Enter|Return|Esc|Escape|Home|End|Tab|Left|Right|Up|Down|Ins|Del|Backspace|PgUp|PgDown|[A-Z0-9,.+-])"
)
_OTHER_TONGUE = re.compile(
    r"\S+::\S*|\S*/dev/\S+|[A-Za-z]:\\\S*|/\S+/\S*|\*IDN\?|\w+\.(?:csv|json|jsonl|toml|pdf|png)"
)
# A designator, a model or a serial number: `RV101`, `K-40`, `A1B2`.
_CODE = re.compile(r"(?<![\w.,-])(?=[A-Z0-9./-]*\d)(?=[A-Z0-9./-]*[A-Z])[A-Z0-9][A-Z0-9./-]*(?![\w])")
_UNIT = re.compile(rf"(?<![A-Za-z]){UNIT}(?![A-Za-z])")
_LETTERS = re.compile(r"[^\W\d_]{2,}")


@dataclass(frozen=True)
class PlainText:
    """How a language writes what needs no translator: its decimal mark and its names of keys."""

    decimal_mark: str = "."
    keys: Mapping[str, str] = field(default_factory=dict)

    def figures(self, text: str) -> str:
        """The text with the language's decimal mark; addresses and versions keep their points."""
        if self.decimal_mark == ".":
            return text
        return _DECIMAL.sub(rf"\1{self.decimal_mark}\2", text)

    def written(self, text: str) -> str | None:
        """A text that has no words, as the language writes it; None where there are words in it."""
        if _KEY.fullmatch(text):
            return "+".join(self.keys.get(part, part) for part in text.split("+"))
        if not _LETTERS.search(_UNIT.sub("", _CODE.sub("", _OTHER_TONGUE.sub("", text)))):
            return self.figures(text)
        return None
