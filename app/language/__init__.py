"""The language of what is shown: which there are, which is chosen, and a text in it.

Only what a window shows or a voice speaks goes through here. The record (journals, exports, reports) and the
terminal stay English, so that a session reads the same on every bench.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from app.language.catalogue import Catalogue, Found
from app.language.plain_text import PlainText
from app.language.po_file import UnreadablePo, read_po

SYSTEM = "system"
ENGLISH = "en"
_ROOT = Path(__file__).parent


@dataclass(frozen=True, slots=True)
class Language:
    """A language that can be chosen: its code, and its name in itself."""

    code: str
    name: str


class _Spoken:
    """The language in force in this process."""

    def __init__(self) -> None:
        self.code = ENGLISH
        self.decimal_mark = "."
        self.catalogue: Catalogue | None = None
        self.names: set[str] = set()
        self.heard: Callable[[str, Found], None] | None = None


_SPOKEN = _Spoken()


@cache
def available() -> tuple[Language, ...]:
    """The languages that can be chosen, English first."""
    found = [
        Language(path.parent.name, str(_facts(path.parent.name)["name"]))
        for path in sorted(_ROOT.glob("*/language.toml"))
    ]
    return (Language(ENGLISH, "English"), *found)


def resolved(setting: str, system: str = "") -> str:
    """The code of the language that a setting means.

    Args:
        setting: A language's code; `system` or empty means that of the desktop.
        system: The desktop's locale, such as `de_AT`; empty: what the environment says.
    """
    wanted = setting if setting not in ("", SYSTEM) else system or _of_environment()
    code = wanted.replace("-", "_").split("_")[0].split(".")[0].lower()
    return code if code in {language.code for language in available()} else ENGLISH


def choose(code: str) -> None:
    """Show everything in this language from now on. Raises ValueError for one that there is not.

    Windows that are open take it up when they are told (`app.windows.worded.speak`).
    """
    if code not in {language.code for language in available()}:
        raise ValueError(f"there is no language {code!r}")
    _SPOKEN.code = code
    _SPOKEN.catalogue = None if code == ENGLISH else _catalogue(code, _SPOKEN.decimal_mark)
    if _SPOKEN.catalogue is not None:
        _SPOKEN.catalogue.forget()  # names may have come since it was last in force


def write_figures_with(decimal_mark: str) -> None:
    """Write figures inside sentences of another language with this mark from now on."""
    _SPOKEN.decimal_mark = decimal_mark
    choose(_SPOKEN.code)


def chosen() -> str:
    """The code of the language in force."""
    return _SPOKEN.code


def worded(text: str) -> str:
    """The text in the language in force; a sentence with a part that is not known in it stays English."""
    if _SPOKEN.catalogue is None or not text:
        return text
    found = _SPOKEN.catalogue.find(text)
    if _SPOKEN.heard is not None:
        _SPOKEN.heard(text, found)
    return found.text


def whole(text: str) -> str | None:
    """The text in the language in force, all of it; None where a part is not known, and for English."""
    found = None if _SPOKEN.catalogue is None else _SPOKEN.catalogue.find(text)
    return None if found is None or found.unknown else found.text


def pass_names(names: Iterable[str]) -> None:
    """Names that somebody gave, from now on: they stand in sentences of any language as they are."""
    fresh = {name.strip() for name in names} - _SPOKEN.names - {""}
    if fresh:
        _SPOKEN.names |= fresh
        if _SPOKEN.catalogue is not None:
            _SPOKEN.catalogue.forget()


def listen(heard: Callable[[str, Found], None] | None) -> None:
    """Be told of every text that is shown and of what was not known of it; None: no longer."""
    _SPOKEN.heard = heard


# --- the files of a language --------------------------------------------------------------------------


def sentences(code: str) -> dict[str, str]:
    """All sentences of a language by their English. Raises UnreadablePo."""
    together: dict[str, str] = {}
    for path in sorted((_ROOT / code).glob("*.po")):
        for message in read_po(path.read_text(encoding="utf-8"), path.name):
            if message.translated and not message.fuzzy:
                known = together.setdefault(message.english, message.translated)
                if known != message.translated:
                    raise UnreadablePo(
                        f"{path.name}, line {message.line}: “{message.english}” is translated otherwise in"
                        " another file; let both say the same"
                    )
    return together


def plain_text(code: str, decimal_mark: str = ".") -> PlainText:
    """How a language writes figures and keys."""
    return PlainText(decimal_mark, _facts(code).get("keys", {}))  # type: ignore[arg-type]


@cache
def _catalogue(code: str, decimal_mark: str) -> Catalogue:
    return Catalogue(sentences(code), plain_text(code, decimal_mark), _SPOKEN.names)


def _facts(code: str) -> dict[str, object]:
    return tomllib.loads((_ROOT / code / "language.toml").read_text(encoding="utf-8"))


def _of_environment() -> str:
    """The desktop's language as POSIX tells it."""
    for name in ("LC_ALL", "LC_MESSAGES", "LANG"):
        if os.environ.get(name):
            return os.environ[name]
    return ""
