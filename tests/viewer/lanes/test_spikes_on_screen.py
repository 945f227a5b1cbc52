"""One sample among ten million stands on the screen, at every zoom, in every form that keeps it."""

from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from loomlight.signal.capture import Channel
from loomlight.signal.errors import FileProblem
from loomlight.signal.pyramid import Pyramid, build_pyramid
from loomlight.signal.samples import CountSamples, Wave
from loomlight.viewer.lanes.paint_lane import paint_lane
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane, Trace
from loomlight.viewer.theme import DAYLIGHT

pytestmark = pytest.mark.usefixtures("qapp")
SIZE = 10_000_000
STEP_S = 1e-6
SPIKE_V = 12.0


@pytest.fixture(scope="module")
def quiet() -> tuple[npt.NDArray[np.int16], Pyramid]:
    counts = np.random.default_rng(7).integers(-50, 50, SIZE).astype(np.int16)
    return counts, build_pyramid(CountSamples(counts, scale=1e-3, offset=0.0))


def picture(trace: Trace, view: tuple[float, float], *, width: int, ratio: float = 1.0) -> npt.NDArray[np.uint32]:
    """The whole lane with everything on it, by pixel, and no more of it."""
    image = QImage(round(width * ratio), round(200 * ratio), QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(ratio)
    image.fill(QColor(DAYLIGHT.ground))
    painter = QPainter(image)
    scale = Scale(QRectF(0, 0, width, 200), *view, -16.0, 16.0)
    paint_lane(painter, Lane("x", (trace,)), scale, DAYLIGHT, ())
    painter.end()
    raw = np.frombuffer(image.constBits(), np.uint32).reshape(image.height(), image.bytesPerLine() // 4)
    return raw[:, : image.width()].copy()


def spiked(quiet: tuple[npt.NDArray[np.int16], Pyramid], at: int, volts: float, **fields: object) -> Trace:
    counts = quiet[0].copy()
    counts[at] = round(volts * 1000)
    samples = CountSamples(counts, scale=1e-3, offset=0.0)
    settings: dict[str, object] = {"start_s": 0.0, "step_s": STEP_S} | fields
    channel = Channel("x", "V", samples, **settings)  # type: ignore[arg-type]
    return Trace(channel, build_pyramid(samples), "other", "x")


@pytest.mark.parametrize("ratio", [1.0, 1.25, 1.5, 2.0])
@pytest.mark.parametrize("form", ["even", "pairs"])
def test_a_spike_of_one_sample_is_drawn_at_every_zoom(quiet, form: str, ratio: float) -> None:
    rng = np.random.default_rng([11, round(8 * ratio), len(form)])
    for _ in range(4):
        at, volts = int(rng.integers(0, SIZE)), float(rng.choice([-SPIKE_V, SPIKE_V]))
        trace = spiked(quiet, at, volts, form=form, step_s=STEP_S if form == "even" else 2 * STEP_S)
        length = SIZE
        while length > 6:
            width = int(rng.integers(300, 1900))
            first = int(np.clip(at - rng.integers(1, length - 1), 0, SIZE - length))
            pixels = picture(trace, (first * STEP_S, (first + length) * STEP_S), width=width, ratio=ratio)
            row = round((16.0 - volts) / 32.0 * 200 * ratio)
            ink = (pixels & 0xFFFFFF) == int(DAYLIGHT.traces["other"][1:], 16)
            tip = np.flatnonzero(ink[row - 2 : row + 3].any(axis=0))
            assert tip.size, (at, first, length, width)
            # In its place: within two pixels, or the sample's own width where that is more.
            wanted = (at + 0.5 - first) / length * width * ratio
            assert np.abs(tip - wanted).min() <= 2 + width * ratio / length, (at, first, length, width)
            length = int(length / rng.uniform(2.0, 6.0))


def test_two_spikes_a_pixel_apart_are_two(quiet) -> None:
    counts = quiet[0].copy()
    a_pixel = SIZE // 1000
    first, second = 500 * a_pixel + a_pixel // 2, 504 * a_pixel + a_pixel // 2
    counts[[first, second]] = 12_000
    samples = CountSamples(counts, scale=1e-3, offset=0.0)
    trace = Trace(Channel("x", "V", samples, 0.0, STEP_S), build_pyramid(samples), "other", "x")
    pixels = picture(trace, (0.0, SIZE * STEP_S), width=1000)
    ink = (pixels & 0xFFFFFF) == int(DAYLIGHT.traces["other"][1:], 16)
    columns = np.flatnonzero(ink[30:40].any(axis=0))
    assert (np.diff(columns) > 1).sum() == 1


class PulledStick:
    """Samples whose file is gone."""

    size = 1000

    def block(self, start: int, stop: int) -> Wave:
        raise FileProblem("it cannot be read any further", file=Path("blower.h5"), do="Open it again")


def test_a_file_that_is_gone_is_told_in_the_lane_and_ends_nothing(quiet) -> None:
    channel = Channel("x", "V", PulledStick(), 0.0, STEP_S)
    lane = Trace(
        channel,
        Pyramid(1000, build_pyramid(CountSamples(quiet[0][:1000], scale=1e-3, offset=0.0)).levels),
        "other",
        "x",
    )
    pixels = picture(lane, (0.0, 1e-3), width=700)
    dark = ((pixels & 0xFFFFFF) == int(DAYLIGHT.text[1:], 16))[80:120, 100:600]
    assert dark.sum() > 100
