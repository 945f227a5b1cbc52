"""The customer's picture: the same moment before and after the repair, with three numbered arrows."""

import math
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QImage, QPainter, QPen, QPolygonF

from loomlight.signal.capture import Channel
from loomlight.signal.pyramid import pyramid_of
from loomlight.signal.quantity import in_words
from loomlight.viewer.lanes.paint_lane import axis_width, paint_lane, paint_time_axis, time_axis_height
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane, LevelLine, Trace
from loomlight.viewer.report_words import (
    ABOVE,
    ARROW_AFTER_RIGHT,
    ARROW_AFTER_WRONG,
    ARROW_BEFORE,
    ARROW_BEFORE_OTHER,
    ARROW_LIMIT,
    BELOW,
    LANE_AFTER,
    LANE_BEFORE,
)
from loomlight.viewer.snapshot_data import SeenProof
from loomlight.viewer.theme import DAYLIGHT

WIDTH, HEIGHT, MARGIN = 900.0, 370.0, 8.0
PRINTED = 2.4
"""Pixels a unit: some 300 an inch across a page."""
TEXT_PIXELS = 13
LOW_KINDS = ("dropout", "weak dominant", "too low")
"""Broken at the lower of two limits."""
ABOVE_KINDS = ("weak recessive", "too low")
"""The signal has to stay above the limit that they break."""
NUMBERS = "①②③"
REACH = 46.0
HEAD = 9.0
RADIUS = 12.0


@dataclass(frozen=True)
class Arrow:
    """What an arrow points to: a time and a value in one of the two lanes, and what is said of it."""

    lane: int
    time_s: float
    value: float
    words: str


@dataclass(frozen=True, eq=False)
class BeforeAfter:
    """The picture, and the sentence of each arrow."""

    image: QImage
    words: tuple[str, ...]


def before_after(seen: SeenProof, before: Channel, after: Channel) -> BeforeAfter | None:
    """Draw it; None where the proof names nothing to point at."""
    if seen.view is None or seen.worst is None:
        return None
    lanes = _lanes(seen, before, after)
    ranges = [lane.value_range() for lane in lanes]
    values = min(one[0] for one in ranges), max(one[1] for one in ranges)
    arrows = _arrows(seen, lanes)
    image = QImage(round(PRINTED * WIDTH), round(PRINTED * HEIGHT), QImage.Format.Format_RGB32)
    image.fill(QColor(DAYLIGHT.ground))
    painter = QPainter(image)
    painter.scale(PRINTED, PRINTED)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    font = QFont()
    font.setPixelSize(TEXT_PIXELS)
    painter.setFont(font)
    _paint(painter, lanes, seen.view, values, arrows)
    painter.end()
    return BeforeAfter(image, tuple(one.words for one in arrows))


def _lanes(seen: SeenProof, before: Channel, after: Channel) -> tuple[Lane, Lane]:
    unit = before.unit or ""
    old = Trace(before, pyramid_of(before.samples), "suspect", LANE_BEFORE.format(channel=before.name))
    new = Trace(
        after, pyramid_of(after.samples), "after repair", LANE_AFTER.format(channel=after.name), lag_s=seen.lag_s
    )
    return Lane("before", (old,), seen.lines[0], unit=unit), Lane("after", (new,), seen.lines[1], unit=unit)


def _arrows(seen: SeenProof, lanes: tuple[Lane, Lane]) -> list[Arrow]:
    assert seen.worst is not None
    assert seen.view is not None
    kind, start_s, stop_s = seen.worst
    middle_s = 0.5 * (start_s + stop_s)
    length = in_words(stop_s - start_s, "s")
    said = ARROW_BEFORE.get(kind, ARROW_BEFORE_OTHER).format(number=NUMBERS[0], kind=kind, length=length)
    found = [Arrow(0, middle_s, _value_at(lanes[0].traces[0], middle_s), said)]
    line = _line_that_counts(kind, seen.lines[0])
    if line is not None:
        at_s = seen.view[0] + 0.22 * (seen.view[1] - seen.view[0])
        side = ABOVE if kind in ABOVE_KINDS else BELOW
        value = in_words(line.value, lanes[0].unit)
        words = ARROW_LIMIT.format(number=NUMBERS[len(found)], value=value, side=side)
        found.append(Arrow(0, at_s, line.value, words))
    template = ARROW_AFTER_RIGHT if seen.counts[1] == 0 and seen.state != "not proven" else ARROW_AFTER_WRONG
    after = _value_at(lanes[1].traces[0], middle_s)
    return [*found, Arrow(1, middle_s, after, template.format(number=NUMBERS[len(found)]))]


