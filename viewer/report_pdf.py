"""A report as PDF: laid out on pages first, then painted; text stays text, fonts are embedded."""

import re

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QMarginsF
from PySide6.QtGui import QPageLayout, QPageSize, QPainter, QPdfWriter

from loomlight.signal.errors import LoomlightError
from loomlight.signal.progress import Progress, unwatched
from loomlight.viewer.report_blocks import Report
from loomlight.viewer.report_flow import PageFlow
from loomlight.viewer.report_words import FOOT, PAGE

PAPERS = {"a4": QPageSize.PageSizeId.A4, "letter": QPageSize.PageSizeId.Letter}
DOTS_AN_INCH = 300
LETTER_TABLE = re.compile(rb"\nbegincmap\n.*?\nendcmap\n", re.DOTALL)
"""ISO 32000-1, 9.10.3: "ToUnicode CMaps"."""
MARGINS_MM = QMarginsF(17.0, 14.0, 17.0, 12.0)


def report_pdf(report: Report, paper: str, progress: Progress = unwatched) -> bytes:
    """The report as bytes of a PDF file; needs `loomlight.viewer.snapshot.ready_to_paint` first.

    Parameters
    ----------
    report : Report
        What is in it.
    paper : {"a4", "letter"}
        Size of its pages.
    progress : Progress
        0 to 1.
    """
    content = QByteArray()
    buffer = QBuffer(content)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setTitle(report.title)
    writer.setCreator(report.made)
    writer.setResolution(DOTS_AN_INCH)
    writer.setPageLayout(
        QPageLayout(QPageSize(PAPERS[paper]), QPageLayout.Orientation.Portrait, MARGINS_MM, QPageLayout.Unit.Millimeter)
    )
    flow = PageFlow(writer, report.title, report.business)
    for number, block in enumerate(report.blocks):
        flow.add(block, report.blocks[number + 1] if number + 1 < len(report.blocks) else None)
        progress(0.5 * number / len(report.blocks))
    pages = flow.finished(FOOT, report.made, PAGE)
    painter = QPainter()
    if not painter.begin(writer):
        raise LoomlightError("The report could not be painted. Free some memory and try again.")
    painter.setRenderHint(QPainter.RenderHint.LosslessImageRendering)
    for number, page in enumerate(pages):
        if number:
            writer.newPage()
        for paint in page:
            paint(painter)
        progress(0.5 + 0.5 * number / len(pages))
    painter.end()
    buffer.close()
    return _with_spaces(content.data())


def _with_spaces(pdf: bytes) -> bytes:
    """Say that the space between words is a space.

    Fonts draw tab and space with one glyph, and Qt's table from glyphs to letters names the lower of the two: words that
    are searched for or copied would have tabs between them. The table stands in plain text, and keeps its length.
    """
    return LETTER_TABLE.sub(lambda table: table.group().replace(b"<0009>", b"<0020>"), pdf)
