"""Findings as boxes on a lane; where they crowd, as a profile of how many there are."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen

from loomlight.signal.finding import Finding
from loomlight.viewer.lanes.boxed_text import paint_boxed
from loomlight.viewer.lanes.marks import Layer, Marks
from loomlight.viewer.lanes.pixel_columns import joined
from loomlight.viewer.lanes.raster import Numbers, Overlay, Patch, patch_of, rising_lines, thickened
from loomlight.viewer.lanes.scale import Places, Scale
from loomlight.viewer.lanes.stretches import Groups
from loomlight.viewer.theme import Theme

LEAST_FINDING_PIXELS = 4.0
STRIP_PIXELS = 12.0
BRACKET_PIXELS = 3.0
HATCH_PIXELS = 8.0
CROWD = 5
"""From so many findings on, that lie less than `CROWD_PIXELS` apart, they are shown by their number."""
CROWD_PIXELS = 16.0
COUNTED_OVER = 8.0
"""Pixels over which the profile counts; it moves with the findings, so that nothing flickers while the view is moved."""
PROFILE_SHARE, PROFILE_PIXELS = 0.25, 44.0
"""Height of a crowd's profile: at most this share of the lane, and so many pixels."""
PROFILE_FULL = 1000
"""So many findings over `COUNTED_OVER` pixels fill the profile; one fills three tenths."""


@dataclass(frozen=True, eq=False)
class Placed:
    """Findings that are drawn alike, where they stand on a lane.

    Attributes
    ----------
    patch : Patch
        The lane's pixels.
    severe, lasting : bool
        As in their `Layer`.
    groups : Groups
        Their places.
    head : int
        First row of their boxes, which reach to the lane's foot.
    crowded : ndarray of bool, shape (n,)
        Groups that are shown by their number.
    columns : ndarray of int64
        Columns of pixels that are covered.
    tops : ndarray of float64, shape (width,)
        From where each column is filled: the box's head, or a crowd's profile.
    """

    patch: Patch
    severe: bool
    lasting: bool
    groups: Groups
    head: int
    crowded: npt.NDArray[np.bool_]
    columns: Numbers
    tops: Places

    @property
    def bracket(self) -> int:
        """First row of the bracket at the lane's edge."""
        return self.patch.height - self.patch.pixels(BRACKET_PIXELS) if self.lasting else 0


def place_findings(painter: QPainter, scale: Scale, findings: Sequence[Finding]) -> tuple[Placed, ...]:
    """Where a lane's findings stand; they are drawn in two parts, under the traces and over them."""
    marks = findings if isinstance(findings, Marks) else Marks(findings)
    if not marks.layers:
        return ()
    patch = patch_of(painter.deviceTransform(), scale)
    return tuple(one for layer in marks.layers if (one := _placed(patch, layer)) is not None)


def paint_findings(painter: QPainter, theme: Theme, placed: Sequence[Placed]) -> None:
    """Severe ones hatched, mild ones outlined; those that would touch are drawn as one, a crowd by its profile.

    What is true of a whole frame or of a state stands as a strip at the lane's foot, so that it hides no event.
    """
    if not placed:
        return
    patch = placed[0].patch
    overlay = Overlay(patch)
    lines, feet = rising_lines(patch, patch.pixels(HATCH_PIXELS)), np.full(patch.width, float(patch.height))
    for one in placed:
        if one.severe:
            overlay.strokes(one.tops, feet, theme.finding, within=lines)
    for one in placed:
        _outline(overlay, patch, one, theme.text)
    overlay.paint(painter)


def paint_brackets(painter: QPainter, scale: Scale, theme: Theme, placed: Sequence[Placed]) -> None:
    """What a trace must not hide: where findings are, at the lane's very edge; a crowd's profile, and its number."""
    if not placed:
        return
    patch = placed[0].patch
    thick = patch.pixels(BRACKET_PIXELS)
    for first in sorted({one.bracket for one in placed}):
        overlay = Overlay(patch)
        for one in placed:
            if one.bracket == first:
                overlay.rows(first, first + thick, one.columns, theme.text)
        overlay.paint(painter)
    crowds = [one for one in placed if one.crowded.any()]
    if crowds:
        overlay = Overlay(patch)
        for one in crowds:
            profile = np.where(one.tops > one.head, one.tops, np.nan)
            overlay.strokes(*thickened(*joined(profile, profile), patch.pixels(1)), theme.text)
        overlay.paint(painter)
    for one in crowds:
        _numbers(painter, patch, scale, one, theme)


