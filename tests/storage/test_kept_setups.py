"""Set-ups are kept: in a capture file, in a job, and for loose files by their content."""

import json
from pathlib import Path

import h5py
import numpy as np
import pytest

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.channel_setup import ChannelSetup, set_up, stored_of
from loomlight.signal.errors import FileProblem
from loomlight.signal.pyramid import build_pyramid, pyramid_of
from loomlight.signal.samples import CountSamples
from loomlight.storage.capture_file import read_capture, write_capture
from loomlight.storage.capture_memory import MOST_FILES, NAME, PUT_ASIDE, CaptureMemory, content_key
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.open_capture import open_capture
from loomlight.storage.stored_setup import setup_from_json

SETUP = ChannelSetup(name="blower LIN", factor=10, invert=True, offset=0.5)
COUNTS = np.arange(-500, 500, dtype=np.int16)


@pytest.fixture
def capture() -> Capture:
    channel = Channel("CH1", "V", CountSamples(COUNTS, scale=1e-3, offset=0.0), 0.0, 1e-5)
    return Capture("a.csv", "columns", (set_up(channel, SETUP), channel))


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "a.csv"
    path.write_text("Time (s),CH1 (V)\n" + "".join(f"{number * 1e-5:.6f},{number % 7}\n" for number in range(200)))
    return path


def test_a_capture_file_holds_the_samples_as_they_were_read_and_the_setup_beside_them(
    tmp_path: Path, capture: Capture
) -> None:
    write_capture(tmp_path / "a.h5", capture)
    with h5py.File(tmp_path / "a.h5") as file:
        np.testing.assert_array_equal(file["channels/0/samples"][()], COUNTS)
        assert json.loads(file["channels/0"].attrs["setup"])["factor"] == 10
        assert "setup" not in file["channels/1"].attrs
        assert file.attrs["version"] == 2
    shown = read_capture(tmp_path / "a.h5")
    assert [one.name for one in shown.channels] == ["blower LIN", "CH1"]
    np.testing.assert_allclose(shown.channels[0].samples.block(0, 2), (5.5, 5.49), rtol=1e-6)
    assert stored_of(shown.channels[0])[1] == SETUP
    assert shown.channels[0].history == capture.channels[0].history
    made, anew = pyramid_of(shown.channels[0].samples), build_pyramid(shown.channels[0].samples)
    np.testing.assert_allclose(made.levels[0].low, anew.levels[0].low, rtol=1e-6)
    np.testing.assert_allclose(made.levels[0].high, anew.levels[0].high, rtol=1e-6)
    assert stored_of(shown.channels[0])[0].samples.pyramid is not None  # type: ignore[attr-defined]


def test_a_capture_without_a_setup_is_written_so_that_older_versions_read_it(tmp_path: Path, capture: Capture) -> None:
    write_capture(tmp_path / "a.h5", Capture("a.csv", "columns", capture.channels[1:]))
    with h5py.File(tmp_path / "a.h5") as file:
        assert file.attrs["version"] == 1


