"""What tests of the lanes are made from: channels, traces, lanes, and pictures to look at pixel by pixel."""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from loomlight.signal.capture import Channel
from loomlight.signal.pyramid import build_pyramid
from loomlight.signal.samples import FloatSamples
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
