"""The first picture of a long text file: seen before the file is read, true wherever it looks."""

from pathlib import Path

import numpy as np
import pytest

from loomlight.signal.capture import Capture
from loomlight.signal.errors import FileProblem
from loomlight.storage.open_capture import open_capture
from loomlight.storage.reading import Reading

ROWS = 520_000


def made(
    folder: Path, *, start_s: float = -2.0, head: str = "Time (ms),bus (mV),lamp (A)\n", falls: bool = False
) -> Path:
    times = start_s * 1e3 + np.arange(ROWS) * 0.01
    if falls:
        times[ROWS // 2 :] -= 1000.0
    volts = 12_000 + 500 * np.sin(np.arange(ROWS) / 3e4)
    path = folder / "long.csv"
    path.write_text(
        head
        + "".join(
            [f"{t:.3f},{v:.2f},{n % 2}\n" for n, (t, v) in enumerate(zip(times.tolist(), volts.tolist(), strict=True))]
        )
    )
    return path


def pictures(path: Path, reading: Reading | None = None) -> tuple[list[tuple[float, Capture]], Capture | None]:
    share = 0.0
    seen: list[tuple[float, Capture]] = []

    def progress(now: float) -> None:
        nonlocal share
        share = now

    try:
        capture = open_capture(path, progress, reading=reading, first_picture=lambda one: seen.append((share, one)))
    except FileProblem:
        return seen, None
    return seen, capture


def test_it_comes_before_the_first_block_and_spans_the_whole(tmp_path: Path) -> None:
    ((share, coarse),), capture = pictures(made(tmp_path))
    assert share == 0.0
    assert capture is not None
    assert "coarse" in coarse.notes[0]
    assert [(one.name, one.unit) for one in coarse.channels] == [("bus", "V"), ("lamp", "A")]
    for early, whole in zip(coarse.channels, capture.channels, strict=True):
        assert early.start_s == pytest.approx(whole.start_s, abs=0.02 * 5.2)
        assert early.stop_s == pytest.approx(whole.stop_s, abs=0.02 * 5.2)
    times = coarse.channels[0].times_s
    assert times is not None
    expected = 12 + 0.5 * np.sin((times + 2.0) / 1e-5 / 3e4)
    np.testing.assert_allclose(coarse.channels[0].samples.block(0, times.size), expected, atol=0.01)
    both = coarse.channels[1].samples.block(0, times.size).reshape(-1, 2)
    assert (both == [0, 1]).all()  # no spike between two places is lost where it looks


def test_seconds_since_1970_are_counted_from_the_first(tmp_path: Path) -> None:
    ((_, coarse),), _ = pictures(made(tmp_path, start_s=1.7e9))
    assert 0.0 <= coarse.channels[0].start_s < 0.1


def test_where_it_could_mislead_there_is_none(tmp_path: Path) -> None:
    assert pictures(made(tmp_path, falls=True))[0] == []
    assert pictures(made(tmp_path), Reading(step_s=1e-3))[0] == []
    short = tmp_path / "short.csv"
    short.write_text("Time (s),a (V)\n" + "".join(f"{n},{n % 7}\n" for n in range(1000)))
    assert pictures(short)[0] == []
