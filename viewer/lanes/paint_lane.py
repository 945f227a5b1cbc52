"""Draw one lane: grid, limits, band, traces, findings, head; and the time axis under all of them."""

from collections.abc import Sequence

from PySide6.QtCore import QLineF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen

from loomlight.signal.errors import LoomlightError
from loomlight.signal.finding import Finding
from loomlight.viewer.lanes.boxed_text import paint_boxed
from loomlight.viewer.lanes.kept_pictures import KeptPictures
from loomlight.viewer.lanes.layer_scale import layer_scale
from loomlight.viewer.lanes.paint_ends import paint_ends
from loomlight.viewer.lanes.paint_findings import paint_brackets, paint_findings, paint_picked, place_findings
from loomlight.viewer.lanes.paint_states import paint_clipped, paint_gaps
from loomlight.viewer.lanes.paint_trace import paint_trace
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane, Trace
from loomlight.viewer.lanes.ticks import PREFIXED_UNITS, Ticks, ticks
from loomlight.viewer.lanes.words import paint_words
from loomlight.viewer.roles import ROLES
from loomlight.viewer.theme import Theme
from loomlight.viewer.units import prefix_for


def axis_width(font: QFont) -> float:
    """Room for the value axis at the left."""
    return QFontMetricsF(font).horizontalAdvance("-00.000 ") + 10


def time_axis_height(font: QFont) -> float:
    """Room for the time axis at the bottom."""
    return QFontMetricsF(font).height() + 12


def time_ticks(rect: QRectF, start_s: float, stop_s: float, font: QFont) -> Ticks:
    """Ticks of the common time axis, as many as fit with a gap between their texts."""
    metrics = QFontMetricsF(font)
    most = max(2, int(rect.width() / (metrics.horizontalAdvance("00.0") + 24)))
    while True:
        found = ticks(start_s, stop_s, most=most, unit="s", prefixed=True, prefix=prefix_for("s"))
        widest = max((metrics.horizontalAdvance(text) for text in found.texts), default=0.0)
        step_s = found.places[1] - found.places[0] if len(found.places) > 1 else stop_s - start_s
        if most <= 1 or step_s / (stop_s - start_s) * rect.width() >= 1.5 * widest + 8:  # room for one held at the edge
            return found
        most = max(1, most * 2 // 3)


def paint_lane(
    painter: QPainter,
    lane: Lane,
    scale: Scale,
    theme: Theme,
    findings: Sequence[Finding],
    *,
    picked: Finding | None = None,
    times: Ticks | None = None,
    kept: KeptPictures | None = None,
) -> None:
    """Draw one lane inside ``scale.rect``; the value axis stands to its left.

    ``times``: ticks found for all lanes. ``kept``: pictures from the frame before, of what a new view does not change.
    """
    rect, kept = scale.rect, kept or KeptPictures()
    times = times or time_ticks(rect, scale.start_s, scale.stop_s, painter.font())
    still = (theme, scale.low, scale.high, _prefix(lane))
    painter.fillRect(rect, QColor(theme.ground))
    axis = QRectF(0.0, rect.top(), rect.left(), rect.height())
    kept.paint(painter, axis, lambda on: _value_axis(on, lane, scale, theme), part=(lane, "axis"), shows=still)
    painter.save()
    painter.setClipRect(rect.toAlignedRect())  # on whole pixels: anything else makes all drawing several times slower
    if lane.ends is not None:
        paint_ends(painter, lane.ends, scale, theme)
    elif lane.band is not None:
        _band(painter, scale, theme, lane.band)
    _grid(painter, lane, scale, theme, times)
    painter.setPen(QPen(QColor(theme.rule), 1))
    band = () if lane.band is None or lane.ends is not None else (lane.band, -lane.band)
    for y in scale.y_of([*(line.value for line in lane.lines), *band]).tolist():
        painter.drawLine(QLineF(rect.left(), y, rect.right(), y))
    for trace in lane.all_traces:
        paint_gaps(painter, trace, scale, theme)
    placed = place_findings(painter, scale, findings)
    paint_findings(painter, theme, placed)
    trouble = _paint_traces(painter, lane, scale, theme)
    paint_brackets(painter, scale, theme, placed)
    if picked is not None and picked in findings:
        paint_picked(painter, scale, theme, picked)
    metrics = QFontMetricsF(painter.font())
    if lane.lines:
        widest = max(metrics.horizontalAdvance(line.text) for line in lane.lines) + 16
        texts = QRectF(rect.right() - widest, rect.top(), widest, rect.height())
        kept.paint(
            painter, texts, lambda on: paint_limit_texts(on, lane, scale, theme), part=(lane, "limits"), shows=still
        )
    if lane.words:
        paint_words(painter, lane.words, scale, theme)
    for layer in lane.laid:
        if not lane.shares_scale(layer):
            _right_axis(painter, layer, layer_scale(lane, layer, scale), theme)
    head = QRectF(rect.left(), rect.top(), rect.width(), min(metrics.height() + 8, rect.height()))
    kept.paint(painter, head, lambda on: _head(on, lane, rect, theme), part=(lane, "head"), shows=(theme,))
    if trouble:
        _paint_trouble(painter, rect, theme, trouble)
    painter.restore()
    painter.setPen(QPen(QColor(theme.rule), 1))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(rect)


def _paint_traces(painter: QPainter, lane: Lane, scale: Scale, theme: Theme) -> str:
    """Draw all traces; what kept one from being read, as where its stick was pulled, is given back to be told."""
    trouble = ""
    for layer in lane.layers:
        own = layer_scale(lane, layer, scale)
        for trace in layer.traces:
            width = ROLES[trace.role].weight * theme.width_factor
            marker = trace.marker if lane.laid else ROLES[trace.role].marker
            try:
                paint_trace(painter, trace, own, colour=trace_colour(lane, trace, theme), width=width, marker=marker)
                paint_clipped(painter, trace, own, theme)
            except LoomlightError as error:
                trouble = str(error)
    return trouble


def _paint_trouble(painter: QPainter, rect: QRectF, theme: Theme, text: str) -> None:
    flags = int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignCenter)
    inside = rect.adjusted(8, 8, -8, -8)
    area = painter.boundingRect(inside, flags, text).adjusted(-6, -4, 6, 4)
    painter.fillRect(area, QColor(theme.raised))
    painter.setPen(QPen(QColor(theme.text), 1))
    painter.drawRect(area)
    painter.drawText(inside, flags, text)


