"""No page holds the window up: a watchdog in the event loop while everything is walked through with a very long capture open."""

import time
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QObject, QTimer
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.samples import CountSamples
from loomlight.viewer.choice import Opened
from loomlight.viewer.pages.job_page import PARTS
from loomlight.viewer.window import PLACES, Window

SAMPLES = 100_000_000
LONGEST_MS = 50.0
BEAT_MS = 2


class Watchdog(QObject):
    """Beats in the event loop; between two beats the window's thread may not work longer than `LONGEST_MS`.

    Its own processor time is measured, not the clock: other programs on the machine are none of the window's business.
    """

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self.stalls: dict[str, float] = {}
        self.step = "begin"
        self._last_s = time.thread_time()
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._beat)
        self._timer.start(BEAT_MS)

    def begin(self, step: str) -> None:
        self.step, self._last_s = step, time.thread_time()

    def _beat(self) -> None:
        now_s = time.thread_time()
        self.stalls[self.step] = max(self.stalls.get(self.step, 0.0), 1000.0 * (now_s - self._last_s))
        self._last_s = now_s


def long_capture() -> Capture:
    """100 million counts that look like a bus: a square wave with noise."""
    block = np.random.default_rng(11).integers(-20, 20, 1_000_000, dtype=np.int16)
    counts = np.tile(block, SAMPLES // block.size)
    counts.reshape(-1, 2000)[:, :1000] += 1200
    channel = Channel("long", "V", CountSamples(counts, scale=0.01, offset=0.0), 0.0, 1e-6)
    return Capture("long.h5", "made", (channel,))


@pytest.mark.bench
def test_no_stall_with_a_hundred_million_samples(
    window: Window, qtbot: QtBot, stick: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    window.open_sample()
    qtbot.waitUntil(lambda: window.desk.proof is not None and not window.opening.is_busy, timeout=120_000)
    capture, watchdog = long_capture(), Watchdog(window)
    watchdog.begin("capture comes")
    window.desk.take_opened(Opened(stick / "long.h5", capture))
    lanes = window.captures_page.panel.lanes
    qtbot.waitUntil(lambda: bool(lanes.lanes) and lanes.lanes[0].key.endswith("long"), timeout=120_000)
    for turn in (1, 2):
        for place, name in enumerate(PLACES):
            watchdog.begin(f"{name} {turn}")
            window.go_to(place)
            QTest.qWait(60)
        for part, name in enumerate(PARTS):
            watchdog.begin(f"Job {name} {turn}")
            window.go_to(0)
            window.job_page.go_to_part(part)
            QTest.qWait(40)
    window.go_to(1)
    for number in range(20):
        watchdog.begin("zoom")
        lanes.zoom(0.5 if number < 10 else 2.0)
        QTest.qWait(20)
        watchdog.begin("move")
        lanes.pan(0.2)
        QTest.qWait(20)
    window.captures_page.files.setCurrentRow(0)
    QTest.qWait(60)
    watchdog.begin("reading panel")
    window.captures_page.reading_button.click()
    QTest.qWait(600)
    window.captures_page.end_reading()
    for place, name in enumerate(PLACES):
        window.go_to(place)
        QTest.qWait(60)
        for size, contrast in ((100, "usual"), (150, "usual"), (150, "more"), (100, "usual")):
            watchdog.begin(f"looks of {name}")
            window.settings.text_size, window.settings.contrast = size, contrast
            window.change_theme()
            QTest.qWait(150)
    worst = sorted(watchdog.stalls.items(), key=lambda one: -one[1])
    with capsys.disabled():
        print("\nlongest work between two beats, ms:", *(f"{name} {ms:.0f}" for name, ms in worst[:12]), sep="\n  ")
    assert not [one for one in worst if one[1] > LONGEST_MS]