@pytest.mark.parametrize(
    "text",
    [
        "[]",
        '{"factor": "ten"}',
        '{"factor": 0}',
        '{"invert": 1}',
        '{"offset": null}',
        '{"name": 3}',
        '{"factor": true}',
        "{",
    ],
)
def test_a_spoilt_setup_makes_the_file_a_damaged_one(tmp_path: Path, capture: Capture, text: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        setup_from_json(text)
    write_capture(tmp_path / "a.h5", capture)
    with h5py.File(tmp_path / "a.h5", "r+") as file:
        file["channels/0"].attrs["setup"] = text
    with pytest.raises(FileProblem, match="damaged"):
        read_capture(tmp_path / "a.h5")


def test_what_a_newer_version_adds_to_a_setup_is_passed_over() -> None:
    assert setup_from_json('{"factor": 10, "delay_s": 3}') == ChannelSetup(factor=10)


def test_a_job_keeps_setups_and_an_older_job_has_none(tmp_path: Path, table: Path) -> None:
    folder = JobFolder.create(tmp_path / "job", title="Blower")
    kept = folder.add_capture(table)
    setups = (ChannelSetup("CH1", factor=10, clamp_mv_per_a=100.0),)
    folder.set_setups(kept.file, setups, ())
    file = tmp_path / "job" / "job.json"
    assert JobFolder.open(tmp_path / "job").job.captures[0].setups == setups
    content = json.loads(file.read_text())
    for name in ("setups", "part_of"):
        del content["captures"][0][name]
    file.write_text(json.dumps(content))
    assert JobFolder.open(tmp_path / "job").job.captures[0].setups == ()


def test_a_job_with_an_impossible_setup_is_told_in_one_line(tmp_path: Path, table: Path) -> None:
    folder = JobFolder.create(tmp_path / "job", title="Blower")
    kept = folder.add_capture(table)
    folder.set_setups(kept.file, (ChannelSetup("CH1", factor=10),), ())
    file = tmp_path / "job" / "job.json"
    file.write_text(file.read_text().replace('"factor": 10', '"factor": -10'))
    with pytest.raises(FileProblem, match="the probe factor must lie between"):
        JobFolder.open(tmp_path / "job")


def test_a_joined_capture_is_named_by_its_parts(tmp_path: Path, table: Path) -> None:
    folder = JobFolder.create(tmp_path / "job", title="Blower")
    kept = folder.add_capture(table)
    folder.set_part_of([kept.file], "whole.h5")
    assert JobFolder.open(tmp_path / "job").job.captures[0].part_of == "whole.h5"


def test_a_loose_files_setup_is_found_again_by_content_under_any_name(tmp_path: Path, table: Path) -> None:
    memory = CaptureMemory(tmp_path / "data")
    setups = (ChannelSetup("CH1", name="supply"),)
    assert memory.of(table).setups == ()
    memory.keep_setups(table, setups)
    renamed = tmp_path / "other name.csv"
    renamed.write_bytes(table.read_bytes())
    assert CaptureMemory(tmp_path / "data").of(renamed).setups == setups
    renamed.write_bytes(table.read_bytes() + b"0.002000,3\n")
    assert memory.of(renamed).setups == ()
    memory.keep_setups(table, ())
    assert memory.of(table).setups == ()


def test_the_memory_forgets_the_oldest(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("loomlight.storage.capture_memory.MOST_FILES", 3)
    memory = CaptureMemory(tmp_path / "data")
    files = [tmp_path / f"{number}.csv" for number in range(4)]
    for file in files:
        file.write_text(file.name)
        memory.keep_setups(file, (ChannelSetup("CH1", factor=10),))
    assert [bool(memory.of(file).setups) for file in files] == [False, True, True, True]
    assert MOST_FILES > 100


@pytest.mark.parametrize("content", ["", "{}", "[1]", '{"format": "loomlight captures", "version": 99, "files": {}}'])
def test_a_memory_that_cannot_be_read_is_put_aside_and_never_lost(tmp_path: Path, table: Path, content: str) -> None:
    memory = CaptureMemory(tmp_path)
    (tmp_path / NAME).write_text(content)
    assert memory.of(table).setups == ()
    memory.keep_setups(table, (ChannelSetup("CH1", factor=10),))
    assert memory.of(table).setups == (ChannelSetup("CH1", factor=10),)
    assert (tmp_path / PUT_ASIDE).read_text() == content


def test_the_key_of_a_long_file_sees_its_end_and_its_middle(tmp_path: Path) -> None:
    long = bytearray(5 << 20)
    keys = set()
    for place in (None, 0, (5 << 19) + 3, (5 << 20) - 1):
        content = bytearray(long)
        if place is not None:
            content[place] = 1
        (tmp_path / "long.bin").write_bytes(content)
        keys.add(content_key(tmp_path / "long.bin"))
    assert len(keys) == 4
    with pytest.raises(FileProblem, match="cannot be read"):
        content_key(tmp_path / "gone.bin")


def test_setups_of_a_read_capture_are_plain(table: Path) -> None:
    assert all(stored_of(one)[1].is_plain for one in open_capture(table).channels)
