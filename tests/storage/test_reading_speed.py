"""How fast text and capture files are read, against general readers in the same run."""

import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from loomlight.signal.progress import Cancelled
from loomlight.storage.capture_file import read_capture, write_capture
from loomlight.storage.open_capture import open_capture

ROWS = 200_000


@pytest.fixture
def export(tmp_path: Path) -> Path:
    rng = np.random.default_rng(6)
    path = tmp_path / "export.csv"
    table = np.column_stack([np.arange(ROWS) * 1e-6, rng.normal(12, 1, ROWS), rng.normal(0, 1, ROWS)])
    with path.open("w") as file:
        file.write("Time (s),supply (V),bus (V)\r\n")
        file.writelines("%.6e,%.6e,%.6e\r\n" % tuple(row) for row in table)  # noqa: UP031 (three times as fast here)
    return path


def seconds(work: Callable[[], object], repeats: int = 3) -> float:
    taken = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)


@pytest.mark.bench
def test_text_is_read_faster_than_by_general_readers(export: Path) -> None:
    own = seconds(lambda: open_capture(export))
    loadtxt = seconds(lambda: np.loadtxt(export, delimiter=",", skiprows=1))
    genfromtxt = seconds(lambda: np.genfromtxt(export, delimiter=",", skip_header=1), 1)
    megabytes = export.stat().st_size / 1e6
    print(f"own {megabytes / own:.0f}, loadtxt {megabytes / loadtxt:.0f}, genfromtxt {megabytes / genfromtxt:.0f} MB/s")
    assert own < 0.8 * loadtxt
    assert own < 0.3 * genfromtxt


@pytest.mark.bench
def test_memory_stays_near_what_is_kept(export: Path) -> None:
    tracemalloc.start()
    capture = open_capture(export)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    kept = sum(4 * channel.samples.size for channel in capture.channels) + 8 * ROWS  # and the time while it is checked
    assert peak < 2 * kept + 30e6  # a block of text takes some twenty times its size while it is parsed


@pytest.mark.bench
def test_opening_a_capture_file_reads_no_samples(export: Path, tmp_path: Path) -> None:
    write_capture(tmp_path / "c.h5", open_capture(export))
    assert seconds(lambda: read_capture(tmp_path / "c.h5")) < 0.05


def test_reading_can_be_given_up(export: Path) -> None:
    shares: list[float] = []

    def progress(share: float) -> None:
        shares.append(share)
        if share > 0.3:
            raise Cancelled

    with pytest.raises(Cancelled):
        open_capture(export, progress)
    assert 0 < shares[0] < 0.3
    assert shares == sorted(shares)
