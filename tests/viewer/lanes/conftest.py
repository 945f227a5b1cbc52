"""What tests of the lanes are made from: channels, traces, lanes, and pictures to look at pixel by pixel."""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QMouseEvent, QPainter, QWheelEvent
from PySide6.QtTest import QTest

from loomlight.signal.capture import Channel
from loomlight.signal.pyramid import build_pyramid
from loomlight.signal.samples import FloatSamples
from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane, Trace
from loomlight.viewer.roles import RoleKey
from loomlight.viewer.theme import DAYLIGHT

Pixels = npt.NDArray[np.bool_]
MakeTrace = Callable[..., Trace]
Draw = Callable[[Callable[[QPainter, Scale], object], tuple[float, float], tuple[float, float]], QImage]
RECT = QRectF(80, 10, 800, 200)


@pytest.fixture
def make_trace() -> MakeTrace:
    """An even trace, 1 µs a sample from 0 s unless told otherwise."""

    def make(values: npt.ArrayLike, *, role: RoleKey = "suspect", name: str = "blower LIN", **fields: object) -> Trace:
        samples = FloatSamples(values)
        settings: dict[str, object] = {"unit": "V", "start_s": 0.0, "step_s": 1e-6} | fields
        channel = Channel(name, samples=samples, **settings)  # type: ignore[arg-type]
        return Trace(channel, build_pyramid(samples), role, name)

    return make


@pytest.fixture
def bus_trace(make_trace: MakeTrace) -> Trace:
    """100 ms of a line that is pulled from 12 V to 1 V every 100 µs, 1 µs a sample."""
    return make_trace(np.where(np.arange(100_000) % 100 < 50, 12.0, 1.0))


@pytest.fixture
def bus_lane(bus_trace: Trace) -> Lane:
    return Lane("blower LIN", (bus_trace,))


@pytest.fixture
def draw() -> Draw:
    """Draw into the lane at x 80 to 880 and y 10 to 210 of a white picture."""

    def drawn(
        what: Callable[[QPainter, Scale], object], view: tuple[float, float], values: tuple[float, float]
    ) -> QImage:
        image = QImage(900, 260, QImage.Format.Format_RGB32)
        image.fill(QColor(DAYLIGHT.ground))
        painter = QPainter(image)
        what(painter, Scale(RECT, *view, *values))
        painter.end()
        return image

    return drawn


@pytest.fixture
def inked() -> Callable[[QImage, str], Pixels]:
    """Which pixels, [y, x], have exactly a colour."""

    def pixels(image: QImage, colour: str) -> Pixels:
        raw = np.frombuffer(image.constBits(), np.uint32).reshape(image.height(), image.bytesPerLine() // 4)
        found: Pixels = (raw[:, : image.width()] & 0xFFFFFF) == int(colour[1:], 16)
        return found

    return pixels


class Hand:
    """A hand on some lanes: it presses, drags, and turns the wheel."""

    none = Qt.KeyboardModifier.NoModifier
    left = Qt.MouseButton.LeftButton

    def __init__(self, stack: LaneStack) -> None:
        self.stack = stack

    def place(self, at_s: float, *, lane: int = 0, share: float = 0.5) -> QPoint:
        """Where a time stands in a lane, ``share`` of its height from the top."""
        scale = self.stack.scales()[lane]
        return QPoint(round(float(scale.x_of(at_s))), round(scale.rect.top() + share * scale.rect.height()))

    def move(self, to: QPoint, *, held: Qt.KeyboardModifier = none, pressed: bool = True) -> None:
        """Move to a place; Qt's own test moves come without a button."""
        place, nothing = QPointF(to), Qt.MouseButton.NoButton
        at = self.stack.mapToGlobal(place)
        buttons = self.left if pressed else nothing
        self.stack.mouseMoveEvent(QMouseEvent(QEvent.Type.MouseMove, place, at, nothing, buttons, held))

    def press(self, at: QPoint, *, held: Qt.KeyboardModifier = none) -> None:
        """Press and stay."""
        QTest.mousePress(self.stack, self.left, held, at)

    def click(self, at: QPoint) -> None:
        """Press and let go."""
        QTest.mouseClick(self.stack, self.left, self.none, at)

    def drag(self, begin: QPoint, end: QPoint, *, held: Qt.KeyboardModifier = none, drop: bool = True) -> None:
        """Press, move in three steps, and let go unless it still holds."""
        self.press(begin, held=held)
        for share in (0.3, 0.7, 1.0):
            self.move(begin + (end - begin) * share, held=held)
        if drop:
            QTest.mouseRelease(self.stack, self.left, held, end)

    def wheel(self, at: QPoint, notches: float, *, aside: float = 0.0, held: Qt.KeyboardModifier = none) -> None:
        """Turn the wheel, or two fingers on a touchpad."""
        place, turned = QPointF(at), QPoint(round(120 * aside), round(120 * notches))
        nothing, phase = Qt.MouseButton.NoButton, Qt.ScrollPhase.NoScrollPhase
        at_screen = self.stack.mapToGlobal(place)
        self.stack.wheelEvent(QWheelEvent(place, at_screen, QPoint(), turned, nothing, held, phase, False))


@pytest.fixture
def hand() -> type[Hand]:
    return Hand
