"""Annotated pictures for the job file: one comparison, or before and after."""

from dataclasses import dataclass

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF

from loomlight.signal.proof import Proof
from loomlight.viewer.lanes_of import Drawn, compare_lanes, findings_by_lane, proof_findings, proof_lanes
from loomlight.viewer.sheet import FOOT_PIXELS, HEAD_PIXELS, LEGEND_PIXELS, MARGIN, TEXT_PIXELS, Sheet, Shown
from loomlight.viewer.wording import (
    CHECK_COLUMNS,
    STATE_SIGNS,
    check_cells,
    lineup_sentence,
    proof_headline,
    series_text,
    verdict_headline,
)

MOST_CHECKS = 12
SAME_MOMENT = "Both lanes show the same moment of the signal; the times are those of the capture before the repair."
OWN_STARTS = "The two could not be laid over each other: both are drawn from their own start, at the times of the capture before."


@dataclass(frozen=True)
class Heading:
    """What stands over a picture: a title, and facts in one or two lines."""

    title: str
    facts: tuple[str, ...]


WIDTH, HEIGHT = 1600, 1130
"""Units of a sheet, and pixels unless another scale is asked for."""


def paint_comparison(sheet: Sheet, drawn: Drawn, heading: Heading, *, shown: Shown | None = None) -> None:
    """Title block, verdict with its first reasons, the whole in a strip, the lanes around the worst finding.

    Parameters
    ----------
    sheet : Sheet
        Empty.
    drawn : Drawn
        The comparison with its pyramids.
    heading : Heading
        Title block.
    shown : Shown, optional
        View, notes and cursors as they stand in the window.
    """
    shown = shown or Shown()
    comparison = drawn.comparison
    lanes = compare_lanes(drawn)
    findings = findings_by_lane(drawn, lanes)
    spans = [lane.span() for lane in lanes]
    whole = min(one[0] for one in spans), max(one[1] for one in spans)
    view = shown.view or drawn.worst_s or whole
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
    room = sheet.height - sheet.top - FOOT_PIXELS - LEGEND_PIXELS - sheet.readings_height(shown.readings)
    sheet.lanes(lanes, view, room, findings, shown)
    sheet.readings(shown.readings)
    sheet.legend(lanes)
    sheet.foot()


def paint_proof(sheet: Sheet, before: Drawn, after: Drawn, proof: Proof, heading: Heading) -> None:
    """Before above after at the same scales and the same moment of the bus, and the checks.

    Parameters
    ----------
    sheet : Sheet
        Empty.
    before, after : Drawn
        Both comparisons with their pyramids.
    proof : Proof
        State, reasons, checks.
    heading : Heading
        Title block.
    """
    lanes = proof_lanes(before, after, proof)
    findings = proof_findings(before, after, lanes)
    view = before.worst_s or lanes[0].span()
    ranges = [lane.value_range() for lane in lanes]
    values = min(one[0] for one in ranges), max(one[1] for one in ranges)
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
    room = sheet.height - sheet.top - FOOT_PIXELS - LEGEND_PIXELS - (len(rows) + 1) * row
    sheet.lanes(lanes, view, room, findings, Shown(), values=values)
    sheet.legend(lanes)
    _check_table(sheet, rows, row)
    sheet.foot()


def _title(sheet: Sheet, heading: Heading) -> None:
    sheet.text(heading.title, pixels=HEAD_PIXELS - 6, bold=True, most_lines=2)
    for fact in heading.facts:
        sheet.text(fact, pixels=TEXT_PIXELS - 2, gap=2, most_lines=2)
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


def _check_table(sheet: Sheet, found: tuple[tuple[str, ...], ...], row: float) -> None:
    shares = (0.0, 0.46, 0.58, 0.70, 0.82)
    usable = sheet.width - 2 * MARGIN
    for number, cells in enumerate((CHECK_COLUMNS, *found)):
        sheet.painter.setFont(sheet.font(TEXT_PIXELS - 1, bold=number == 0))
        sheet.painter.setPen(QColor(sheet.theme.text))
        for share, cell in zip(shares, cells, strict=True):
            area = QRectF(MARGIN + share * usable, sheet.top, usable * 0.45, row)
            sheet.painter.drawText(area, Qt.AlignmentFlag.AlignVCenter, cell)
        sheet.top += row