def paint_picked(painter: QPainter, scale: Scale, theme: Theme, picked: Finding) -> None:
    """A frame around the finding that is set apart."""
    left, right = scale.x_of([picked.start_s, picked.stop_s]).tolist()
    width = max(right - left, LEAST_FINDING_PIXELS) + 6
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(QColor(theme.text), 3))
    painter.drawRect(QRectF(left - 3, scale.rect.top() + 2, width, scale.rect.height() - 4))


def _placed(patch: Patch, layer: Layer) -> Placed | None:
    groups = layer.stretches.groups(patch.scale, patch.width, least=patch.pixels(LEAST_FINDING_PIXELS))
    if not groups.left.size:
        return None
    head = patch.height - patch.pixels(STRIP_PIXELS) if layer.lasting else 0
    crowded = (groups.begun >= CROWD) & (groups.right - groups.left < CROWD_PIXELS * patch.ratio * groups.begun)
    if layer.lasting:
        crowded[:] = False
    columns, owner = _columns(groups, patch.width)
    tops = np.full(patch.width, np.nan)
    tops[columns] = head
    if crowded.any():
        there = columns[crowded[owner]]
        tops[there] = patch.height - _heights(groups, patch)[there]
    return Placed(patch, layer.severe, layer.lasting, groups, head, crowded, columns, tops)


def _outline(overlay: Overlay, patch: Patch, placed: Placed, colour: str) -> None:
    line, foot, groups = patch.pixels(1), patch.height, placed.groups
    if placed.head:  # at the lane's own head their bracket closes them
        overlay.rows(placed.head, placed.head + line, placed.columns, colour)
    overlay.rows(foot - line, foot, placed.columns, colour)
    edges = np.concatenate([side + number for number in range(line) for side in (groups.left, groups.right - line)])
    overlay.rows(placed.head, foot, edges[(edges >= 0) & (edges < patch.width)], colour)


def _columns(groups: Groups, width: int) -> tuple[Numbers, Numbers]:
    """Columns of pixels that are covered, and by which group."""
    left, right = np.maximum(groups.left, 0), np.minimum(groups.right, width)
    owner = np.repeat(np.arange(left.size), right - left)
    return np.arange(owner.size) + (left - np.concatenate([[0], np.cumsum(right - left)[:-1]]))[owner], owner


def _heights(groups: Groups, patch: Patch) -> Places:
    """The profile's height in each column of pixels, by the logarithm of how many findings begin around it."""
    half = patch.pixels(COUNTED_OVER / 2)
    sums = np.concatenate([[0], np.cumsum(groups.columns)])
    places = np.arange(patch.width)
    counts = sums[np.minimum(places + half, patch.width)] - sums[np.maximum(places - half, 0)]
    share = 0.3 + 0.7 * np.log(np.maximum(counts, 1)) / np.log(PROFILE_FULL)
    return np.where(counts > 0, np.minimum(share, 1.0), 0.0) * _profile_height(patch)


def _profile_height(patch: Patch) -> float:
    return min(PROFILE_SHARE * patch.height, PROFILE_PIXELS * patch.ratio)


def _numbers(painter: QPainter, patch: Patch, scale: Scale, placed: Placed, theme: Theme) -> None:
    """How many findings a crowd holds, where there is room to write it."""
    metrics, ratio, groups = QFontMetricsF(painter.font()), patch.ratio, placed.groups
    line = metrics.height() + 2
    foot = scale.rect.bottom() - _profile_height(patch) / ratio - line * (1 if placed.severe else 2) - 2
    if foot < scale.rect.top() + line:
        return
    left, right = np.maximum(groups.left, 0) / ratio, np.minimum(groups.right, patch.width) / ratio
    for number in np.flatnonzero(placed.crowded & (right - left > 6 * line)).tolist():
        text = f"{int(groups.begun[number])} {'severe' if placed.severe else 'mild'} findings"
        width, room = metrics.horizontalAdvance(text) + 10, float(right[number] - left[number])
        if room > width + 4:
            at = scale.rect.left() + float(left[number]) + (room - width) / 2
            paint_boxed(painter, QRectF(at, foot, width, metrics.height()), text, theme)
