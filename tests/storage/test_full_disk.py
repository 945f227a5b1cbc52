"""A disk that takes no more: one error, the old file whole, the process alive (a limit on the file's size stands for it)."""

import subprocess
import sys
from pathlib import Path

import h5py
import numpy as np
import pytest

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.samples import FloatSamples
from loomlight.storage.capture_file import read_capture, write_capture
from loomlight.storage.hdf5_writing import hdf5_written

SCRIPT = """
import resource, signal, sys
from pathlib import Path
import numpy as np
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.errors import FileProblem
from loomlight.signal.samples import FloatSamples
from loomlight.storage.capture_file import write_capture
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]), int(sys.argv[2])))
values = np.random.default_rng(0).normal(size=1_500_000)
try:
    write_capture(Path(sys.argv[1]), Capture("m", "m", (Channel("bus", "V", FloatSamples(values), 0.0, 1.0),)))
except FileProblem as error:
    print("told:", error)
"""


@pytest.mark.parametrize("limit", [100, 5_000, 900_000, 5_900_000, 6_100_000])
def test_the_error_is_told_and_the_program_lives(tmp_path: Path, limit: int) -> None:
    path = tmp_path / "kept.h5"
    old = np.arange(100.0)
    write_capture(path, Capture("old", "m", (Channel("bus", "V", FloatSamples(old), 0.0, 1.0),)))
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(path), str(limit)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert "told: kept.h5: it could not be saved (File too large)" in done.stdout
    assert [one.name for one in tmp_path.iterdir()] == ["kept.h5"]
    assert read_capture(path).source_name == "old"


def test_what_is_written_through_it_is_a_plain_hdf5_file(tmp_path: Path) -> None:
    with hdf5_written(tmp_path / "a.h5") as writing:
        writing.file["x"] = np.arange(1000)
        writing.file.flush()
        writing.file["y"] = np.asarray(writing.file["x"]) * 2
    with h5py.File(tmp_path / "a.h5") as file:
        assert np.array_equal(file["y"], np.arange(1000) * 2)


def test_an_error_of_ours_is_not_taken_for_one_of_the_disk(tmp_path: Path) -> None:
    with pytest.raises(KeyError, match="ours"), hdf5_written(tmp_path / "a.h5"):
        raise KeyError("ours")
