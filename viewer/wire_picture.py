"""The drawn wire: stops under each other, probes beside them, the stretch under suspicion hatched."""

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF

from loomlight.signal.wire_sketch import Suspicion, WireSketch
from loomlight.viewer.theme import Theme

STOP_HEIGHT = 52.0
WIRE_HEIGHT = 34.0
EDGE = 10.0
AXIS_X = 44.0
TEXT_X = 84.0
SYMBOL = 15.0
SUSPECT_WORDS = "under suspicion"
FOUND_WORDS = "fault found here"


@dataclass(frozen=True)
class WireLook:
    """What the picture of a wire shows."""

    sketch: WireSketch
    suspicion: Suspicion


def wire_height(sketch: WireSketch) -> float:
    """Height that the picture takes, pixels."""
    count = len(sketch.stops)
    return 2 * EDGE + count * STOP_HEIGHT + max(count - 1, 0) * WIRE_HEIGHT


def place_rect(place: int, width: float) -> QRectF:
    """Where a place stands in a picture of that width."""
    top = EDGE + (place // 2) * (STOP_HEIGHT + WIRE_HEIGHT) + (STOP_HEIGHT if place % 2 else 0.0)
    return QRectF(EDGE, top, width - 2 * EDGE, WIRE_HEIGHT if place % 2 else STOP_HEIGHT)


def paint_wire(painter: QPainter, look: WireLook, theme: Theme, width: float) -> None:
    """Draw the wire into the painter's upper left corner.

    Parameters
    ----------
    painter : QPainter
        Its font is taken as it is.
    look : WireLook
        What to show; a sketch without stops draws nothing.
    theme : Theme
        Colours; the state is told by words and hatch as well.
    width : float
        Pixels; the height is `wire_height`.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    _paint_suspicion(painter, look, theme, width)
    places = look.sketch.places
    painter.setPen(QPen(QColor(theme.text), 3.0))
    for place in range(1, places, 2):
        rect = place_rect(place, width)
        painter.drawLine(
            QPointF(AXIS_X, rect.top() - STOP_HEIGHT / 2 + SYMBOL),
            QPointF(AXIS_X, rect.bottom() + STOP_HEIGHT / 2 - SYMBOL),
        )
    for number in range(len(look.sketch.stops)):
        _paint_stop(painter, look, number, theme, width)
    if look.sketch.found_at is not None and 0 <= look.sketch.found_at < places:
        _paint_found(painter, look, theme, width)
    painter.restore()


def _paint_suspicion(painter: QPainter, look: WireLook, theme: Theme, width: float) -> None:
    """Hatch each unbroken run of suspected places, with the words once a run."""
    for first, last in _runs(look.suspicion.places):
        area = place_rect(first, width).united(place_rect(last, width)).adjusted(0, 1, 0, -1)
        strip = QRectF(area.left(), area.top(), TEXT_X - EDGE - 12, area.height())
        painter.setPen(QPen(QColor(theme.text), 1.0))
        painter.setBrush(QBrush(QColor(theme.finding), Qt.BrushStyle.BDiagPattern))
        painter.drawRect(strip)
        painter.setPen(QColor(theme.text))
        text = QRectF(area.left(), area.top() + 1, area.width() - 4, 16)
        painter.drawText(text, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop, SUSPECT_WORDS)


def _runs(places: tuple[int, ...]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    for place in places:
        if runs and runs[-1][1] == place - 1:
            runs[-1] = (runs[-1][0], place)
        else:
            runs.append((place, place))
    return runs


def _paint_stop(painter: QPainter, look: WireLook, number: int, theme: Theme, width: float) -> None:
    stop = look.sketch.stops[number]
    rect = place_rect(2 * number, width)
    middle = QPointF(AXIS_X, rect.center().y())
    painter.setPen(QPen(QColor(theme.text), 2.0))
    painter.setBrush(QColor(theme.raised))
    if stop.kind == "control unit":
        painter.drawRect(QRectF(middle.x() - SYMBOL, middle.y() - SYMBOL, 2 * SYMBOL, 2 * SYMBOL))
    elif stop.kind == "component":
        painter.drawEllipse(middle, SYMBOL, SYMBOL)
    elif stop.kind == "connector":
        painter.drawRect(QRectF(middle.x() - SYMBOL, middle.y() - SYMBOL, 2 * SYMBOL, SYMBOL - 2))
        painter.drawRect(QRectF(middle.x() - SYMBOL, middle.y() + 2, 2 * SYMBOL, SYMBOL - 2))
    else:
        painter.setBrush(QColor(theme.text))
        painter.drawEllipse(middle, 6.0, 6.0)
    probes = [one.channel for one in look.sketch.probes if one.stop == number]
    name = f"{stop.name}  {stop.pin}".strip()
    below = f"{stop.kind}" + (f"   ▶ probed: {', '.join(probes)}" if probes else "")
    _paint_text(painter, name, QRectF(TEXT_X, rect.top() + 8, rect.right() - TEXT_X, 20), theme.text, bold=True)
    _paint_text(painter, below, QRectF(TEXT_X, rect.top() + 28, rect.right() - TEXT_X, 20), theme.quiet_text)


def _paint_found(painter: QPainter, look: WireLook, theme: Theme, width: float) -> None:
    assert look.sketch.found_at is not None
    middle = QPointF(AXIS_X, place_rect(look.sketch.found_at, width).center().y())
    painter.setPen(QPen(QColor(theme.ground), 6.0))
    for colour, thick in ((theme.ground, 6.0), (theme.text, 3.0)):
        painter.setPen(QPen(QColor(colour), thick))
        for turn in (1, -1):
            painter.drawLine(middle + QPointF(-9, -9 * turn), middle + QPointF(9, 9 * turn))
    rect = place_rect(look.sketch.found_at, width)
    tip = QPointF(AXIS_X + SYMBOL + 4, middle.y())
    painter.setPen(QPen(QColor(theme.text), 1.0))
    painter.setBrush(QColor(theme.text))
    painter.drawPolygon(QPolygonF([tip, tip + QPointF(9, -5), tip + QPointF(9, 5)]))
    text = QRectF(rect.left(), rect.bottom() - 17, rect.width() - 4, 16)
    if look.sketch.found_at % 2:
        text = QRectF(TEXT_X, rect.top(), rect.right() - TEXT_X - 4, rect.height())
    painter.drawText(text, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, FOUND_WORDS)


def _paint_text(painter: QPainter, text: str, rect: QRectF, colour: str, *, bold: bool = False) -> None:
    font = QFont(painter.font())
    plain = QFont(font)
    font.setBold(bold)
    painter.setFont(font)
    painter.setPen(QColor(colour))
    cut = QFontMetricsF(font).elidedText(text, Qt.TextElideMode.ElideRight, rect.width())
    painter.drawText(rect, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, cut)
    painter.setFont(plain)