def _prefix(lane: Lane) -> str | None:
    """What was chosen for the lane, else for all of its unit."""
    return lane.scale.prefix if lane.scale.prefix is not None else prefix_for(lane.unit)


def _value_ticks(painter: QPainter, lane: Lane, scale: Scale) -> Ticks:
    most = max(2, int(scale.rect.height() / (2.2 * QFontMetricsF(painter.font()).height())))
    return ticks(
        scale.low,
        scale.high,
        most=most,
        unit=lane.unit,
        prefixed=lane.unit in PREFIXED_UNITS,
        prefix=_prefix(lane),
    )


def _grid(painter: QPainter, lane: Lane, scale: Scale, theme: Theme, times: Ticks) -> None:
    rect, found = scale.rect, _value_ticks(painter, lane, scale)
    left, top, right, bottom = rect.left(), rect.top(), rect.right(), rect.bottom()
    lines = [QLineF(left, y, right, y) for y in scale.y_of(found.places).tolist()]
    lines += [QLineF(x, top, x, bottom) for x in scale.x_of(times.places).tolist()]
    painter.setPen(QPen(QColor(theme.grid), 1))
    painter.drawLines(lines)


def _value_axis(painter: QPainter, lane: Lane, scale: Scale, theme: Theme) -> None:
    rect, metrics = scale.rect, QFontMetricsF(painter.font())
    found = _value_ticks(painter, lane, scale)
    painter.setPen(QColor(theme.text))
    for y, text in zip(scale.y_of(found.places).tolist(), found.texts, strict=True):
        if rect.top() + metrics.height() * 1.4 <= y <= rect.bottom() - metrics.height() * 0.3:
            area = QRectF(0, y - metrics.height() / 2, rect.left() - 6, metrics.height())
            painter.drawText(area, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, text)
    unit_area = QRectF(0, rect.top(), rect.left() - 6, metrics.height())
    painter.drawText(unit_area, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop, found.unit)


def trace_colour(lane: Lane, trace: Trace, theme: Theme) -> str:
    """The role's; channels without a role that lie over one another take greys of their own."""
    others = [one for one in lane.all_traces if one.role == "other"]
    if trace.role != "other" or len(others) < 2:
        return theme.traces[trace.role]
    return theme.greys[others.index(trace) % len(theme.greys)]


def paint_chosen(painter: QPainter, scale: Scale, theme: Theme) -> None:
    """A heavier frame around the lane that the keys act on."""
    painter.setPen(QPen(QColor(theme.text), 2))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(scale.rect)


def _right_axis(painter: QPainter, layer: Lane, scale: Scale, theme: Theme) -> None:
    """Values of a layer in a unit of its own, inside the lane's right edge."""
    metrics = QFontMetricsF(painter.font())
    found = _value_ticks(painter, layer, scale)
    rows = [(float(scale.y_of(at)), f"{text} {found.unit}") for at, text in zip(found.places, found.texts, strict=True)]
    for y, text in rows:
        if scale.rect.top() + 2 * metrics.height() <= y <= scale.rect.bottom() - metrics.height() / 2:
            width = metrics.horizontalAdvance(text) + 6
            area = QRectF(scale.rect.right() - width - 8, y - metrics.height() / 2, width, metrics.height())
            painter.setPen(QPen(QColor(theme.text), 1))
            painter.drawLine(QLineF(scale.rect.right() - 6, y, scale.rect.right(), y))
            paint_boxed(painter, area, text, theme)


