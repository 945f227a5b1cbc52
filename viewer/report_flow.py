"""Lays a report's blocks out on pages: what is painted where, before anything is painted."""

from collections.abc import Callable

from PySide6.QtCore import QLineF, QPointF, QRectF, QSizeF, Qt
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetricsF,
    QImage,
    QPagedPaintDevice,
    QPainter,
    QPen,
    QTextLayout,
    QTextOption,
)

from loomlight.viewer.report_blocks import (
    Block,
    Boxed,
    Bullets,
    Business,
    Facts,
    Heading,
    NewPage,
    Picture,
    Table,
    Text,
)
from loomlight.viewer.report_picture import image_of

Paint = Callable[[QPainter], None]
Lines = list["Line"]
TEXT_POINTS, SMALL_POINTS, FOOT_POINTS = 9.5, 8.5, 7.5
HEADING_POINTS = {1: 17.0, 2: 12.0, 3: 10.5}
GREY, LIGHT = "#777777", "#eeeeee"
LEAST_AFTER_HEADING_MM = 12.0
LOGO_MM = QSizeF(45.0, 18.0)
LIGATURES = QFont.Tag("liga")
LEAST_PICTURE = 0.6
"""A picture is drawn smaller, down to this share of its full size, before it goes to the next page."""


class Line:
    """One laid-out line of text."""

    def __init__(self, layout: QTextLayout, index: int) -> None:
        self._layout, self._index = layout, index  # the layout has to live as long as its lines
        self.height = layout.lineAt(index).height()

    def paint_at(self, x: float, y: float) -> Paint:
        """What paints it."""
        return lambda painter: self._layout.lineAt(self._index).draw(painter, QPointF(x, y))


