"""The list of places where a known-good fits a long suspect, on the page and in the commands' answers."""

import json
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QToolButton
from pytestqt.qtbot import QtBot

from loomlight.viewer.ask import Ask
from loomlight.viewer.command_line import main
from loomlight.viewer.window import Window

SLOW_MS = 60_000
PLACES_S = (0.5, 2.0, 3.1)


@pytest.fixture(name="files")
def files_fixture(tmp_path: Path) -> tuple[Path, Path]:
    """A long suspect with three bursts at 1 ms a sample, and one burst alone."""
    rng = np.random.default_rng(4)
    burst = np.convolve(rng.normal(size=449), np.hanning(20), mode="valid")[:400]
    record = rng.normal(0, 0.1, 4000)
    for at_s in PLACES_S:
        record[round(at_s * 1000) : round(at_s * 1000) + 400] += burst
    paths = tmp_path / "long.csv", tmp_path / "good.csv"
    for path, values in zip(paths, (record, burst), strict=True):
        rows = [f"{number * 1e-3:.3f},{value:.4f}" for number, value in enumerate(values.tolist())]
        path.write_text("\n".join(["time (s),sensor (V)", *rows]) + "\n")
    return paths


def test_each_place_is_listed_and_jumped_to(window: Window, qtbot: QtBot, files: tuple[Path, Path]) -> None:
    for number, path in enumerate(files, 1):
        window.files.open([path])
        qtbot.waitUntil(lambda n=number: len(window.desk.opened) == n and not window.opening.is_busy, timeout=SLOW_MS)
    window.go_to(2)
    page = window.compare_page
    suspect, good = (one.choices()[0] for one in window.desk.opened)
    window.desk.chosen.ask = Ask(kind="own-limits", upper_v=99.0)
    window.desk.choose(suspect=suspect, good=good)
    page.asking.fields["upper"].edit.setText("99")
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        page.run()
    assert page.places.isVisible()
    assert page.places.box.count() == 3
    _, forward = page.places.findChildren(QToolButton)
    for at_s in (*PLACES_S[1:], PLACES_S[0]):
        qtbot.mouseClick(forward, Qt.MouseButton.LeftButton)
        start_s, stop_s = page.panel.lanes.view()
        assert start_s == pytest.approx(at_s, abs=2e-3)
        assert stop_s - start_s == pytest.approx(0.4, abs=2e-3)
    window.desk.clear()
    assert not page.places.isVisible()


def test_the_commands_tell_the_places(files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["compare", str(files[0]), "--channel", "#1", "--good", str(files[1]), "--kind", "own-limits"]
    assert main([*arguments, "--upper", "99"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "The known-good fits at 3 places: 500 ms, 2 s, 3.1 s." in text
    main([*arguments, "--upper", "99", "--json"])
    answer = json.loads(capsys.readouterr().out)
    assert answer["lineup"]["by"] == "shape"
    assert any(one.startswith("By shape") for one in answer["verdict"]["reasons"])
    assert any("3 places" in one for one in answer["verdict"]["reasons"])


def test_by_frame_is_refused_plainly_for_what_has_none(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = ["compare", str(files[0]), "--channel", "#1", "--good", str(files[1]), "--kind", "own-limits"]
    assert main([*arguments, "--upper", "99", "--by", "frame"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "carries no frames" in err
    assert len(err.strip().splitlines()) == 1