def _band(painter: QPainter, scale: Scale, theme: Theme, half: float) -> None:
    top, bottom = float(scale.y_of(half)), float(scale.y_of(-half))
    colour = QColor(theme.grid)
    colour.setAlpha(150)
    painter.fillRect(QRectF(scale.rect.left(), top, scale.rect.width(), bottom - top), colour)


def paint_limit_texts(painter: QPainter, lane: Lane, scale: Scale, theme: Theme) -> None:
    """What each limit says, over its line at the right; those that would cover one another are left out."""
    metrics = QFontMetricsF(painter.font())
    taken: list[float] = []
    for line in sorted(lane.lines, key=lambda one: -one.value):
        y = float(scale.y_of(line.value)) - metrics.height() - 1
        if not scale.rect.top() <= y or any(abs(y - other) < metrics.height() for other in taken):
            continue
        taken.append(y)
        width = metrics.horizontalAdvance(line.text) + 8
        paint_boxed(painter, QRectF(scale.rect.right() - width - 4, y, width, metrics.height()), line.text, theme)


def head_rect(lane: Lane, rect: QRectF, font: QFont) -> QRectF:
    """Where a hand takes a lane at its head: the names, and at least as much as a cold finger needs."""
    metrics = QFontMetricsF(font)
    width = sum(metrics.horizontalAdvance(trace.heading) + 26 for trace in lane.all_traces)
    tall = max(metrics.height() + 6, min(44.0, rect.height()))
    return QRectF(rect.left(), rect.top(), min(max(width + 12, 44.0), rect.width()), tall)


def _head(painter: QPainter, lane: Lane, rect: QRectF, theme: Theme) -> None:
    """Marker, role and name of each trace; the marker in the role's colour, the words in the text's."""
    metrics = QFontMetricsF(painter.font())
    left, top, height = rect.left() + 6, rect.top() + 4, metrics.height() + 2
    for trace in lane.all_traces:
        marker = ROLES[trace.role].marker
        swatch = not marker and bool(lane.laid)
        words = trace.heading.removeprefix(marker).strip()
        room = rect.right() - left - metrics.horizontalAdvance(f"{marker}   ") - 12
        words = metrics.elidedText(words, Qt.TextElideMode.ElideRight, max(room, 20))
        width = metrics.horizontalAdvance(f"{marker} {words}") + (30 if swatch else 14)
        ground = QColor(theme.ground)
        ground.setAlpha(225)
        painter.fillRect(QRectF(left - 3, top, width, height), ground)
        colour, indent = QColor(trace_colour(lane, trace, theme)), 0.0
        if marker:
            painter.setPen(colour)
            painter.drawText(QRectF(left, top, 20, height), Qt.AlignmentFlag.AlignVCenter, marker)
            indent = metrics.horizontalAdvance(f"{marker} ")
        elif swatch:  # of several channels without a role: which grey is whose
            painter.fillRect(QRectF(left, top + height / 2 - 2, 14, 4), colour)
            indent = 18.0
        painter.setPen(QColor(theme.text))
        painter.drawText(QRectF(left + indent, top, width, height), Qt.AlignmentFlag.AlignVCenter, words)
        left += width + 12


def text_places(found: Ticks, scale: Scale, metrics: QFontMetricsF) -> list[tuple[float, float]]:
    """Left edge and width of each tick's text, held on the axis; no width for one that would touch its neighbour."""
    places: list[tuple[float, float]] = []
    first, last = scale.rect.left() - 4, scale.rect.right()
    free = first
    for x, text in zip(scale.x_of(found.places).tolist(), found.texts, strict=True):
        width = metrics.horizontalAdvance(text)
        left = min(max(x - width / 2, first), last - width)
        fits = left >= free
        places.append((left, width if fits else 0.0))
        free = left + width + 8 if fits else free
    return places


def paint_time_axis(
    painter: QPainter, rect: QRectF, start_s: float, stop_s: float, theme: Theme, *, times: Ticks | None = None
) -> None:
    """Tick texts under the lanes, with the unit at the left."""
    scale = Scale(rect, start_s, stop_s, 0.0, 1.0)
    metrics = QFontMetricsF(painter.font())
    found = times or time_ticks(rect, start_s, stop_s, painter.font())
    painter.setPen(QColor(theme.text))
    top, height = rect.top(), metrics.height()
    painter.drawLines([QLineF(x, top, x, top + 5) for x in scale.x_of(found.places).tolist()])
    for (left, width), text in zip(text_places(found, scale, metrics), found.texts, strict=True):
        if width:
            painter.drawText(QRectF(left, top + 5, width + 2, height), Qt.AlignmentFlag.AlignCenter, text)
    area = QRectF(0, top + 5, rect.left() - 14, height)
    painter.drawText(area, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, found.unit)