class PageFlow:
    """Fills pages from top to bottom; all sizes in the device's dots."""

    def __init__(self, device: QPagedPaintDevice, title: str, business: Business) -> None:
        self._device = device
        self._mm = device.logicalDpiX() / 25.4
        area = device.pageLayout().paintRectPixels(device.logicalDpiX())
        self._width, self._height = float(area.width()), float(area.height())
        self._title, self._business = title, business
        self._bottom = self._height - 15 * self._mm
        self._pages: list[list[Paint]] = [[]]
        self._y = 0.0
        self._letterhead(business)

    # Blocks

    def add(self, block: Block, following: Block | None = None) -> None:
        """Put one block where the last one ended, or on a new page; a heading stays with what is ``following``."""
        if isinstance(block, Heading):
            self._heading(block, following)
        elif isinstance(block, Text):
            self._lines(self._laid(block.text, TEXT_POINTS, bold=block.bold), 0.0)
            self._y += 1.2 * self._mm
        elif isinstance(block, Bullets):
            self._bullets(block)
        elif isinstance(block, Facts):
            self._rows(tuple(block.rows), (0.26, 0.74), ruled=False, strong=(), bold_first=True)
        elif isinstance(block, Table):
            self._table(block)
        elif isinstance(block, Picture):
            self._picture(block)
        elif isinstance(block, Boxed):
            self._boxed(block)
        else:
            assert isinstance(block, NewPage)
            self._new_page()

    def finished(self, foot: str, made: str, page_words: str) -> list[list[Paint]]:
        """All pages, with their feet."""
        for number, page in enumerate(self._pages, start=1):
            self._foot(page, foot, made, page_words.format(number=number, count=len(self._pages)))
        return self._pages

    def _heading(self, block: Heading, following: Block | None) -> None:
        gap = {1: 1.0, 2: 3.0, 3: 2.5}[block.level] * self._mm
        lines = self._laid(block.text, HEADING_POINTS[block.level], bold=True)
        after = LEAST_AFTER_HEADING_MM * self._mm
        if isinstance(following, Picture):
            image = image_of(following.content)
            after += LEAST_PICTURE * self._fitted(image, following.most_height * self._bottom).height()
        self._need(gap + sum(one.height for one in lines) + after)
        if self._y > 0:
            self._y += gap
        self._lines(lines, 0.0)
        if block.level == 2:
            self._rule(self._y, 0.25)
        self._y += 1.2 * self._mm

    def _bullets(self, block: Bullets) -> None:
        indent = 4.0 * self._mm if block.signs else 0.0
        for text in block.lines:
            lines = self._laid(text, TEXT_POINTS, width=self._width - indent)
            self._need(lines[0].height)
            if block.signs:
                self._paint(self._laid("•", TEXT_POINTS)[0].paint_at(0.8 * self._mm, self._y))
            self._lines(lines, indent)
            self._y += 0.8 * self._mm
        self._y += 0.6 * self._mm

    def _boxed(self, block: Boxed) -> None:
        pad = 2.5 * self._mm
        lines = self._laid(block.text, TEXT_POINTS, width=self._width - 2 * pad)
        self._y += 1.5 * self._mm
        for part in self._by_page(lines, 2 * pad):
            height = sum(one.height for one in part) + 2 * pad
            self._frame(QRectF(0, self._y, self._width, height), 0.5)
            y = self._y + pad
            for one in part:
                self._paint(one.paint_at(pad, y))
                y += one.height
            self._y += height + 1.5 * self._mm

    def _picture(self, block: Picture) -> None:
        image = image_of(block.content)
        caption = self._laid(block.caption, SMALL_POINTS) if block.caption else []
        below = sum(one.height for one in caption) + 2.0 * self._mm
        if image.isNull():
            self._lines(self._laid(block.words, TEXT_POINTS), 0.0)
            return
        whole = self._fitted(image, min(block.most_height * self._bottom, self._bottom - below))
        here = self._fitted(image, min(whole.height(), self._bottom - self._y - below))
        if here.height() < LEAST_PICTURE * whole.height() or here.width() < LEAST_PICTURE * whole.width():
            self._new_page()
            here = whole
        rect = QRectF(0.5 * (self._width - here.width()), self._y, here.width(), here.height())
        self._paint(lambda painter: painter.drawImage(rect, image))
        self._frame(rect, 0.15)
        self._y += here.height() + 0.8 * self._mm
        self._lines(caption, 0.0)
        self._y += 1.2 * self._mm

    def _fitted(self, image: QImage, height: float) -> QSizeF:
        size = QSizeF(image.size()) if not image.isNull() else QSizeF(1, 1)
        size.scale(self._width, max(height, 1.0), Qt.AspectRatioMode.KeepAspectRatio)
        return size

    def _table(self, block: Table) -> None:
        head = self._cells(block.head, block.shares, bold=True)
        first = self._cells(block.rows[0], block.shares, bold=0 in block.strong) if block.rows else head
        self._need(_row_height(head) + min(_row_height(first), 30 * self._mm) + 4 * self._mm)
        self._row(head, block.shares, fill=True)
        self._rows(block.rows, block.shares, ruled=True, strong=block.strong, head=head)

    def _rows(
        self,
        rows: tuple[tuple[str, ...], ...],
        shares: tuple[float, ...],
        *,
        ruled: bool,
        strong: tuple[int, ...],
        head: list[Lines] | None = None,
        bold_first: bool = False,
    ) -> None:
        for number, row in enumerate(rows):
            cells = self._cells(row, shares, bold=number in strong, ruled=ruled, bold_first=bold_first)
            while any(cells):
                room = self._bottom - self._y - 2 * self._pad(ruled)
                if _row_height(cells) > room and (room < 12 * self._mm or _row_height(cells) < 0.5 * self._bottom):
                    self._new_page()
                    if head is not None:
                        self._row(head, shares, fill=True)
                    room = self._bottom - self._y - 2 * self._pad(ruled)
                now, cells = _split(cells, room)
                self._row(now, shares, fill=False, ruled=ruled)
        self._y += 1.5 * self._mm

    def _cells(
        self,
        texts: tuple[str, ...],
        shares: tuple[float, ...],
        *,
        bold: bool,
        ruled: bool = True,
        bold_first: bool = False,
    ) -> list[Lines]:
        pad = self._pad(ruled)
        points = SMALL_POINTS if ruled else TEXT_POINTS
        return [
            self._laid(text, points, bold=bold or (bold_first and not place), width=share * self._width - 2 * pad)
            for place, (text, share) in enumerate(zip(texts, shares, strict=True))
        ]

    def _pad(self, ruled: bool) -> float:
        return (1.0 if ruled else 0.35) * self._mm

    def _row(self, cells: list[Lines], shares: tuple[float, ...], *, fill: bool, ruled: bool = True) -> None:
        pad = self._pad(ruled)
        height = _row_height(cells) + 2 * pad
        left = 0.0
        for lines, share in zip(cells, shares, strict=True):
            rect = QRectF(left, self._y, share * self._width, height)
            if fill:
                self._paint(lambda painter, rect=rect: painter.fillRect(rect, QColor(LIGHT)))
            if ruled:
                self._frame(rect, 0.15)
            y = self._y + pad
            for one in lines:
                self._paint(one.paint_at(left + pad, y))
                y += one.height
            left += share * self._width
        self._y += height

    # Pages

    def _letterhead(self, business: Business) -> None:
        words = "\n".join(
            one.strip() for one in (business.address, business.contact, business.tax_number) if one.strip()
        )
        logo = image_of(business.logo) if business.logo else QImage()
        if not (words or business.name.strip() or not logo.isNull()):
            return
        left = 0.0
        size = QSizeF()
        if not logo.isNull():
            size = QSizeF(logo.size())
            size.scale(LOGO_MM.width() * self._mm, LOGO_MM.height() * self._mm, Qt.AspectRatioMode.KeepAspectRatio)
            rect = QRectF(QPointF(0, 0), size)
            self._paint(lambda painter: painter.drawImage(rect, logo))
            left = size.width() + 5 * self._mm
        room = self._width - left
        lines = self._laid(business.name.strip(), 12.0, bold=True, width=room) if business.name.strip() else []
        lines += self._laid(words, SMALL_POINTS, width=room) if words else []
        for one in lines:
            self._paint(one.paint_at(left, self._y))
            self._y += one.height
        self._y = max(self._y, size.height()) + 2 * self._mm
        self._rule(self._y, 0.5)
        self._y += 4 * self._mm

    def _new_page(self) -> None:
        """A new page with the title above; on an empty page nothing."""
        if self._y <= self._top and len(self._pages) > 1:
            return
        self._pages.append([])
        self._y = 0.0
        name = self._business.name.strip()
        words = f"{self._title}  ·  {name}" if name else self._title
        metrics = QFontMetricsF(self._font(FOOT_POINTS), self._device)
        words = metrics.elidedText(" ".join(words.split()), Qt.TextElideMode.ElideRight, self._width)
        self._lines(self._laid(words, FOOT_POINTS), 0.0)
        self._rule(self._y + 0.8 * self._mm, 0.15)
        self._y += 4 * self._mm
        self._top_of_page = self._y

    @property
    def _top(self) -> float:
        return getattr(self, "_top_of_page", 0.0)

    def _foot(self, page: list[Paint], foot: str, made: str, number: str) -> None:
        y = self._bottom + 3 * self._mm
        line = QLineF(0, y, self._width, y)
        page.append(lambda painter: _ruled(painter, line, 0.15 * self._mm))
        y += 1 * self._mm
        for one in self._laid(foot, FOOT_POINTS):
            page.append(one.paint_at(0.0, y))
            y += one.height
        metrics = QFontMetricsF(self._font(FOOT_POINTS), self._device)
        page.append(self._laid(made, FOOT_POINTS)[0].paint_at(0.0, y))
        page.append(self._laid(number, FOOT_POINTS)[0].paint_at(self._width - metrics.horizontalAdvance(number) - 2, y))

    def _need(self, height: float) -> None:
        if self._y + height > self._bottom and self._y > self._top:
            self._new_page()

    def _by_page(self, lines: Lines, beside: float) -> list[Lines]:
        """Lines in parts that fit a page; goes on to a new page where nothing fits any more."""
        self._need(lines[0].height + beside)
        parts: list[Lines] = [[]]
        room = self._bottom - self._y - beside
        for one in lines:
            if sum(each.height for each in parts[-1]) + one.height > room and parts[-1]:
                parts.append([])
                room = self._bottom - 10 * self._mm - beside
            parts[-1].append(one)
        return parts

    # Pieces

    def _font(self, points: float, *, bold: bool = False) -> QFont:
        font = QFont()
        font.setPointSizeF(points)
        font.setBold(bold)
        font.setFeature(LIGATURES, 0)  # a joined "ff" is not found by whoever searches for it
        return font

    def _laid(self, text: str, points: float, *, bold: bool = False, width: float = 0.0) -> Lines:
        """Text in lines of at most ``width`` (the page's, where not given); long words are broken."""
        option = QTextOption()
        option.setWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
        found: Lines = []
        for paragraph in text.split("\n") or [""]:
            layout = QTextLayout(_shown(paragraph), self._font(points, bold=bold), self._device)
            layout.setTextOption(option)
            layout.beginLayout()
            while (line := layout.createLine()).isValid():
                line.setLineWidth(max(width or self._width, 10.0))
                line.setPosition(QPointF(0, 0))
            layout.endLayout()
            found += [Line(layout, index) for index in range(layout.lineCount())]
        return found

    def _lines(self, lines: Lines, left: float) -> None:
        for one in lines:
            self._need(one.height)
            self._paint(one.paint_at(left, self._y))
            self._y += one.height

    def _rule(self, y: float, width_mm: float) -> None:
        line = QLineF(0, y, self._width, y)
        self._paint(lambda painter: _ruled(painter, line, width_mm * self._mm))

    def _frame(self, rect: QRectF, width_mm: float) -> None:
        def paint(painter: QPainter) -> None:
            painter.setPen(QPen(QColor(GREY if width_mm < 0.3 else "black"), width_mm * self._mm))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(rect)
            painter.setPen(QColor("black"))

        self._paint(paint)

    def _paint(self, paint: Paint) -> None:
        self._pages[-1].append(paint)


def _ruled(painter: QPainter, line: QLineF, width: float) -> None:
    painter.setPen(QPen(QColor("black"), width))
    painter.drawLine(line)


def _row_height(cells: list[Lines]) -> float:
    return max((sum(one.height for one in lines) for lines in cells), default=0.0)


def _split(cells: list[Lines], room: float) -> tuple[list[Lines], list[Lines]]:
    """The lines of each cell that fit into ``room``, at least one, and the rest."""
    now, later = [], []
    for lines in cells:
        used, count = 0.0, 0
        while count < len(lines) and (used + lines[count].height <= room or not count):
            used += lines[count].height
            count += 1
        now.append(lines[:count])
        later.append(lines[count:])
    return now, later


def _shown(text: str) -> str:
    """Without signs that are no letters: a page has no place for them."""
    return "".join(sign if sign >= " " else " " for sign in text).encode("utf-8", "replace").decode("utf-8")
