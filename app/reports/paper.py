"""A report as PDF: laid out by Qt's rich text, page by page, with head, foot and watermark on every one.

Works without a display. Black on white and greys only.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QMarginsF, QRectF, QSizeF, Qt, QUrl
from PySide6.QtGui import (
    QAbstractTextDocumentLayout,
    QColor,
    QFont,
    QFontMetricsF,
    QImage,
    QPageLayout,
    QPageSize,
    QPainter,
    QPalette,
    QPdfWriter,
    QPen,
    QTextDocument,
    QTextOption,
)

from app.records.whole_file import written_whole
from app.reports.page import Document, paper_html, printable
from app.reports.page_breaks import kept_together
from app.reports.trace_picture import require_gui

RESOLUTION = 300
POINTS = 9.0
SMALLEST_POINTS = 5.5
MARGIN_MM, HEAD_MM, FOOT_MM = 15.0, 9.0, 9.0
GREY = QColor(0, 0, 0, 26)
_SIZES = {"A4": QPageSize.PageSizeId.A4, "Letter": QPageSize.PageSizeId.Letter}


def write_pdf(path: Path, document: Document, *, one_page: bool = False) -> int:
    """Write a report; how many pages it has. With `one_page` the letters shrink until it fits.

    The file is there whole or not at all. Raises OSError.
    """
    kept = require_gui()
    with written_whole(path) as fresh:
        with open(fresh, "wb"):  # says in the system's words why not
            pass
        pages = _write(fresh, document, one_page)
    del kept
    return pages


def _write(path: Path, document: Document, one_page: bool) -> int:
    writer = QPdfWriter(str(path))
    writer.setResolution(RESOLUTION)
    writer.setPageSize(QPageSize(_SIZES[document.letterhead.paper]))
    writer.setPageMargins(QMarginsF(), QPageLayout.Unit.Millimeter)
    writer.setTitle(f"{document.title}: {document.subject}")
    writer.setCreator("Warmtrim")
    body = _body(writer)
    points, text = POINTS, _laid_out(writer, document, body, POINTS)
    while one_page and text.pageCount() > 1 and points > SMALLEST_POINTS:
        points -= 0.25
        text = _laid_out(writer, document, body, points)
    if text.pageCount() > 1:
        text = kept_together(
            document.sections,
            lambda sections: _laid_out(writer, replace(document, sections=tuple(sections)), body, points),
            body.height(),
        )
    painter = QPainter(writer)
    if not painter.isActive():
        raise OSError(f"{path}: no page can be drawn there")
    try:
        count = text.pageCount()
        for number in range(count):
            if number:
                writer.newPage()
            _content(painter, text, body, number)
            _frame(painter, writer, document, number + 1, count)
    finally:
        painter.end()
    return count


def _mm(millimetres: float) -> float:
    return millimetres * RESOLUTION / 25.4


def _body(writer: QPdfWriter) -> QRectF:
    """The part of a page between head and foot, in dots."""
    margin = _mm(MARGIN_MM)
    top, bottom = margin + _mm(HEAD_MM) * 0.5, margin + _mm(FOOT_MM) * 0.5
    return QRectF(margin, top, writer.width() - 2.0 * margin, writer.height() - top - bottom)


def _laid_out(writer: QPdfWriter, document: Document, body: QRectF, points: float) -> QTextDocument:
    """All of it on pages of the body's size, in letters of a size."""
    text = QTextDocument()
    text.setUndoRedoEnabled(False)
    text.setDocumentMargin(0.0)
    option = QTextOption()
    option.setWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
    text.setDefaultTextOption(option)
    text.documentLayout().setPaintDevice(writer)
    names = {}
    pictures = {**document.traces, **({"": document.picture} if document.picture else {})}
    for number, (session, content) in enumerate(pictures.items()):
        names[session] = f"picture:{number}"
        image = QImage.fromData(content)
        text.addResource(QTextDocument.ResourceType.ImageResource.value, QUrl(names[session]), image)
    dots = 96.0 / RESOLUTION  # a length in a document is one of 96 to an inch
    width = round(body.width() * dots * (points / POINTS) ** 1.5) - 4
    text.setPageSize(QSizeF(body.width(), body.height()))
    text.setHtml(paper_html(document, points, width, names))
    return text


def _content(painter: QPainter, text: QTextDocument, body: QRectF, number: int) -> None:
    painter.save()
    painter.translate(body.left(), body.top() - number * body.height())
    clip = QRectF(0.0, number * body.height(), body.width(), body.height())
    painter.setClipRect(clip)
    context = QAbstractTextDocumentLayout.PaintContext()
    context.clip = clip
    context.palette.setColor(QPalette.ColorRole.Text, QColor("black"))
    text.documentLayout().draw(painter, context)
    painter.restore()


def _frame(painter: QPainter, writer: QPdfWriter, document: Document, number: int, count: int) -> None:
    """Watermark, head and foot of one page; the watermark over everything, pictures too."""
    if document.watermark:
        _watermark(painter, writer, document.watermark)
    width, height, margin = float(writer.width()), float(writer.height()), _mm(MARGIN_MM)
    font = QFont("DejaVu Sans")
    font.setPointSizeF(7.0)
    painter.setFont(font)
    painter.setPen(QPen(QColor("black"), _mm(0.2)))
    line = QFontMetricsF(font, writer).height() * 1.1
    head = QRectF(margin, margin - line, width - 2.0 * margin, line)
    foot = QRectF(margin, height - margin, width - 2.0 * margin, line)
    if number > 1 or document.watermark:
        _both(painter, head, f"{document.title}: {document.subject}", document.watermark)
    _both(painter, foot, document.letterhead.name, f"Page {number} of {count}")


def _both(painter: QPainter, box: QRectF, left: str, right: str) -> None:
    """Words at both ends of a line; what has no room is cut short."""
    metrics = QFontMetricsF(painter.font(), painter.device())
    taken = metrics.horizontalAdvance(right) + metrics.averageCharWidth() * 2.0
    words = " ".join(str(printable(left)).split())
    shown = metrics.elidedText(words, Qt.TextElideMode.ElideRight, max(0.0, box.width() - taken))
    painter.drawText(box, int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter), shown)
    painter.drawText(box, int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter), right)


def _watermark(painter: QPainter, writer: QPdfWriter, words: str) -> None:
    painter.save()
    font = QFont("DejaVu Sans")
    font.setBold(True)
    font.setPointSizeF(40.0)
    wide = QFontMetricsF(font, writer).horizontalAdvance(words)
    font.setPointSizeF(40.0 * min(1.0, 1.05 * writer.width() / wide))
    painter.setFont(font)
    painter.setPen(QPen(GREY))
    painter.translate(writer.width() / 2.0, writer.height() / 2.0)
    painter.rotate(-50.0)
    box = QRectF(-writer.height(), -_mm(20.0), 2.0 * writer.height(), _mm(40.0))
    painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), words)
    painter.restore()
