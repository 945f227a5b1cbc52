"""Gaps and clipped stretches of a trace, by pattern, place and word."""

import numpy as np
import numpy.typing as npt
from PySide6.QtCore import QRectF
from PySide6.QtGui import QFontMetricsF, QPainter

from loomlight.signal.quantity import in_words
from loomlight.viewer.lanes.boxed_text import paint_boxed
from loomlight.viewer.lanes.raster import Overlay, Patch, falling_lines, patch_of
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Trace
from loomlight.viewer.lanes.stretches import Groups, Stretches
from loomlight.viewer.theme import Theme

Covered = npt.NDArray[np.bool_]
LEAST_PIXELS = 4.0
LINES_APART = 14.0
RAIL_PIXELS = 4.0
"""Thickness of the bar that stands outside the rail."""


def paint_gaps(painter: QPainter, trace: Trace, scale: Scale, theme: Theme) -> None:
    """Falling lines over the lane's height where a trace was not acquired; to be drawn under the traces."""
    if not len(trace.gaps):
        return
    patch = patch_of(painter.deviceTransform(), scale)
    groups = _groups(patch, trace.gaps)
    covered = _covered(patch, groups)
    overlay = Overlay(patch)
    tops, feet = np.where(covered, 0.0, np.nan), np.full(patch.width, float(patch.height))
    overlay.strokes(tops, feet, theme.rule, within=falling_lines(patch, patch.pixels(LINES_APART)))
    edges = np.concatenate([groups.left, groups.right - 1])
    overlay.rows(0, patch.height, edges[(edges >= 0) & (edges < patch.width)], theme.rule)
    overlay.paint(painter)
    marker = trace.marker
    words = f"{marker} not acquired".strip(), f"{marker} gap".strip()
    _words(painter, patch, scale, groups, words, theme, top=scale.rect.center().y())


def paint_clipped(painter: QPainter, trace: Trace, scale: Scale, theme: Theme) -> None:
    """A bar outside the rail that the trace stands at, with what is known there; to be drawn over the traces."""
    unit = trace.channel.unit or ""
    for stretches, rail, above in trace.clipped:
        patch = patch_of(painter.deviceTransform(), scale)
        groups = _groups(patch, stretches)
        if not groups.left.size:
            continue
        y, thick = float(patch.scale.y_of(rail)), patch.pixels(RAIL_PIXELS)
        first = round(y) - 2 * thick if above else round(y) + thick
        overlay = Overlay(patch)
        # Held inside the lane: where the rail lies outside the view it must still be told.
        first = min(max(first, 0), patch.height - thick)
        overlay.rows(first, first + thick, np.flatnonzero(_covered(patch, groups)), theme.text)
        overlay.paint(painter)
        marker, bound = trace.marker, "at least" if above else "at most"
        words = f"{marker} clipped: {bound} {in_words(rail, unit)}".strip(), f"{marker} clipped".strip()
        line = QFontMetricsF(painter.font()).height()
        place = scale.rect.top() + first / patch.ratio
        top = place + 3 * RAIL_PIXELS if above else place - line - 2 * RAIL_PIXELS
        _words(painter, patch, scale, groups, words, theme, top=top)


def _groups(patch: Patch, stretches: Stretches) -> Groups:
    return stretches.groups(patch.scale, patch.width, least=patch.pixels(LEAST_PIXELS))


def _covered(patch: Patch, groups: Groups) -> Covered:
    steps = np.zeros(patch.width + 1, np.int64)
    np.add.at(steps, np.minimum(np.maximum(groups.left, 0), patch.width), 1)
    np.add.at(steps, np.minimum(np.maximum(groups.right, 0), patch.width), -1)
    return np.cumsum(steps)[:-1] > 0


def _words(
    painter: QPainter,
    patch: Patch,
    scale: Scale,
    groups: Groups,
    words: tuple[str, str],
    theme: Theme,
    *,
    top: float,
) -> None:
    """The words in each group that has room for them, the shorter ones in one that has less."""
    metrics, ratio = QFontMetricsF(painter.font()), patch.ratio
    widths = [metrics.horizontalAdvance(text) + 8 for text in words]
    top = min(max(top, scale.rect.top()), scale.rect.bottom() - metrics.height())
    left, right = np.maximum(groups.left, 0) / ratio, np.minimum(groups.right, patch.width) / ratio
    for number in np.flatnonzero(right - left >= min(widths) + 4).tolist():
        text, width = next(
            pair for pair in zip(words, widths, strict=True) if right[number] - left[number] >= pair[1] + 4
        )
        middle = scale.rect.left() + float(left[number] + right[number]) / 2
        paint_boxed(painter, QRectF(middle - width / 2, top, width, metrics.height()), text, theme)
