"""A sheet for annotated pictures, filled from top to bottom: words, strips, lanes, the legend of their marks."""

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QLineF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QImage, QPaintDevice, QPainter, QPen
from PySide6.QtSvg import QSvgGenerator

from loomlight.signal.finding import Finding
from loomlight.signal.job import Note
from loomlight.viewer.lanes.cursors import NONE, Pair
from loomlight.viewer.lanes.overview import TICK_HEIGHT, paint_overview
from loomlight.viewer.lanes.paint_cursors import paint_cursors, paint_level_cursors
from loomlight.viewer.lanes.paint_lane import (
    axis_width,
    paint_lane,
    paint_time_axis,
    time_axis_height,
)
from loomlight.viewer.lanes.paint_notes import paint_notes
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.roles import ROLES, RoleKey
from loomlight.viewer.theme import Theme
from loomlight.viewer.wording import SAFETY_FOOT

MARGIN = 24.0
TEXT_PIXELS = 17
HEAD_PIXELS = 30
OVERVIEW_LEFT = 130.0
LEGEND_PIXELS = 52.0
FOOT_PIXELS = 52.0
MOST_READINGS = 6
NOTHING_HERE = "Nothing was recorded here at these times."
FINDING_MARKS = ((True, "severe finding: the function may suffer"), (False, "mild finding"))


@dataclass(frozen=True)
class Shown:
    """What is shown beside the stage itself.

    Attributes
    ----------
    view : tuple of float or None
        Stretch of time; None: around the worst finding.
    notes : tuple of Note
        Placed on the lanes.
    cursors : tuple
        Times of A and B, seconds, or None.
    levels : mapping
        Level cursors C and D by lane key, in the lane's unit.
    readings : tuple of str
        What the cursors read, a line each.
    """

    view: tuple[float, float] | None = None
    notes: tuple[Note, ...] = ()
    cursors: tuple[float | None, float | None] = (None, None)
    levels: Mapping[str, Pair] = field(default_factory=dict)
    readings: tuple[str, ...] = ()


