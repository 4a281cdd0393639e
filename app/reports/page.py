"""Sections to HTML: one page for browsers, and the same for the layout of paper; every text is escaped."""

from __future__ import annotations

import base64
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import jinja2
from markupsafe import Markup

from app.reports.sections import Section
from app.settings import Letterhead

PAGES = Path(__file__).with_name("pages")
HEADING = "heading"  # how the layout of paper knows a section's title
PICTURE_HEIGHT = 56
MOST_PICTURE_BYTES = 4_000_000
_TYPES = {b"\x89PNG\r\n\x1a\n": "image/png", b"\xff\xd8\xff": "image/jpeg"}
# Marks that reverse or embed the direction of what follows would reach over the whole line.
_DIRECTION_MARKS = "".join(map(chr, (*range(0x202A, 0x202F), *range(0x2066, 0x206A))))
_LONG_WORD = re.compile(r"\S{24,}")
_PAGE_BREAK = Markup(' style="page-break-before: always"')
_BREAK = "\N{ZERO WIDTH SPACE}"


class PictureUnusable(ValueError):
    """The workshop's picture cannot be printed; the text says why."""


@dataclass(frozen=True, slots=True)
class Document:
    """What is to be drawn. `traces` are pictures by their name in a section; `watermark` is on all pages."""

    title: str
    subject: str
    sections: tuple[Section, ...]
    letterhead: Letterhead = field(default_factory=Letterhead)
    picture: bytes = b""
    traces: Mapping[str, bytes] = field(default_factory=dict)
    watermark: str = ""


def read_picture(path: str) -> bytes:
    """The workshop's picture, a PNG or JPEG file.

    Raises:
        PictureUnusable: with one sentence.
    """
    try:
        content = Path(path).expanduser().read_bytes()
    except OSError as error:
        raise PictureUnusable(f"{path}: {error.strerror or error}; the report has no picture") from None
    if len(content) > MOST_PICTURE_BYTES or _type_of(content) == "":
        words = "the workshop's picture has to be a PNG or JPEG file of 4 MB at the most"
        raise PictureUnusable(f"{path}: {words}; the report has no picture")
    return content


def _type_of(content: bytes) -> str:
    return next((kind for start, kind in _TYPES.items() if content.startswith(start)), "")


def screen_html(document: Document) -> str:
    """One file for a browser, with its pictures in it."""
    sources = {name: _data(content) for name, content in document.traces.items()}
    picture = _data(document.picture) if document.picture else ""
    style = _style("screen.css", paper=document.letterhead.paper)
    return _page(document, style, sources, picture, on_screen=True, trace_width="100%", small_width="33%")


def paper_html(document: Document, points: float, trace_width: int, names: Mapping[str, str]) -> str:
    """The same for paper; `names` are those of the pictures, the workshop's under an empty key."""
    style = _style("paper.css", points=points, gap=round(points * 1.3))
    sources = {session: names[session] for session in document.traces}
    widths = {"trace_width": f"{trace_width}", "small_width": f"{trace_width // 3}"}
    return _page(document, style, sources, names.get("", ""), on_screen=False, **widths)


def _data(content: bytes) -> str:
    return f"data:{_type_of(content)};base64,{base64.b64encode(content).decode('ascii')}"


def _style(name: str, **values: object) -> Markup:
    return Markup(_environment(printable).get_template(name).render(values))


def _page(
    document: Document,
    style: Markup,
    traces: Mapping[str, str],
    picture: str,
    *,
    on_screen: bool,
    trace_width: str,
    small_width: str,
) -> str:
    letterhead = document.letterhead
    page = _environment(printable if on_screen else breakable).get_template("report.html")
    return page.render(
        title=document.title,
        subject=document.subject,
        sections=document.sections,
        watermark=document.watermark,
        style=style,
        workshop=letterhead.name.strip(),
        address=_lines(letterhead.address),
        picture=Markup(picture),
        picture_height=PICTURE_HEIGHT,
        traces={name: Markup(source) for name, source in traces.items()},
        trace_width=trace_width,
        small_width=small_width,
        on_screen=on_screen,
        page_break=_PAGE_BREAK,
        heading=HEADING,
    )


def _lines(text: str) -> Sequence[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _environment(finalize: object) -> jinja2.Environment:
    return jinja2.Environment(
        loader=jinja2.FileSystemLoader(PAGES),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        finalize=finalize,  # type: ignore[arg-type]
    )


def printable(value: object) -> object:
    """A text without control characters and without marks that turn the direction of a whole line."""
    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    return "".join(_shown(letter) for letter in value if letter not in _DIRECTION_MARKS)


def _shown(letter: str) -> str:
    if letter in "\n\t" or unicodedata.category(letter) not in ("Cc", "Cs", "Co", "Cn"):
        return letter
    return "\N{REPLACEMENT CHARACTER}"


def breakable(value: object) -> object:
    """The same, with places in very long words where a line may end."""
    text = printable(value)
    if not isinstance(text, str) or isinstance(text, Markup):
        return text
    return _LONG_WORD.sub(_with_breaks, text)


def _with_breaks(word: re.Match[str]) -> str:
    text = word.group()
    return _BREAK.join(text[i : i + 12] for i in range(0, len(text), 12))
