"""HDF5 files that were spoiled, or made to do harm: one clear line, no hang, no memory beyond measure."""

import tracemalloc
from collections.abc import Callable
from pathlib import Path

import h5py
import numpy as np
import pytest

from loomlight.signal.errors import FileProblem
from loomlight.storage.open_capture import open_capture

MOST_BYTES = 80_000_000


def made(folder: Path, build: Callable[[h5py.File], None]) -> Path:
    with h5py.File(folder / "hostile.h5", "w") as file:
        build(file)
    return folder / "hostile.h5"


def with_a_good_row(file: h5py.File) -> None:
    file["near"] = np.arange(100.0)
    file["near"].attrs["dt"] = 1e-3


def raw_bytes_of_another_file(file: h5py.File) -> None:
    with_a_good_row(file)
    other = str(Path(file.filename).parent / "secret.bin")
    Path(other).write_bytes(bytes(range(200)))
    file.create_dataset("far", (200,), dtype="u1", external=[(other, 0, 200)])
    file["far"].attrs["dt"] = 1.0


def a_virtual_dataset_over_another_file(file: h5py.File) -> None:
    with_a_good_row(file)
    with h5py.File(Path(file.filename).parent / "other.h5", "w") as other:
        other["secret"] = np.arange(200.0)
    layout = h5py.VirtualLayout((200,), "f8")
    layout[:] = h5py.VirtualSource(str(Path(file.filename).parent / "other.h5"), "secret", (200,))
    file.create_virtual_dataset("far", layout)


def links_in_a_ring(file: h5py.File) -> None:
    with_a_good_row(file)
    group = file.create_group("a/b")
    group["up"] = file["a"]
    group["round"] = h5py.SoftLink("/a/b/round")
    file["a/back"] = h5py.SoftLink("/a/b/up/b")
    file["gone"] = h5py.SoftLink("/nowhere")
    file["far"] = h5py.ExternalLink("nothing.h5", "/x")


def texts_and_tables_of_texts(file: h5py.File) -> None:
    with_a_good_row(file)
    file["texts"] = np.array([b"x" * 50] * 300)
    file.create_dataset("long texts", data=["abc"] * 300, dtype=h5py.string_dtype())
    file["records"] = np.zeros(300, dtype=[("a", "f8"), ("b", "S3")])
    file.create_dataset("ragged", (300,), dtype=h5py.vlen_dtype(np.int32))
    file.create_dataset("references", (300,), dtype=h5py.ref_dtype)


def absurd_attributes(file: h5py.File) -> None:
    with_a_good_row(file)
    file.attrs["remark"] = "x" * 60_000
    file["near"].attrs["unit"] = "V" * 50_000
    file["near"].attrs["t0"] = np.zeros((50, 100))
    file["near"].attrs["offset"] = h5py.Empty("f8")
    file["near"].attrs["XUnits"] = file["near"].ref
    file["near"].attrs["fs"] = np.array([b"x", b"y"])


def many_groups(file: h5py.File) -> None:
    with_a_good_row(file)
    for number in range(1500):
        file.create_group(f"g{number}/h")


@pytest.mark.parametrize(
    "build",
    [
        raw_bytes_of_another_file,
        a_virtual_dataset_over_another_file,
        links_in_a_ring,
        texts_and_tables_of_texts,
        absurd_attributes,
        many_groups,
    ],
)
def test_what_stands_beside_a_good_row_does_it_no_harm(tmp_path: Path, build: Callable[[h5py.File], None]) -> None:
    capture = open_capture(made(tmp_path, build))
    assert [(channel.name, channel.step_s) for channel in capture.channels] == [("near", 1e-3)]
    assert np.array_equal(capture.channels[0].samples.block(0, 100), np.arange(100))


def a_bomb(file: h5py.File) -> None:
    data = file.create_dataset("bus", (150_000_000,), dtype="f8", chunks=(4_000_000,), compression="gzip")
    data.attrs["dt"] = 1e-9
    for start in range(0, data.size, 4_000_000):
        data.id.write_direct_chunk((start,), PACKED_ZEROS)


PACKED_ZEROS = __import__("zlib").compress(bytes(32_000_000), 9)


def a_chunk_as_large_as_memory(file: h5py.File) -> None:
    file.create_dataset("bus", (1000,), dtype="f8", maxshape=(None,), chunks=(400_000_000,), compression="gzip")
    file["bus"].attrs["dt"] = 1.0


def a_shape_beyond_all_disks(file: h5py.File) -> None:
    file.create_dataset("bus", (10**15,), dtype="f4", chunks=(1000,))[:5] = 1
    file["bus"].attrs["dt"] = 1.0


def a_wide_shape_beyond_all_disks(file: h5py.File) -> None:
    file.create_dataset("bus", (10**12, 3), dtype="i1", chunks=(1000, 3), compression="gzip")
    file["bus"].attrs["dt"] = 1.0


def a_claimed_count(file: h5py.File) -> None:
    file["bus"] = np.zeros(100)
    file["bus"].attrs.update({"dt": float("nan"), "fs": 0.0, "NumPoints": 10**18})


def only_far_rows(file: h5py.File) -> None:
    raw_bytes_of_another_file(file)
    del file["near"]


@pytest.mark.parametrize(
    "build",
    [
        a_bomb,
        a_chunk_as_large_as_memory,
        a_shape_beyond_all_disks,
        a_wide_shape_beyond_all_disks,
        a_claimed_count,
        only_far_rows,
    ],
)
def test_a_trap_is_refused_without_the_memory_it_asks_for(tmp_path: Path, build: Callable[[h5py.File], None]) -> None:
    path = made(tmp_path, build)
    tracemalloc.start()
    try:
        with pytest.raises(FileProblem, match=r"hostile\.h5"):
            open_capture(path)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < MOST_BYTES


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.99])
def test_a_file_that_was_cut_short(tmp_path: Path, share: float) -> None:
    path = made(
        tmp_path, lambda file: file.create_dataset("bus", data=np.arange(50_000.0)).attrs.__setitem__("dt", 1.0)
    )
    whole = path.read_bytes()
    path.write_bytes(whole[: int(share * len(whole))])
    with pytest.raises(FileProblem, match="damaged or was cut short"):
        open_capture(path)


def test_a_heap_of_texts_that_leads_in_circles(tmp_path: Path) -> None:
    # The HDF5 library 2.0 steps round such a heap for ever; structure by the HDF5 File Format Specification, III.E.
    def build(file: h5py.File) -> None:
        with_a_good_row(file)
        file.attrs["format"], file["near"].attrs["unit"] = "something else", "V"

    path = made(tmp_path, build)
    whole = path.read_bytes()
    heap = whole.index(b"GCOL")
    for size in (0, 2**64 - 16, 2**64 - 24, 2**63, 5000):
        path = tmp_path / f"hostile {size}.h5"
        path.write_bytes(whole[: heap + 24] + size.to_bytes(8, "little") + whole[heap + 32 :])
        with pytest.raises(FileProblem, match="damaged"):
            open_capture(path)