class Sheet:
    """A sheet that is filled from top to bottom."""

    def __init__(self, width: int, height: int, theme: Theme, *, scale: float = 1.0) -> None:
        """``scale`` is pixels a unit: all measures of the sheet are in units, so print takes more pixels, not less room."""
        self.image = QImage(round(scale * width), round(scale * height), QImage.Format.Format_RGB32)
        self.image.fill(QColor(theme.ground))
        self._begin(width, height, theme, self.image, scale)

    def _begin(self, width: int, height: int, theme: Theme, target: QPaintDevice, scale: float) -> None:
        self.theme = theme
        self.painter = QPainter(target)
        self.painter.scale(scale, scale)
        self.top = MARGIN
        self.width, self.height = float(width), float(height)

    def font(self, pixels: int, *, bold: bool = False) -> QFont:
        font = QFont()
        font.setPixelSize(pixels)
        font.setBold(bold)
        return font

    def text(
        self, words: str, *, pixels: int = TEXT_PIXELS, bold: bool = False, gap: float = 4.0, most_lines: int = 3
    ) -> None:
        """Words across the sheet, wrapped; what is longer than ``most_lines`` ends in "…" and leaves the lanes their room."""
        font = self.font(pixels, bold=bold)
        area = QRectF(MARGIN, self.top, self.width - 2 * MARGIN, self.height)
        flags = int(Qt.TextFlag.TextWordWrap)
        self.painter.setFont(font)
        self.painter.setPen(QColor(self.theme.text))
        metrics = QFontMetricsF(font)
        words = " ".join(words.split())
        room = most_lines * metrics.lineSpacing() + 1
        fitting = bisect_left(
            range(len(words)),
            True,
            key=lambda end: metrics.boundingRect(area, flags, words[:end] + "…").height() > room,
        )
        if metrics.boundingRect(area, flags, words).height() > room:
            words = words[: max(fitting - 1, 0)].rstrip() + "…"
        needed = metrics.boundingRect(area, flags, words)
        self.painter.drawText(area, flags, words)
        self.top += needed.height() + gap

    def rule(self) -> None:
        """A line across the sheet."""
        self.painter.setPen(QPen(QColor(self.theme.rule), 1))
        self.painter.drawLine(int(MARGIN), int(self.top), int(self.width - MARGIN), int(self.top))
        self.top += 8

    def lanes(
        self,
        lanes: Sequence[Lane],
        view: tuple[float, float],
        height: float,
        findings: Mapping[str, Sequence[Finding]],
        shown: Shown,
        *,
        values: tuple[float, float] | None = None,
    ) -> None:
        """Lanes over one time axis, in ``height`` pixels."""
        font = self.font(TEXT_PIXELS - 2)
        self.painter.setFont(font)
        left, axis = MARGIN + axis_width(font), time_axis_height(font)
        usable = height - axis - 6 * (len(lanes) - 1)
        whole = sum(lane.weight for lane in lanes)
        for lane in lanes:
            strip = usable * lane.weight / whole
            low, high = values if values is not None else lane.value_range()
            rect = QRectF(left, self.top, self.width - MARGIN - left, strip)
            scale = Scale(rect, *view, low, high)
            paint_lane(self.painter, lane, scale, self.theme, findings.get(lane.key, ()))
            first, last = lane.span()
            if last < view[0] or first > view[1]:
                self.painter.setPen(QColor(self.theme.text))
                self.painter.drawText(rect, Qt.AlignmentFlag.AlignCenter, NOTHING_HERE)
            paint_level_cursors(self.painter, scale, self.theme, shown.levels.get(lane.key, NONE), lane.unit)
            paint_cursors(self.painter, scale, self.theme, shown.cursors, labelled=True)
            paint_notes(self.painter, scale, self.theme, [one for one in shown.notes if one.channel == lane.key])
            self.top += strip + 6
        paint_time_axis(self.painter, QRectF(left, self.top - 4, self.width - MARGIN - left, axis), *view, self.theme)
        self.top += axis

    def overview(self, lane: Lane, findings: Sequence[Finding], view: tuple[float, float]) -> None:
        """The whole capture in a thin strip, its role before it, with the view framed."""
        role = ROLES[lane.traces[-1].role]
        self.painter.setFont(self.font(TEXT_PIXELS - 4))
        self.painter.setPen(QColor(self.theme.text))
        words = QRectF(MARGIN, self.top, OVERVIEW_LEFT - MARGIN - 6, TICK_HEIGHT + 46)
        flags = int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.painter.drawText(words, flags, f"{role.marker} {role.key}, whole")
        rect = QRectF(OVERVIEW_LEFT, self.top + TICK_HEIGHT + 4, self.width - MARGIN - 4 - OVERVIEW_LEFT, 40)
        low, high = lane.value_range()
        scale = Scale(rect, *lane.span(), low, high)
        paint_overview(self.painter, scale, self.theme, lane.traces[-1], findings)
        left, right = np.clip(scale.x_of(view), rect.left(), rect.right()).tolist()
        self.painter.setPen(QPen(QColor(self.theme.text), 2))
        self.painter.setBrush(Qt.BrushStyle.NoBrush)
        self.painter.drawRect(QRectF(left, self.top + 1, max(right - left, 6), TICK_HEIGHT + 46))
        self.top += TICK_HEIGHT + 60

    def legend(self, lanes: Sequence[Lane]) -> None:
        """What the traces and the marks in the lanes mean."""
        self.painter.setFont(self.font(TEXT_PIXELS - 3))
        left = MARGIN
        for role in dict.fromkeys(trace.role for lane in lanes for trace in lane.traces):
            if ROLES[role].marker:
                left = self._entry(left, role, marker=role)
        for hatched, words in FINDING_MARKS:
            left = self._entry(left, words, hatched=hatched)
        if any(lane.band is not None or lane.ends is not None for lane in lanes):
            left = self._entry(left, "tolerance of the difference", filled=True)
        self._entry(left, "tick above: a finding", tick=True)
        self.top += QFontMetricsF(self.painter.font()).height() + 6

    def _entry(
        self,
        left: float,
        words: str,
        *,
        marker: RoleKey | None = None,
        hatched: bool = False,
        filled: bool = False,
        tick: bool = False,
    ) -> float:
        """One sign with its words, on the next line where this one is full; gives where the next may begin."""
        metrics = QFontMetricsF(self.painter.font())
        height, width = metrics.height(), metrics.horizontalAdvance(words)
        if left > MARGIN and left + 32 + width > self.width - MARGIN:
            left, self.top = MARGIN, self.top + height + 2
        box = QRectF(left, self.top + 2, 26, height - 4)
        if marker is not None:
            self.painter.setPen(QColor(self.theme.traces[marker]))
            self.painter.drawText(box, Qt.AlignmentFlag.AlignCenter, ROLES[marker].marker)
        elif tick:
            self.painter.setPen(QPen(QColor(self.theme.text), 2))
            self.painter.drawLine(QLineF(box.center().x(), box.top(), box.center().x(), box.bottom()))
        else:
            if hatched:
                self.painter.fillRect(box, QBrush(QColor(self.theme.finding), Qt.BrushStyle.BDiagPattern))
            if filled:
                self.painter.fillRect(box, QColor(self.theme.grid))
            self.painter.setPen(QPen(QColor(self.theme.text), 1))
            self.painter.setBrush(Qt.BrushStyle.NoBrush)
            self.painter.drawRect(box)
        self.painter.setPen(QColor(self.theme.text))
        area = QRectF(left + 32, self.top, width + 4, height)
        self.painter.drawText(area, Qt.AlignmentFlag.AlignVCenter, words)
        return left + 32 + width + 22

    def readings(self, lines: Sequence[str]) -> None:
        """What the cursors read, a line each; what does not fit ends in "…"."""
        font = self.font(TEXT_PIXELS - 3)
        self.painter.setFont(font)
        self.painter.setPen(QColor(self.theme.text))
        metrics = QFontMetricsF(font)
        for line in lines[:MOST_READINGS]:
            words = metrics.elidedText(line, Qt.TextElideMode.ElideRight, self.width - 2 * MARGIN)
            area = QRectF(MARGIN, self.top, self.width - 2 * MARGIN, metrics.height())
            self.painter.drawText(area, Qt.AlignmentFlag.AlignVCenter, words)
            self.top += metrics.height()

    def readings_height(self, lines: Sequence[str]) -> float:
        """Room that `readings` takes."""
        return len(lines[:MOST_READINGS]) * QFontMetricsF(self.font(TEXT_PIXELS - 3)).height()

    def foot(self) -> None:
        """The caution at the bottom; the picture is finished."""
        font = self.font(TEXT_PIXELS - 4)
        self.painter.setFont(font)
        self.painter.setPen(QColor(self.theme.quiet_text))
        area = QRectF(MARGIN, self.height - 46, self.width - 2 * MARGIN, 40)
        self.painter.drawText(area, int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignBottom), SAFETY_FOOT)
        self.painter.end()


class DrawnSheet(Sheet):
    """A sheet as a drawing (SVG): words and lines stay words and lines, traces are finer pictures inside it."""

    FINER = 3.0

    def __init__(self, width: int, height: int, theme: Theme, *, title: str) -> None:
        self._content = QByteArray()
        self._buffer = QBuffer(self._content)
        self._buffer.open(QIODevice.OpenModeFlag.WriteOnly)
        generator = QSvgGenerator()
        generator.setOutputDevice(self._buffer)
        generator.setSize(QSize(width, height))
        generator.setViewBox(QRectF(0, 0, self.FINER * width, self.FINER * height))
        generator.setTitle(title)
        self._generator = generator  # lives as long as its painter
        self._begin(width, height, theme, generator, self.FINER)
        self.painter.fillRect(QRectF(0, 0, width, height), QColor(theme.ground))

    def svg(self) -> bytes:
        """The drawing, once it is finished."""
        self._buffer.close()
        return self._content.data()
