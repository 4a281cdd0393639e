"""Where pages begin: a heading stays with what follows it, and a row of a table is not cut in two.

Qt's rich text breaks lines over pages well, and rows badly. So a section is taken apart where a row would be
cut, what follows begins a page, and is laid out anew, no more of it at a time than fills a page or two.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from PySide6.QtGui import QAbstractTextDocumentLayout, QTextBlock, QTextCursor, QTextDocument, QTextTable

from app.reports.page import HEADING
from app.reports.sections import Section

MOST_BREAKS = 1000
AHEAD = 120  # rows, or parts beside rows, that are laid out to find where the next page begins
SPARE = 0.02  # of a page: Qt sets an empty line behind a table, which would make a page of its own


@dataclass(frozen=True, slots=True)
class _Place:
    """What would be cut: a section's heading, or one row of its pairs, rows or signatures."""

    section: int
    part: str
    row: int


def kept_together(
    sections: Sequence[Section], lay_out: Callable[[Sequence[Section]], QTextDocument], height: float
) -> QTextDocument:
    """The sections laid out on pages of a height, with nothing cut that fits on a page."""
    fixed: list[Section] = []
    rest, many = list(sections), AHEAD
    for _ in range(MOST_BREAKS):
        ahead = _beginning(rest, many)
        place = _first_cut(lay_out(ahead), ahead, height)
        if place is not None:
            parted = _parted(rest, place)
            begins = place.section + len(parted) - len(rest)
            fixed, rest, many = [*fixed, *parted[:begins]], parted[begins:], AHEAD
        elif ahead == rest:
            break
        else:
            many *= 2
    return lay_out([*fixed, *rest])


def _beginning(sections: Sequence[Section], many: int) -> list[Section]:
    """Whole sections with so many rows and other parts together; the last one as far as that goes."""
    found: list[Section] = []
    for section in sections:
        if many <= 0:
            break
        others = 1 + len(section.pairs) + len(section.lines)
        if len(section.rows) > max(many, 2):
            rows = section.rows[: max(many, 2)]
            return [*found, replace(section, rows=rows, picture="", lines=(), signatures=())]
        found.append(section)
        many -= others + len(section.rows)
    return found


def _parted(sections: Sequence[Section], place: _Place) -> list[Section]:
    """The sections with a page that begins at a place."""
    section = sections[place.section]
    if place.part in ("pairs", "rows") and place.row > 0:
        pairs, rows = section.pairs, section.rows
        if place.part == "pairs":
            before = replace(section, pairs=pairs[: place.row], rows=(), picture="", lines=(), signatures=())
            after = replace(section, title="", pairs=pairs[place.row :], new_page=True)
        else:
            before = replace(section, rows=rows[: place.row], picture="", lines=(), signatures=())
            after = replace(section, title="", pairs=(), rows=rows[place.row :], new_page=True)
        between = [before, after]
    elif place.part == "rows" and section.pairs:
        above = replace(section, rows=(), picture="", lines=(), signatures=())
        between = [above, replace(section, title="", pairs=(), new_page=True)]
    else:
        between = [replace(section, new_page=True)]
    return [*sections[: place.section], *between, *sections[place.section + 1 :]]


def _first_cut(text: QTextDocument, sections: Sequence[Section], height: float) -> _Place | None:
    """The first place where a page ends that should not, or where a table goes on without a new one.

    Qt leaves a table that goes over a page's end open there.
    """
    above = 0.0
    for place, top, bottom in _whole_things(text, sections):
        begins_page = sections[place.section].new_page and (place.part == "heading" or place.row == 0)
        end = bottom + SPARE * height if place.part != "heading" else bottom
        cut = int(top // height) != int((end - 0.5) // height) and end - top < height
        goes_over = place.part == "rows" and place.row > 0 and int(top // height) != int(above // height)
        if (cut or goes_over) and not begins_page:
            return place
        above = top
    return None


def _whole_things(text: QTextDocument, sections: Sequence[Section]) -> Iterator[tuple[_Place, float, float]]:
    """Everything that belongs on one page, from the top, with its upper and lower edge."""
    headings = iter([n for n, section in enumerate(sections) if section.title])
    parts = iter([(n, part) for n, section in enumerate(sections) for part in section.tables])
    layout = text.documentLayout()
    here: QTextTable | None = None
    seen_head = False
    section, part = 0, ""
    block = text.begin()
    while block.isValid():
        table = QTextCursor(block).currentTable()
        if table is not None and table != here:
            if seen_head:
                section, part = next(parts)
            seen_head = True  # the very first table is the letterhead
        here = table
        top = layout.blockBoundingRect(block).top()
        if table is not None and part and _begins_row(table, block):
            row = table.cellAt(QTextCursor(block)).row()
            if row >= table.format().headerRowCount():
                place = _Place(section, part, row - table.format().headerRowCount())
                yield place, top, _row_bottom(layout, table, row)
        elif table is None and _is_heading(block):
            headed = next(headings)
            signed = bool(sections[headed].signatures)
            end = _end_of_section(layout, block) if signed else _end_of_following(layout, block.next())
            yield _Place(headed, "heading", 0), top, end
        block = block.next()


def _is_heading(block: QTextBlock) -> bool:
    """Whether a paragraph is a section's title: Qt's own headings come in sizes of its own."""
    return HEADING in block.begin().fragment().charFormat().anchorNames() if block.length() > 1 else False


def _begins_row(table: QTextTable, block: QTextBlock) -> bool:
    cell = table.cellAt(QTextCursor(block))
    return cell.column() == 0 and cell.firstCursorPosition().block() == block


def _row_bottom(layout: QAbstractTextDocumentLayout, table: QTextTable, row: int) -> float:
    """The lower edge of a row."""
    last = (table.cellAt(row, column).lastCursorPosition().block() for column in range(table.columns()))
    return max(layout.blockBoundingRect(block).bottom() for block in last)


def _end_of_following(layout: QAbstractTextDocumentLayout, block: QTextBlock) -> float:
    """The lower edge of what a heading must not be parted from: two rows, a picture, a paragraph."""
    if not block.isValid():
        return 0.0
    table = QTextCursor(block).currentTable()
    if table is None:
        return float(layout.blockBoundingRect(block).bottom())
    return _row_bottom(layout, table, min(table.format().headerRowCount() + 1, table.rows() - 1))


def _end_of_section(layout: QAbstractTextDocumentLayout, heading: QTextBlock) -> float:
    """The lower edge of everything up to the next heading: what is signed stays with its signatures."""
    bottom = 0.0
    block = heading.next()
    while block.isValid() and not _is_heading(block):
        bottom = max(bottom, layout.blockBoundingRect(block).bottom())
        block = block.next()
    return bottom
