"""What a translator still has to do, and what is wrong with what was done."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from app import language
from app.language.po_file import UnreadablePo, read_po
from app.language.sources import Source, everything
from app.language.template import holes_of, skeleton

FOLDER = Path(__file__).parent
HEADER = """msgid ""
msgstr ""
"Project-Id-Version: Warmtrim\\n"
"Language: {code}\\n"
"MIME-Version: 1.0\\n"
"Content-Type: text/plain; charset=UTF-8\\n"
"Content-Transfer-Encoding: 8bit\\n"
"""


def missing(code: str) -> dict[str, list[Source]]:
    """The sentences of each group that the language has not. Raises UnreadablePo."""
    known = {skeleton(english) for english in language.sentences(code)}
    known |= {skeleton(english) for english in not_shown()}
    left = {
        group: [one for one in sources if skeleton(one.english) not in known]
        for group, sources in everything().items()
    }
    return {group: sources for group, sources in left.items() if sources}


def not_shown() -> frozenset[str]:
    """Sentences in the modules that no window shows, listed by hand."""
    lines = (FOLDER / "not_shown.txt").read_text(encoding="utf-8").splitlines()
    return frozenset(line.replace("\\n", "\n") for line in lines if line)


def missing_files(code: str, folder: Path, each: int) -> Iterator[tuple[Path, int]]:
    """Write what is missing into PO files with empty `msgstr`, at most `each` sentences in one."""
    folder.mkdir(parents=True, exist_ok=True)
    for group, sources in missing(code).items():
        for number in range(0, len(sources), each):
            part = sources[number : number + each]
            last = f"-{number // each + 1}" if len(sources) > each else ""
            path = folder / f"{group}{last}.po"
            path.write_text("\n".join([HEADER.format(code=code), *map(_entry, part)]), encoding="utf-8")
            yield path, len(part)


def checked(code: str) -> list[str]:
    """What is wrong or missing, a line each."""
    problems: list[str] = []
    for path in sorted((FOLDER / code).glob("*.po")):
        try:
            messages = read_po(path.read_text(encoding="utf-8"), path.name)
        except UnreadablePo as problem:
            problems.append(str(problem))
            continue
        for message in messages:
            where = f"{path.name}, line {message.line}"
            if not message.translated:
                problems.append(f"{where}: “{message.english}” is not translated")
            elif trouble := trouble_of(message.english, message.translated):
                problems.append(f"{where}: {trouble}")
    try:
        left = missing(code)
    except UnreadablePo as problem:
        return [*problems, str(problem)]
    return problems + [
        f"missing ({group}, {one.place}): {one.english}" for group, sources in left.items() for one in sources
    ]


def trouble_of(english: str, translated: str) -> str:
    """What is wrong with a translated sentence; empty where nothing is."""
    ours, theirs = holes_of(english), holes_of(translated)
    if len(ours) != len(set(ours)):
        return f"two holes have one name in “{english}”"
    if set(ours) != set(theirs):
        odd = ", ".join(sorted(set(ours) ^ set(theirs)))
        return f"“{translated}” has other holes than the English: {odd}"
    for end, side in ((0, "begin"), (-1, "end")):
        if (english[end] == " ") != (translated[end] == " "):
            return f"“{translated}” must {side} with a space as the English does, or without one"
    return ""


def _entry(source: Source) -> str:
    return f'#: {source.place}\nmsgid "{_quoted(source.english)}"\nmsgstr ""\n'


def _quoted(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