def _line_that_counts(kind: str, lines: tuple[LevelLine, ...]) -> LevelLine | None:
    """The lower limit where the line should have been low, else the upper one."""
    if not lines:
        return None
    ordered = sorted(lines, key=lambda one: one.value)
    return ordered[0] if kind in LOW_KINDS else ordered[-1]


def _value_at(trace: Trace, picture_s: float) -> float:
    """The channel's value at a time of the picture, or the middle of its range where there is none."""
    channel = trace.channel
    place = channel.index_at(trace.lag_s + trace.stretch * picture_s)
    block = channel.samples.block(place, min(place + 1, channel.samples.size))
    if block.size and math.isfinite(float(block[0])):
        return float(block[0])
    reach = trace.value_range() or (0.0, 1.0)
    return 0.5 * (reach[0] + reach[1])


def _paint(
    painter: QPainter,
    lanes: tuple[Lane, Lane],
    view: tuple[float, float],
    values: tuple[float, float],
    arrows: list[Arrow],
) -> None:
    font = painter.font()
    left, axis = MARGIN + axis_width(font), time_axis_height(font)
    strip = (HEIGHT - 2 * MARGIN - axis - 6) / 2
    scales = []
    for number, lane in enumerate(lanes):
        rect = QRectF(left, MARGIN + number * (strip + 6), WIDTH - MARGIN - left, strip)
        scales.append(Scale(rect, *view, *values))
        paint_lane(painter, lane, scales[-1], DAYLIGHT, ())
    paint_time_axis(painter, QRectF(left, HEIGHT - MARGIN - axis, WIDTH - MARGIN - left, axis), *view, DAYLIGHT)
    taken: list[QPointF] = []
    for number, arrow in enumerate(arrows):
        taken.append(_paint_arrow(painter, scales[arrow.lane], arrow, str(number + 1), taken))


def _paint_arrow(painter: QPainter, scale: Scale, arrow: Arrow, number: str, taken: list[QPointF]) -> QPointF:
    """A numbered disc with an arrow to its place; gives where the disc stands."""
    rect = scale.rect
    x = float(np.clip(scale.x_of(arrow.time_s), rect.left() + 2, rect.right() - 2))
    y = float(np.clip(scale.y_of(arrow.value), rect.top() + 2, rect.bottom() - 2))
    inside = rect.adjusted(RADIUS + 4, RADIUS + 24, -RADIUS - 4, -RADIUS - 4)
    ways = [QPointF(x + REACH * across, y + REACH * down) for down in (-1.0, 1.0) for across in (-0.8, 0.8)]

    def room(place: QPointF) -> float:
        away = min((QLineF(place, other).length() for other in taken), default=1e3)
        return min(away, 3 * RADIUS) - (0.0 if inside.contains(place) else 1e3)

    disc = max(ways, key=room)
    disc = QPointF(min(max(disc.x(), inside.left()), inside.right()), min(max(disc.y(), inside.top()), inside.bottom()))
    line = QLineF(disc, QPointF(x, y))
    painter.setPen(QPen(QColor("white"), 6.0))
    painter.drawLine(line)
    painter.setPen(QPen(QColor("black"), 2.5))
    painter.drawLine(line)
    painter.setBrush(QColor("black"))
    painter.drawPolygon(_head(line))
    painter.setPen(QPen(QColor("white"), 2.0))
    painter.drawEllipse(disc, RADIUS, RADIUS)
    font = QFont(painter.font())
    painter.save()
    font.setBold(True)
    painter.setFont(font)
    painter.setPen(QColor("white"))
    box = QRectF(disc.x() - RADIUS, disc.y() - RADIUS, 2 * RADIUS, 2 * RADIUS)
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, number)
    painter.restore()
    return disc


def _head(line: QLineF) -> QPolygonF:
    """The arrow's head, its tip at the line's end."""
    length = line.length() or 1.0
    along = QPointF(line.dx() / length, line.dy() / length)
    across = QPointF(-along.y(), along.x())
    tip = line.p2()
    back = tip - along * HEAD
    return QPolygonF([tip, back + across * (HEAD / 2), back - across * (HEAD / 2)])
