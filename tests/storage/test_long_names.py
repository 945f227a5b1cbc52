"""Names up to what the system takes are written; longer ones are told."""

from pathlib import Path

import pytest

from loomlight.signal.errors import FileProblem
from loomlight.storage.safe_write import write_bytes


@pytest.mark.parametrize("name", ["x" * 251 + ".csv", "車" * 83 + ".h5", "😀" * 60 + ".png"])
def test_long_names_are_written(tmp_path: Path, name: str) -> None:
    assert 240 <= len(name.encode()) <= 255
    write_bytes(tmp_path / name, b"content")
    assert [one.name for one in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_bytes() == b"content"


@pytest.mark.parametrize("place", ["x" * 256, "x" * 300 + "/a.csv"])
def test_names_that_are_too_long_are_told(tmp_path: Path, place: str) -> None:
    with pytest.raises(FileProblem, match=r"could not be saved .*too long"):
        write_bytes(tmp_path / place, b"content")
    assert not list(tmp_path.iterdir())
