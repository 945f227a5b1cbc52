"""Captures of a hundred million samples from a file: what they take of the memory, and how soon they are seen."""

import stat
import subprocess
import sys
import time
from pathlib import Path

import h5py
import numpy as np
import pytest
from pytestqt.qtbot import QtBot

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.progress import Progress
from loomlight.signal.pyramid import Pyramid, build_pyramid, pyramid_of
from loomlight.signal.samples import CountSamples, Samples
from loomlight.storage.capture_file import read_capture, write_capture
from loomlight.viewer import channel_preview
from loomlight.viewer.window import Window

STEP_S = 1e-6
MOST_ADDED_MB = 300
VIEW = """
import sys, time
from pathlib import Path
from PySide6.QtWidgets import QApplication
from loomlight.storage.library import Library
from loomlight.viewer.settings import Settings
from loomlight.viewer.window import Window

def most_mb():
    # Not what getrusage tells: that begins with what the process was before it became this one.
    status = Path("/proc/self/status").read_text().split("VmHWM:")[1]
    return int(status.split()[0]) / 1024

def work(until):
    end = time.monotonic() + 90
    while not until():
        assert time.monotonic() < end, "too late"
        application.processEvents()
        time.sleep(0.005)

home, capture = Path(sys.argv[1]), Path(sys.argv[2])
application = QApplication([])
window = Window(Library(home / "library"), Settings(home / "settings.ini"))
window.resize(1600, 900)
window.show()
for page in range(window.pages.count()):
    window.go_to(page)
    application.processEvents()
window.go_to(1)
before = most_mb()
begin = time.monotonic()
window.files.open([capture])
lanes = window.captures_page.panel.lanes
work(lambda: len(lanes.lanes) == 4)
application.processEvents()
seen_s = time.monotonic() - begin
for share in (1.0, 0.3, 0.1, 1e-2, 1e-3, 1e-4, 1e-5, 1e-6):
    low, high = lanes.full()
    for place in (0.0, 0.37, 0.8):
        start = low + place * (high - low) * (1 - share)
        lanes.set_view(start, start + share * (high - low))
        lanes.repaint()
        application.processEvents()
print(most_mb() - before, seen_s)
window.close()
"""


def long_capture(path: Path, size: int, channels: int) -> Capture:
    rng = np.random.default_rng(2)
    tile = np.repeat(np.where(rng.integers(0, 2, 20_000), 12_000, 1_000), 52) + rng.normal(0.0, 30.0, 52 * 20_000)
    samples = CountSamples(np.resize(tile.astype(np.int16), size), scale=1e-3, offset=0.0)
    capture = Capture(
        path.name,
        "made",
        tuple(Channel(f"wire {number}", "V", samples, 0.0, STEP_S) for number in range(channels)),
    )
    write_capture(path, capture)
    return capture


@pytest.mark.bench
def test_four_channels_of_a_hundred_million_add_little_to_the_memory(benchmark, tmp_path: Path) -> None:
    path = tmp_path / "long.h5"
    long_capture(path, 100_000_000, 4)

    def view() -> str:
        command = [sys.executable, "-c", VIEW, str(tmp_path), str(path)]
        return subprocess.run(command, capture_output=True, text=True, check=True, timeout=300).stdout

    added_mb, seen_s = map(float, benchmark.pedantic(view, rounds=1).split())
    benchmark.extra_info.update({"added, MB": round(added_mb), "first picture, s": round(seen_s, 2)})
    path.unlink()  # nearly a gigabyte, that would be kept for days
    assert added_mb < MOST_ADDED_MB


def without_pyramid(path: Path) -> None:
    with h5py.File(path, "r+") as file:
        for group in file["channels"].values():
            for name in [one for one in group if one.startswith(("min_", "max_"))]:
                del group[name]


def test_a_file_without_a_pyramid_is_seen_all_the_same_and_left_as_it_was(
    window: Window, qtbot: QtBot, tmp_path: Path
) -> None:
    path = tmp_path / "bare.h5"
    capture = long_capture(path, 300_000, 2)
    without_pyramid(path)
    path.chmod(stat.S_IRUSR)
    content = path.read_bytes()
    window.files.open([path])
    lanes = window.captures_page.panel.lanes
    qtbot.waitUntil(lambda: len(lanes.lanes) == 2, timeout=20_000)
    wanted = build_pyramid(capture.channels[0].samples)
    for lane in lanes.lanes:
        for one, other in zip(lane.traces[0].pyramid.levels, wanted.levels, strict=True):
            np.testing.assert_array_equal(one.low, other.low)
            np.testing.assert_array_equal(one.high, other.high)
    assert path.read_bytes() == content


def test_how_far_the_lanes_are_is_shown_while_a_long_capture_is_prepared(
    window: Window, stick: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    def slowly(samples: Samples, progress: Progress) -> Pyramid:
        for number in range(20):
            progress(number / 20)
            time.sleep(0.05)
        return build_pyramid(samples)

    monkeypatch.setattr(channel_preview, "pyramid_of", slowly)
    page = window.captures_page
    window.files.open([stick / "before.csv"])
    window.go_to(1)
    qtbot.waitUntil(lambda: page.preparing.isVisible() and page.preparing.value() > 10, timeout=20_000)
    qtbot.waitUntil(lambda: bool(page.panel.lanes.lanes) and not page.preparing.isVisible(), timeout=20_000)


def test_a_stored_pyramid_is_the_one_that_would_be_built(tmp_path: Path) -> None:
    path = tmp_path / "long.h5"
    capture = long_capture(path, 200_001, 1)
    stored = pyramid_of(read_capture(path).channels[0].samples)
    built = build_pyramid(capture.channels[0].samples)
    assert [level.bucket for level in stored.levels] == [level.bucket for level in built.levels]
    for one, other in zip(stored.levels, built.levels, strict=True):
        np.testing.assert_array_equal(one.low, other.low)
        np.testing.assert_array_equal(one.high, other.high)
