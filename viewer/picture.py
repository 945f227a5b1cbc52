"""Annotated pictures for the job file: one comparison, or before and after."""

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QImage, QPainter, QPen

from loomlight.signal.finding import Finding
from loomlight.signal.job import Note
from loomlight.signal.proof import Proof
from loomlight.viewer.lanes.overview import TICK_HEIGHT, paint_overview
from loomlight.viewer.lanes.paint_lane import (
    axis_width,
    paint_cursors,
    paint_lane,
    paint_notes,
    paint_time_axis,
    time_axis_height,
)
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.lanes_of import Drawn, compare_lanes, findings_by_lane, proof_lanes, worst_stretch
from loomlight.viewer.roles import ROLES
from loomlight.viewer.theme import Theme
from loomlight.viewer.wording import (
    CHECK_COLUMNS,
    SAFETY_FOOT,
    STATE_SIGNS,
    check_cells,
    lineup_sentence,
    proof_headline,
    series_text,
    verdict_headline,
)

MARGIN = 24.0
TEXT_PIXELS = 17
HEAD_PIXELS = 30
MOST_CHECKS = 12
OVERVIEW_LEFT = 130.0
LEGEND_PIXELS = 30.0
FOOT_PIXELS = 52.0
SAME_MOMENT = "Both lanes show the same moment of the signal; the times are those of the capture before the repair."
OWN_STARTS = "The two could not be laid over each other: both are drawn from their own start, at the times of the capture before."
FINDING_MARKS = ((True, "severe finding: a receiver may read it wrongly"), (False, "mild finding"))


@dataclass(frozen=True)
class Heading:
    """What stands over a picture: a title, and facts in one or two lines."""

    title: str
    facts: tuple[str, ...]


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
    """

    view: tuple[float, float] | None = None
    notes: tuple[Note, ...] = ()
    cursors: tuple[float | None, float | None] = (None, None)


class _Sheet:
    """A sheet that is filled from top to bottom."""

    def __init__(self, width: int, height: int, theme: Theme) -> None:
        self.image = QImage(width, height, QImage.Format.Format_RGB32)
        self.image.fill(QColor(theme.ground))
        self.theme = theme
        self.painter = QPainter(self.image)
        self.top = MARGIN
        self.width, self.height = float(width), float(height)

    def font(self, pixels: int, *, bold: bool = False) -> QFont:
        font = QFont()
        font.setPixelSize(pixels)
        font.setBold(bold)
        return font

    def text(self, words: str, *, pixels: int = TEXT_PIXELS, bold: bool = False, gap: float = 4.0) -> None:
        """Words across the sheet, wrapped."""
        font = self.font(pixels, bold=bold)
        area = QRectF(MARGIN, self.top, self.width - 2 * MARGIN, self.height)
        flags = int(Qt.TextFlag.TextWordWrap)
        self.painter.setFont(font)
        self.painter.setPen(QColor(self.theme.text))
        needed = QFontMetricsF(font).boundingRect(area, flags, words)
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
        findings: dict[str, tuple[Finding, ...]],
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
        left, right = scale.x_of(view).tolist()
        self.painter.setPen(QPen(QColor(self.theme.text), 2))
        self.painter.setBrush(Qt.BrushStyle.NoBrush)
        self.painter.drawRect(QRectF(left, self.top + 1, max(right - left, 6), TICK_HEIGHT + 46))
        self.top += TICK_HEIGHT + 60

    def legend(self, lanes: Sequence[Lane]) -> None:
        """What the marks in the lanes mean."""
        self.painter.setFont(self.font(TEXT_PIXELS - 3))
        metrics = QFontMetricsF(self.painter.font())
        left = MARGIN
        for hatched, words in FINDING_MARKS:
            box = QRectF(left, self.top + 2, 26, metrics.height() - 4)
            if hatched:
                self.painter.fillRect(box, QBrush(QColor(self.theme.finding), Qt.BrushStyle.BDiagPattern))
            self.painter.setPen(QPen(QColor(self.theme.text), 1))
            self.painter.setBrush(Qt.BrushStyle.NoBrush)
            self.painter.drawRect(box)
            left = self._words(left + 32, words)
        if any(lane.band is not None for lane in lanes):
            box = QRectF(left, self.top + 2, 26, metrics.height() - 4)
            self.painter.fillRect(box, QColor(self.theme.grid))
            left = self._words(left + 32, "tolerance of the difference")
        self._words(left, "tick in the strip above: a finding")
        self.top += metrics.height() + 6

    def _words(self, left: float, words: str) -> float:
        """Words of the legend; gives where the next may begin."""
        metrics = QFontMetricsF(self.painter.font())
        width = metrics.horizontalAdvance(words)
        self.painter.setPen(QColor(self.theme.text))
        self.painter.drawText(QRectF(left, self.top, width + 4, metrics.height()), Qt.AlignmentFlag.AlignVCenter, words)
        return left + width + 28

    def foot(self) -> QImage:
        """The caution at the bottom, and the finished picture."""
        font = self.font(TEXT_PIXELS - 4)
        self.painter.setFont(font)
        self.painter.setPen(QColor(self.theme.quiet_text))
        area = QRectF(MARGIN, self.height - 46, self.width - 2 * MARGIN, 40)
        self.painter.drawText(area, int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignBottom), SAFETY_FOOT)
        self.painter.end()
        return self.image


def comparison_picture(
    drawn: Drawn, heading: Heading, theme: Theme, *, shown: Shown | None = None, width: int = 1600, height: int = 1130
) -> QImage:
    """Title block, verdict with its first reasons, the whole in a strip, the lanes around the worst finding.

    Parameters
    ----------
    drawn : Drawn
        The comparison with its pyramids.
    heading : Heading
        Title block.
    theme : Theme
        Daylight for paper.
    shown : Shown, optional
        View, notes and cursors as they stand in the window.
    width, height : int
        Pixels.
    """
    shown = shown or Shown()
    comparison = drawn.comparison
    lanes = compare_lanes(drawn)
    findings = findings_by_lane(comparison, lanes)
    spans = [lane.span() for lane in lanes]
    whole = min(one[0] for one in spans), max(one[1] for one in spans)
    view = shown.view or worst_stretch(comparison) or whole
    sheet = _Sheet(width, height, theme)
    _title(sheet, heading)
    verdict = comparison.verdict
    sheet.text(f"{STATE_SIGNS[verdict.state]}  {verdict_headline(verdict)}", pixels=HEAD_PIXELS, bold=True)
    series = series_text(verdict)
    if series:
        sheet.text(series, bold=True)
    for reason in verdict.reasons[:3]:
        sheet.text(f"–  {reason}")
    if verdict.next_step:
        sheet.text(f"Next: {verdict.next_step}")
    sheet.text(lineup_sentence(comparison.lineup), pixels=TEXT_PIXELS - 2, gap=8)
    own = findings.get(comparison.suspect.name, ())
    sheet.overview(lanes[0], own, view)
    sheet.lanes(lanes, view, height - sheet.top - FOOT_PIXELS - LEGEND_PIXELS, findings, shown)
    sheet.legend(lanes)
    return sheet.foot()


def proof_picture(
    before: Drawn, after: Drawn, proof: Proof, heading: Heading, theme: Theme, *, width: int = 1600, height: int = 1130
) -> QImage:
    """Before above after at the same scales and the same moment of the bus, and the checks.

    Parameters
    ----------
    before, after : Drawn
        Both comparisons with their pyramids.
    proof : Proof
        State, reasons, checks.
    heading : Heading
        Title block.
    theme : Theme
        Daylight for paper.
    width, height : int
        Pixels.
    """
    lanes = proof_lanes(before, after, proof)
    findings = {
        "before": own_findings(before),
        "after": shifted_findings(own_findings(after), lanes[1]),
    }
    view = worst_stretch(before.comparison) or lanes[0].span()
    ranges = [lane.value_range() for lane in lanes]
    values = min(one[0] for one in ranges), max(one[1] for one in ranges)
    sheet = _Sheet(width, height, theme)
    _title(sheet, heading)
    sheet.text(f"{STATE_SIGNS[proof.state]}  {proof_headline(proof)}", pixels=HEAD_PIXELS, bold=True)
    for reason in proof.reasons[:3]:
        sheet.text(f"–  {reason}")
    accepted = proof.lineup is not None and proof.lineup.accepted
    sheet.text(SAME_MOMENT if accepted else OWN_STARTS, pixels=TEXT_PIXELS - 2, gap=8)
    rows = check_rows(proof)
    row = QFontMetricsF(sheet.font(TEXT_PIXELS)).height() + 3
    for lane in lanes:
        sheet.overview(lane, findings[lane.key], view)
    room = height - sheet.top - FOOT_PIXELS - LEGEND_PIXELS - (len(rows) + 1) * row
    sheet.lanes(lanes, view, room, findings, Shown(), values=values)
    sheet.legend(lanes)
    _check_table(sheet, rows, row)
    return sheet.foot()


def own_findings(drawn: Drawn) -> tuple[Finding, ...]:
    """Findings on the suspect itself."""
    comparison = drawn.comparison
    return tuple(one for one in comparison.findings if one.channel == comparison.suspect.name)


def shifted_findings(findings: tuple[Finding, ...], lane: Lane) -> tuple[Finding, ...]:
    """Findings of the capture after, on the picture's axis."""
    trace = lane.traces[-1]
    return tuple(
        Finding(
            one.kind,
            one.channel,
            trace.on_picture(one.start_s),
            trace.on_picture(one.stop_s),
            one.size,
            one.unit,
            one.rule,
            one.severity,
        )
        for one in findings
    )


