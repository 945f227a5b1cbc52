"""How fast text and capture files are read, against general readers in the same run."""

import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import h5py
import numpy as np
import pytest

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.progress import Cancelled
from loomlight.signal.pyramid import build_pyramid, columns, pyramid_of
from loomlight.signal.samples import CountSamples, finite_range
from loomlight.storage.capture_file import read_capture, write_capture
from loomlight.storage.open_capture import open_capture

ROWS = 400_000
HEAD = "Time (s),supply (V),bus (V)\n"
OTHERS = {
    "decimal comma": ("{:.7f};{:.4f};{:.4f}\n", ";", True, "utf-8"),
    "varying width": ("{:.7g},{:.5g},{:.4g}\n", ",", False, "utf-8"),
    "blanks": ("{:14.7f}  {:10.5f}  {:10.5f}\r\n", " ", False, "utf-8"),
    "two-byte encoding": ("{:.7f}\t{:.4f}\t{:.4f}\n", "\t", False, "utf-16"),
    "an empty cell here and there": ("{:.7f},{:.4f},{:.4f}\n", ",", False, "holes"),
}


def table() -> np.ndarray:
    rng = np.random.default_rng(6)
    return np.column_stack([np.arange(ROWS) * 1e-6, rng.normal(12, 1, ROWS), rng.normal(0, 1, ROWS)])


@pytest.fixture
def export(tmp_path: Path) -> Path:
    path = tmp_path / "export.csv"
    with path.open("w", newline="") as file:
        file.write(HEAD.replace("\n", "\r\n"))
        file.writelines("%.6e,%.6e,%.6e\r\n" % tuple(row) for row in table().tolist())  # noqa: UP031 (fast here)
    return path


def seconds(work: Callable[[], object], repeats: int = 3) -> float:
    """Processor time, least of some: what else runs on the machine does not count."""
    taken = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return min(taken)


@pytest.mark.bench
def test_a_fixed_layout_is_read_faster_than_by_general_readers(export: Path) -> None:
    own = seconds(lambda: open_capture(export))
    loadtxt = seconds(lambda: np.loadtxt(export, delimiter=",", skiprows=1), 2)
    genfromtxt = seconds(lambda: np.genfromtxt(export, delimiter=",", skip_header=1), 1)
    megabytes = export.stat().st_size / 1e6
    print(f"own {megabytes / own:.0f}, loadtxt {megabytes / loadtxt:.0f}, genfromtxt {megabytes / genfromtxt:.0f} MB/s")
    # Some 0.1 s of each file are spent on its head, whatever its length.
    assert own < loadtxt / 2.2
    assert own < 0.15 * genfromtxt


@pytest.mark.bench
@pytest.mark.parametrize("form", OTHERS.values(), ids=OTHERS.keys())
def test_any_regular_layout_is_read_as_fast_as_by_a_general_reader(
    tmp_path: Path, form: tuple[str, str, bool, str]
) -> None:
    row_form, delimiter, comma, encoding = form
    text = "".join([row_form.format(*row) for row in table().tolist()])
    text = HEAD.replace(",", delimiter if delimiter != " " else "  ") + (text.replace(".", ",") if comma else text)
    plain = tmp_path / "plain.csv"
    plain.write_text(text)
    if encoding == "holes":
        lines = text.split("\n")
        for place in range(7, len(lines), 5000):
            lines[place] = lines[place].rpartition(",")[0] + ","
        text, encoding = "\n".join(lines), "utf-8"
    path = tmp_path / "export.csv"
    path.write_text(text, encoding=encoding, newline="")

    def loadtxt() -> object:
        with plain.open() as file:
            source = (line.replace(",", ".") for line in file) if comma else file
            return np.loadtxt(source, delimiter=None if delimiter == " " else delimiter, skiprows=1)

    own, other = seconds(lambda: open_capture(path)), seconds(loadtxt, 2)
    print(f"own {1e3 * own:.0f} ms, loadtxt {1e3 * other:.0f} ms, {other / own:.2f} times as fast")
    assert own < 1.1 * other


@pytest.mark.bench
def test_memory_stays_near_what_is_kept(export: Path) -> None:
    tracemalloc.start()
    capture = open_capture(export)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    # What is kept, the time while it is checked, and a block of text, which takes some twenty times its size.
    needed = sum(4 * channel.samples.size for channel in capture.channels) + 8 * ROWS
    print(f"peak {peak / 1e6:.0f} MB for {needed / 1e6:.0f} MB of columns")
    assert peak < 1.3 * needed + 30e6


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


@pytest.fixture(scope="module")
def long_record() -> np.ndarray:
    return (np.random.default_rng(7).integers(-100, 100, 1_000_000).astype(np.int16) + np.arange(20)[:, None]).reshape(
        -1
    )


@pytest.mark.bench
def test_the_first_picture_of_our_own_file_needs_no_samples(tmp_path: Path, long_record: np.ndarray) -> None:
    path = tmp_path / "own.h5"
    samples = CountSamples(long_record.astype(np.int16), scale=0.01, offset=6.0)
    write_capture(path, Capture("m", "m", (Channel("bus", "V", samples, 0.0, 1e-6),)))

    def picture() -> None:
        (channel,) = open_capture(path).channels
        pyramid = pyramid_of(channel.samples)
        finite_range(channel.samples)
        columns(channel.samples, pyramid, 0, channel.samples.size, 1600)

    def read_and_build() -> None:
        (channel,) = open_capture(path).channels
        build_pyramid(channel.samples)

    stored, built = seconds(picture), seconds(read_and_build)
    print(f"{1e3 * stored:.0f} ms with the stored pyramid, {1e3 * built:.0f} ms without")
    assert stored < built / 4


@pytest.mark.bench
@pytest.mark.parametrize("packing", [None, "gzip"])
def test_the_first_picture_of_a_foreign_file_comes_early(
    tmp_path: Path, long_record: np.ndarray, packing: str | None
) -> None:
    path = tmp_path / "foreign.h5"
    options = {"compression": packing, "compression_opts": 1, "shuffle": True, "chunks": (1 << 17,)} if packing else {}
    with h5py.File(path, "w") as file:
        file.create_dataset("bus", data=long_record.astype(np.int16), **options).attrs.update(
            {"dt": 1e-6, "scale": 0.01}
        )
    start = time.process_time()
    seen: list[float] = []
    open_capture(path, first_picture=lambda _: seen.append(time.process_time() - start))
    whole = time.process_time() - start
    print(
        f"first picture after {1e3 * seen[0]:.0f} ms, refined {len(seen) - 1} times, whole after {1e3 * whole:.0f} ms"
    )
    assert seen[0] < 0.8 * whole  # it takes the same time however long the file is
    assert len(seen) > 2
