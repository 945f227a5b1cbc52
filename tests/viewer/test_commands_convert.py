"""``loomlight convert``: nothing is lost on the way, and no file is written over unasked."""

from pathlib import Path

import h5py
import numpy as np
import pytest

from loomlight.signal.samples import counted_of
from loomlight.storage.open_capture import open_capture
from loomlight.viewer.command_line import main


@pytest.fixture
def export(tmp_path: Path) -> Path:
    path = tmp_path / "in.csv"
    rows = [f"{place * 1e-5:.5f};{place % 256 * 0.04:.2f};{place * 0.001:.3f}" for place in range(3000)]
    path.write_text("Zeit (s);Gebläse (V);b (mA)\n" + "\n".join(rows).replace(".", ",") + "\n", encoding="utf-8")
    return path


def values(path: Path) -> list[np.ndarray]:
    return [one.samples.block(0, one.samples.size) for one in open_capture(path).channels]


def test_text_to_ours_to_text_and_back(export: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["convert", str(export), str(tmp_path / "a.h5")]) == 0
    assert "2 channels from in.csv" in capsys.readouterr().out
    assert main(["convert", str(tmp_path / "a.h5"), str(tmp_path / "b.csv")]) == 0
    assert main(["convert", str(tmp_path / "b.csv"), str(tmp_path / "c.h5")]) == 0
    first = open_capture(export)
    for name in ("a.h5", "b.csv", "c.h5"):
        capture = open_capture(tmp_path / name)
        assert [(one.name, one.unit, one.start_s) for one in capture.channels] == [
            ("Gebläse", "V", 0.0),
            ("b", "A", 0.0),
        ]
        for one, other in zip(first.channels, capture.channels, strict=True):
            assert other.step_s == pytest.approx(one.step_s, rel=1e-12)
        for one, same in zip(values(export), values(tmp_path / name), strict=True):
            assert np.array_equal(one, same)


def test_what_came_from_a_converter_is_kept_as_its_counts(export: Path, tmp_path: Path) -> None:
    main(["convert", str(export), str(tmp_path / "a.h5")])
    with h5py.File(tmp_path / "a.h5") as file:
        assert file["channels/0/samples"].dtype == np.int16
        assert "min_64" in file["channels/0"]


def test_our_own_file_keeps_its_counts(export: Path, tmp_path: Path) -> None:
    main(["convert", str(export), str(tmp_path / "a.h5")])
    main(["convert", str(tmp_path / "a.h5"), str(tmp_path / "b.h5")])
    before, after = (counted_of(open_capture(tmp_path / name).channels[0].samples) for name in ("a.h5", "b.h5"))
    assert before is not None
    assert after is not None
    assert (before.scale, before.offset) == (after.scale, after.offset)
    assert np.array_equal(before.count_block(0, 3000), after.count_block(0, 3000))


def test_no_file_is_written_over_unasked(export: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "a.csv"
    target.write_text("mine")
    assert main(["convert", str(export), str(target)]) == 2
    assert "--replace" in capsys.readouterr().err
    assert target.read_text() == "mine"
    assert main(["convert", str(export), str(target), "--replace"]) == 0
    assert target.read_text(encoding="utf-8-sig").startswith("Time (s),Gebläse (V),b (A)\n")


def test_no_file_is_written_over_itself(export: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = export.read_bytes()
    assert main(["convert", str(export), str(export), "--replace"]) == 2
    assert "itself" in capsys.readouterr().err
    assert export.read_bytes() == before


@pytest.mark.parametrize("name", ["out", "out.xyz", "none/out.h5"])
def test_where_it_cannot_be_written_one_line_says_so(
    export: Path, tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["convert", str(export), str(tmp_path / name)]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert said.startswith("loomlight: out")


def test_the_answers_of_inspect_hold_here_too(tmp_path: Path) -> None:
    source, target = tmp_path / "in.npy", tmp_path / "out.h5"
    np.save(source, np.arange(300.0))
    assert main(["convert", str(source), str(target)]) == 2
    options = ["--step", "10us", "--start", "-1", "--unit", "1=mV", "--name", "1=bus"]
    assert main(["convert", str(source), str(target), *options]) == 0
    (channel,) = open_capture(target).channels
    assert (channel.name, channel.unit, channel.start_s) == ("bus", "V", -1.0)
    assert channel.step_s == pytest.approx(1e-5)
    text = tmp_path / "in.csv"
    text.write_text("a,b\n" + "".join(f"{n % 7}.5,{n % 5}.25\n" for n in range(200)))
    assert (
        main(["convert", str(text), str(tmp_path / "out.csv"), "--step", "1ms", "--unit", "b=A", "--leave-out", "a"])
        == 0
    )
    (channel,) = open_capture(tmp_path / "out.csv").channels
    assert (channel.name, channel.unit, channel.step_s) == ("b", "A", 1e-3)
