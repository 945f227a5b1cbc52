"""Draw a folded view: the darker (in the night the brighter) a spot, the more often the signal passed it."""

import numpy as np
import numpy.typing as npt
from PySide6.QtCore import QLineF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QImage, QPainter, QPen

from loomlight.signal.fold import Counts, Folded
from loomlight.viewer.lanes.paint_lane import paint_lane, paint_limit_texts, paint_time_axis, time_axis_height
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.theme import Theme

STEPS = 24
LEGEND_PIXELS = 150.0
SAMPLED = "read here"


def ramp(theme: Theme) -> npt.NDArray[np.uint32]:
    """Colours from once to most often, as 0xAARRGGBB; the first keeps 3:1 against the ground, so that one stroke is seen."""
    first, last = (QColor(one) for one in theme.density)
    ends = np.array([[one.red(), one.green(), one.blue()] for one in (first, last)], dtype=np.float64)
    share = np.linspace(0.0, 1.0, STEPS)[:, None]
    colours = np.round(ends[0] * (1 - share) + ends[1] * share).astype(np.uint32)
    found: npt.NDArray[np.uint32] = 0xFF000000 | colours[:, 0] << 16 | colours[:, 1] << 8 | colours[:, 2]
    return found


def density_image(counts: Counts, theme: Theme) -> QImage:
    """One pixel a spot, clear where nothing passed; steps of equal ratio, so that the rare is told from the never."""
    most = max(int(counts.max(initial=0)), 1)
    share = np.log(np.maximum(counts, 1)) / max(np.log(most), 1e-12)
    step = np.minimum((share * STEPS).astype(np.int64), STEPS - 1)
    pixels = np.where(counts > 0, ramp(theme)[step], 0).astype(np.uint32)[::-1]
    pixels = np.ascontiguousarray(pixels)
    rows, columns = pixels.shape
    image = QImage(pixels.data, columns, rows, 4 * columns, QImage.Format.Format_ARGB32_Premultiplied)
    return image.copy()  # its own memory: the array does not outlive this call


def paint_fold(
    painter: QPainter,
    rect: QRectF,
    lane: Lane,
    folded: Folded,
    theme: Theme,
    unit_s: float,
    image: QImage | None = None,
    *,
    sampled_s: float | None = None,
) -> None:
    """One folded trace in ``rect``, its value axis at the left, its time axis below.

    Parameters
    ----------
    lane : Lane
        The one trace with its limits and unit.
    unit_s : float
        Length of one bit, frame or cycle: its begin and its end are marked.
    image : QImage, optional
        Its `density_image`, where it is at hand.
    sampled_s : float, optional
        Where in a bit its value is read: a line with its name.
    """
    scale = Scale(rect, folded.begin_s, folded.end_s, folded.low, folded.high)
    bare = Lane(lane.key, (), unit=lane.unit)
    paint_lane(painter, bare, scale, theme, ())
    painter.save()
    painter.setClipRect(rect.toAlignedRect())
    painter.drawImage(rect, image or density_image(folded.counts, theme))
    for x in scale.x_of([0.0, unit_s]).tolist():
        painter.setPen(QPen(QColor(theme.text), 1, Qt.PenStyle.DashLine))
        painter.drawLine(QLineF(x, rect.top(), x, rect.bottom()))
    if sampled_s is not None:
        _paint_sampled(painter, rect, float(scale.x_of([sampled_s])[0]), theme)
    for line in lane.lines:
        y = float(scale.y_of(line.value))
        painter.setPen(QPen(QColor(theme.rule), 1))
        painter.drawLine(QLineF(rect.left(), y, rect.right(), y))
    paint_limit_texts(painter, lane, scale, theme)
    painter.restore()
    axis = QRectF(rect.left(), rect.bottom() + 2, rect.width(), time_axis_height(painter.font()))
    paint_time_axis(painter, axis, folded.begin_s, folded.end_s, theme)


def paint_density_legend(painter: QPainter, area: QRectF, theme: Theme, most: int) -> None:
    """What the colours mean: from once to the most often."""
    metrics = QFontMetricsF(painter.font())
    once, often = "passed once", f"{most} times"
    painter.setPen(QColor(theme.text))
    left = area.left()
    painter.drawText(QRectF(left, area.top(), 200, area.height()), Qt.AlignmentFlag.AlignVCenter, once)
    left += metrics.horizontalAdvance(once) + 8
    # The words stay whole in a narrow field: the band gives way.
    room = area.right() - left - 8 - metrics.horizontalAdvance(often) - 2
    band = QRectF(left, area.center().y() - 8, min(LEGEND_PIXELS, max(room, 16.0)), 16)
    colours = ramp(theme)
    for number, colour in enumerate(colours.tolist()):
        part = QRectF(band.left() + number * band.width() / STEPS, band.top(), band.width() / STEPS + 1, band.height())
        painter.fillRect(part & band, QColor.fromRgb(colour))
    painter.setPen(QPen(QColor(theme.rule), 1))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(band)
    painter.setPen(QColor(theme.text))
    words = QRectF(band.right() + 8, area.top(), 200, area.height())
    painter.drawText(words, Qt.AlignmentFlag.AlignVCenter, often)


def _paint_sampled(painter: QPainter, rect: QRectF, x: float, theme: Theme) -> None:
    """The sample point: a full line, so that it is told from the bit's ends, and its name at the foot."""
    painter.setPen(QPen(QColor(theme.text), 1))
    painter.drawLine(QLineF(x, rect.top(), x, rect.bottom()))
    metrics = QFontMetricsF(painter.font())
    width = metrics.horizontalAdvance(SAMPLED) + 6
    box = QRectF(max(x - width - 2, rect.left()), rect.bottom() - metrics.height() - 3, width, metrics.height() + 2)
    painter.fillRect(box, QColor(theme.ground))
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, SAMPLED)
