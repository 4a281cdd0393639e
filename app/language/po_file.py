"""Reading gettext PO files: the plain part of the format, which is all that a catalogue here needs.

A message is `msgid` and `msgstr`, each in one or more quoted strings; `#` begins a comment. Contexts and
plural forms are refused: a sentence here is known by its English, and numbers stand in holes.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass


class UnreadablePo(ValueError):
    """A PO file breaks the format; the text says where, and what would be right."""


@dataclass(frozen=True, slots=True)
class Message:
    """One message: the English, what stands for it, whether its translator doubts it, its first line."""

    english: str
    translated: str
    fuzzy: bool
    line: int


def read_po(text: str, name: str) -> list[Message]:
    """The messages of a file without its header; untranslated ones have an empty `translated`.

    Raises UnreadablePo.
    """
    found = [message for message in _messages(text, name) if message.english]
    seen: dict[str, int] = {}
    for message in found:
        if message.english in seen:
            raise UnreadablePo(
                f"{name}, line {message.line}: “{message.english}” stands in line {seen[message.english]}"
                " already; keep one of them"
            )
        seen[message.english] = message.line
    return found


def _messages(text: str, name: str) -> Iterator[Message]:
    parts: dict[str, str] = {}
    fuzzy, begun, field = False, 0, ""
    for number, raw in enumerate([*text.splitlines(), ""], start=1):
        line = raw.strip()
        if not line or line.startswith("#"):
            if parts:
                yield _message(parts, fuzzy, begun, name)
                parts, fuzzy, field = {}, False, ""
            fuzzy = fuzzy or (line.startswith("#,") and "fuzzy" in line)
            continue
        if not line.startswith('"'):
            field, _, line = line.partition(" ")
            if field not in ("msgid", "msgstr"):
                raise UnreadablePo(
                    f"{name}, line {number}: {field!r} is not used here, only msgid and msgstr"
                )
            if field == "msgid" and parts:
                yield _message(parts, fuzzy, begun, name)
                parts, fuzzy = {}, False
            begun = number if field == "msgid" else begun
        if not field:
            raise UnreadablePo(f"{name}, line {number}: a string without msgid or msgstr before it")
        parts[field] = parts.get(field, "") + _string(line.strip(), name, number)


def _message(parts: dict[str, str], fuzzy: bool, line: int, name: str) -> Message:
    if set(parts) != {"msgid", "msgstr"}:
        raise UnreadablePo(f"{name}, line {line}: a message needs one msgid and one msgstr")
    return Message(parts["msgid"], parts["msgstr"], fuzzy, line)


def _string(text: str, name: str, number: int) -> str:
    """The value of one quoted string; the escapes of PO are those of Python."""
    plain = text[1:-1]
    if text == f'"{plain}"' and '"' not in plain and "\\" not in plain:
        return plain  # as nearly all are: reading them as Python takes twenty times as long
    try:
        value = ast.literal_eval(text) if text[:1] == '"' else None
    except (SyntaxError, ValueError):
        value = None
    if not isinstance(value, str):
        raise UnreadablePo(f'{name}, line {number}: put the text between two ", and write \\" inside it')
    return value
