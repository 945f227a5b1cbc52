"""No page holds the window up: a watchdog in the event loop while everything is walked through with a very long capture open."""

import gc
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QObject, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from loomlight.sample_captures.starter import add_starter
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.samples import CountSamples
from loomlight.storage.open_capture import open_capture
from loomlight.viewer.choice import Opened
from loomlight.viewer.pages.job_parts import PARTS
from loomlight.viewer.preparing import Preparing
from loomlight.viewer.tidying import look_through_the_young_alone
from loomlight.viewer.window import PLACES, Window

SAMPLES = 100_000_000
LONGEST_MS = 50.0
BEAT_MS = 2
COUNT_V = 0.01


class Watchdog(QObject):
    """Beats in the event loop; between two beats the window's thread may not work longer than `LONGEST_MS`.

    Its own processor time is measured, not the clock: other programs on the machine are none of the window's business.
    """

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self.stalls: dict[str, float] = {}
        self.waits: dict[str, float] = {}
        self.step = "begin"
        self._last_s, self._seen_s = time.thread_time(), time.monotonic()
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._beat)
        self._timer.start(BEAT_MS)

    def begin(self, step: str) -> None:
        self.step, self._last_s, self._seen_s = step, time.thread_time(), time.monotonic()

    def _beat(self) -> None:
        now_s, seen_s = time.thread_time(), time.monotonic()
        self.stalls[self.step] = max(self.stalls.get(self.step, 0.0), 1000.0 * (now_s - self._last_s))
        self.waits[self.step] = max(self.waits.get(self.step, 0.0), 1000.0 * (seen_s - self._seen_s))
        self._last_s, self._seen_s = now_s, seen_s


def long_capture() -> Capture:
    """100 million counts that look like a bus: a square wave with noise."""
    block = np.random.default_rng(11).integers(-20, 20, 1_000_000, dtype=np.int16)
    counts = np.tile(block, SAMPLES // block.size)
    counts.reshape(-1, 2000)[:, :1000] += 1200
    channel = Channel("long", "V", CountSamples(counts, scale=0.01, offset=0.0), 0.0, 1e-6)
    return Capture("long.h5", "made", (channel,))


def long_of(path: Path, size: int = SAMPLES) -> Capture:
    """A sample capture again and again, in one file."""
    short = open_capture(path)
    channels = []
    for one in short.channels:
        assert one.step_s is not None
        counts = np.round(one.samples.block(0, one.samples.size) / COUNT_V).astype(np.int16)
        samples = CountSamples(np.resize(counts, size), scale=COUNT_V, offset=0.0)
        channels.append(Channel(one.name, "V", samples, 0.0, one.step_s))
    return Capture(path.name, "made", tuple(channels))


@pytest.fixture
def collector() -> Iterator[None]:
    """As the program itself has it."""
    before = gc.get_threshold()
    look_through_the_young_alone()
    yield
    gc.set_threshold(*before)
    gc.unfreeze()
    gc.collect()


def make_ready(window: Window, qtbot: QtBot, watchdog: Watchdog) -> None:
    """As the program itself does after its start."""
    preparing = Preparing(window)
    watchdog.begin("pages are made ready")
    preparing.done.connect(gc.freeze)
    preparing.begin()
    with qtbot.waitSignal(preparing.done, timeout=120_000):
        pass
    preparing.close_work()


@pytest.mark.bench
@pytest.mark.usefixtures("collector")
def test_no_stall_with_a_hundred_million_samples(
    window: Window, qtbot: QtBot, stick: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    watchdog = Watchdog(window)
    make_ready(window, qtbot, watchdog)
    watchdog.begin("sample job")
    window.open_sample()
    qtbot.waitUntil(lambda: window.desk.proof is not None and not window.opening.is_busy, timeout=120_000)
    capture = long_capture()
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
            window.job_page.parts.go_to(part)
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
    tell(watchdog, capsys)
    assert not [one for one in watchdog.stalls.items() if one[1] > LONGEST_MS]


@pytest.mark.bench
@pytest.mark.usefixtures("collector")
def test_no_stall_with_a_hundred_million_samples_compared_and_proven(
    window: Window, qtbot: QtBot, stick: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Seventy thousand findings: what is drawn, listed, measured, pictured and proven with them."""
    desk, picture = window.desk, stick / "picture.png"
    window.settings.text_size = 100
    add_starter(desk.library)
    captures = {name: long_of(stick / name) for name in ("before.csv", "after.csv")}
    watchdog = Watchdog(window)
    make_ready(window, qtbot, watchdog)
    watchdog.begin("captures come")
    for name, capture in captures.items():
        desk.take_opened(Opened(stick / f"long {name}", capture))
    before, after = (opened.choices() for opened in desk.opened)
    desk.choose(suspect=before[0], good=before[1], after=after[0])
    window.go_to(PLACES.index("Compare"))
    QTest.qWait(500)
    compare, lanes = window.compare_page, window.compare_page.panel.lanes
    watchdog.begin("comparing")
    compare.run()
    qtbot.waitUntil(lambda: desk.drawn is not None, timeout=600_000)
    QTest.qWait(500)
    assert desk.drawn is not None
    assert len(desk.drawn.marks) > 50_000
    for number in range(20):
        watchdog.begin("zoom")
        lanes.zoom(0.5 if number < 10 else 2.0)
        QTest.qWait(20)
        watchdog.begin("move")
        lanes.pan(0.2)
        QTest.qWait(20)
    watchdog.begin("all of it")
    lanes.fit()
    QTest.qWait(100)
    for number in range(5):
        watchdog.begin(f"table {number}")
        compare.tables.show_table(number)
        QTest.qWait(60)
    watchdog.begin("next finding")
    for by in (1, 1, -1, -1, -1):
        compare.table.step(by)
        QTest.qWait(40)
    for place, name in enumerate(PLACES):
        watchdog.begin(f"page {name}")
        window.go_to(place)
        QTest.qWait(300)
    window.go_to(PLACES.index("Compare"))
    QTest.qWait(60)
    for what, button in (("folded", compare.panel.fold_button), ("by hand", compare.hand_button)):
        for turn in ("on", "off"):
            watchdog.begin(f"{what} {turn}")
            button.click()
            QTest.qWait(600)
    watchdog.begin("cursors")
    start, stop = lanes.full()
    lanes.set_cursors(0.9 * start + 0.1 * stop, 0.1 * start + 0.9 * stop)
    QTest.qWait(600)
    lanes.set_cursors(None, None)
    watchdog.begin("picture")
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(picture), ""))
    compare.snapshot_button.click()
    qtbot.waitUntil(picture.exists, timeout=600_000)
    watchdog.begin("proof")
    window.go_to(PLACES.index("Proof"))
    window.proof_page.run()
    qtbot.waitUntil(lambda: desk.proof is not None, timeout=900_000)
    QTest.qWait(200)
    tell(watchdog, capsys)
    assert not [one for one in watchdog.stalls.items() if one[1] > LONGEST_MS]


def tell(watchdog: Watchdog, capsys: pytest.CaptureFixture[str]) -> None:
    """The longest, for the note."""
    worst = sorted(watchdog.stalls.items(), key=lambda one: -one[1])[:12]
    with capsys.disabled():
        print("\nlongest work between two beats, ms:")
        for name, ms in worst:
            print(f"  {name} {ms:.0f} (by the clock, while others worked: {watchdog.waits[name]:.0f})")