def _title(sheet: _Sheet, heading: Heading) -> None:
    sheet.text(heading.title, pixels=HEAD_PIXELS - 6, bold=True)
    for fact in heading.facts:
        sheet.text(fact, pixels=TEXT_PIXELS - 2, gap=2)
    sheet.top += 4
    sheet.rule()


def check_rows(proof: Proof) -> tuple[tuple[str, ...], ...]:
    """Rows of the proof's table; where there are too many, those that did not pass stay, and the rest is counted."""
    if len(proof.checks) <= MOST_CHECKS:
        return tuple(check_cells(one) for one in proof.checks)
    by_weight = sorted(proof.checks, key=lambda one: one.passed is True)
    shown, left = by_weight[: MOST_CHECKS - 1], by_weight[MOST_CHECKS - 1 :]
    passed = sum(one.passed is True for one in left)
    rest = (f"… and {len(left)} more", "", "", "", f"{passed} passed")
    return (*(check_cells(one) for one in shown), rest)


def _check_table(sheet: _Sheet, found: tuple[tuple[str, ...], ...], row: float) -> None:
    shares = (0.0, 0.46, 0.58, 0.70, 0.82)
    usable = sheet.width - 2 * MARGIN
    for number, cells in enumerate((CHECK_COLUMNS, *found)):
        sheet.painter.setFont(sheet.font(TEXT_PIXELS - 1, bold=number == 0))
        sheet.painter.setPen(QColor(sheet.theme.text))
        for share, cell in zip(shares, cells, strict=True):
            area = QRectF(MARGIN + share * usable, sheet.top, usable * 0.45, row)
            sheet.painter.drawText(area, Qt.AlignmentFlag.AlignVCenter, cell)
        sheet.top += row
