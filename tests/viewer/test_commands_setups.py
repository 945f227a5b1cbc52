"""The commands see a capture as the window does: read and set up as was said, in a job or by content."""

import json
from pathlib import Path

import pytest

from loomlight.signal.channel_setup import ChannelSetup
from loomlight.storage.capture_file import read_capture
from loomlight.storage.capture_memory import CaptureMemory
from loomlight.storage.job_folder import JobFolder
from loomlight.viewer.command_line import main


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "a.csv"
    lines = [f"{number * 1e-5:.6f},{number % 5}" for number in range(200)]
    path.write_text("\n".join(["Time (s),CH1 (V)", *lines, ""]))
    return path


def inspected(path: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    assert main(["inspect", str(path), "--json"]) == 0
    answer: dict[str, object] = json.loads(capsys.readouterr().out)
    return answer


def test_a_loose_files_setup_is_used_and_told(table: Path, capsys: pytest.CaptureFixture[str]) -> None:
    CaptureMemory().keep_setups(table, (ChannelSetup("CH1", name="current", clamp_mv_per_a=100, invert=True),))
    answer = inspected(table, capsys)
    (channel,) = answer["channels"]  # type: ignore[misc]
    assert (channel["name"], channel["unit"], channel["min"], channel["max"]) == ("current", "A", -40.0, 0.0)
    assert answer["notes"][0] == (  # type: ignore[index]
        "CH1: set up by hand: named 'current', current clamp, 100 mV per A, upside down."
    )


def test_a_jobs_own_setup_and_reading_are_used_whatever_is_remembered(
    tmp_path: Path, table: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = JobFolder.create(tmp_path / "job", title="Blower")
    kept = folder.add_capture(table)
    copy = folder.capture_path(kept)
    CaptureMemory().keep_setups(copy, (ChannelSetup("CH1", factor=100),))
    (channel,) = inspected(copy, capsys)["channels"]  # type: ignore[misc]
    assert channel["max"] == 4.0
    folder.set_setups(kept.file, (ChannelSetup("CH1", factor=10),), ())
    folder.set_reading(kept.file, '{"step_s": 0.25}')
    answer = inspected(copy, capsys)
    (channel,) = answer["channels"]  # type: ignore[misc]
    assert (channel["max"], channel["step_s"]) == (40.0, 0.25)
    assert any("Read as you said for this file before: --step 0.25" in note for note in answer["notes"])  # type: ignore[attr-defined]
    folder.set_reading(kept.file, "no answers")
    (channel,) = inspected(copy, capsys)["channels"]  # type: ignore[misc]
    assert channel["step_s"] == pytest.approx(1e-5)


def test_a_known_good_that_is_kept_has_its_setup(
    tmp_path: Path, table: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    CaptureMemory().keep_setups(table, (ChannelSetup("CH1", name="blower", factor=10),))
    add = ["library", "add", str(table), "--channel", "blower", "--kind", "own-limits", "--title", "Blower"]
    assert main([*add, "--library", str(tmp_path / "library")]) == 0
    capsys.readouterr()
    (entry,) = (tmp_path / "library").glob("*.h5")
    (channel,) = read_capture(entry).channels
    assert channel.name == "blower"
    assert channel.samples.block(0, 5).tolist() == [0.0, 10.0, 20.0, 30.0, 40.0]
