"""Tables of frames and measurements: on the page, over the waveform, and from the commands."""

import csv
import json
from pathlib import Path

import pytest
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtWidgets import QFileDialog, QPushButton
from pytestqt.qtbot import QtBot

from loomlight.signal.frame_table import COLUMNS, FrameRow, FrameWord
from loomlight.signal.measure import Measure
from loomlight.viewer.command_line import main
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.words import Words, paint_words
from loomlight.viewer.table_words import measure_cells, value_words
from loomlight.viewer.theme import DAYLIGHT
from loomlight.viewer.window import Window

SLOW_MS = 30_000
WORDS = (FrameWord(0.0, 1.0, "break 13"), FrameWord(1.0, 2.0, "id 21"), FrameWord(2.0, 3.0, "3F", is_wrong=True))
ROW = FrameRow(0.0, 3.0, "0x21", "3F", "", "", "framing error", "no stop bit at byte 2", WORDS)


def scale(start_s: float, stop_s: float, width: float = 400.0) -> Scale:
    return Scale(QRectF(0, 0, width, 100), start_s, stop_s, 0.0, 1.0)


def test_words_where_there_is_room_then_frames_then_nothing() -> None:
    words = Words([ROW])
    assert [one.text for one in words.shown(scale(0, 3), 20)] == ["break 13", "id 21", "3F"]
    assert [one.text for one in words.shown(scale(0.5, 1.2), 20)] == ["break 13", "id 21"]
    assert [one.text for one in words.shown(scale(-20, 20), 20)] == ["0x21"]
    assert words.shown(scale(-2000, 2000), 20) == []
    assert words.shown(scale(5, 6), 20) == []
    assert not Words([])


def test_what_is_wrong_has_a_heavy_frame(qapp: object) -> None:
    image = QImage(400, 100, QImage.Format.Format_RGB32)
    image.fill(QColor("#808080"))
    painter = QPainter(image)
    paint_words(painter, Words([ROW]), scale(0, 4), DAYLIGHT)
    painter.end()
    dark = [sum(image.pixelColor(x, y).lightness() < 40 for y in range(80, 100)) for x in (150, 250)]
    assert dark[1] > dark[0]
    assert image.pixelColor(350, 92) == QColor("#808080")


@pytest.mark.parametrize(
    ("measure", "words"),
    [
        (Measure("edges", "slew", 9.3e5, "V/s"), "0.93 V/µs"),
        (Measure("timing", "bit", 52.1e-6, "s"), "52.1 µs"),
        (Measure("timing", "x", None, "s"), "cannot tell"),
        (Measure("timing", "break", 13.0, "bits"), "13 bits"),
    ],
)
def test_figures_with_their_units(measure: Measure, words: str) -> None:
    assert value_words(measure) == words
    assert measure_cells(measure)[1:] == (words, "–", "")


def test_a_frame_picked_in_the_table_is_shown_in_the_lanes(
    window: Window, qtbot: QtBot, stick: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window.files.open([stick / "before.csv"])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    window.go_to(2)
    page = window.compare_page
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        qtbot.mouseClick(page.run_button, Qt.MouseButton.LeftButton)
    tables = page.tables
    buttons = {one.text(): one for one in tables.findChildren(QPushButton)}
    qtbot.mouseClick(buttons["Frames"], Qt.MouseButton.LeftButton)
    row = next(number for number, one in enumerate(tables.rows) if one.identifier == "0x21")
    tables.frames.selectRow(row)
    start_s, stop_s = page.panel.lanes.view()
    assert start_s < tables.rows[row].start_s < tables.rows[row].stop_s < stop_s
    assert "Frame 0x21" in page.column.rule.text()
    chosen = tmp_path / "frames.csv"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(chosen), ""))
    qtbot.mouseClick(tables.save_button, Qt.MouseButton.LeftButton)
    assert len(chosen.read_text(encoding="utf-8").splitlines()) == len(tables.rows) + 1
    qtbot.mouseClick(buttons["Measured"], Qt.MouseButton.LeftButton)
    tables.measures.selectRow(0)
    assert "resting line" in page.column.rule.text()


def test_commands_print_the_table_and_save_the_frames(
    stick: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wanted = ["check", str(stick / "after.csv"), "--channel", "#1", "--kind", "lin"]
    out = tmp_path / "frames.csv"
    assert main([*wanted, "--measured", "--frames", str(out)]) == 0
    printed = capsys.readouterr().out
    assert "✓ break, shortest" in printed
    assert "LIN 2.2, parameter 17" in printed
    with out.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    assert tuple(rows[0][: len(COLUMNS)]) == COLUMNS
    assert {row[COLUMNS.index("identifier")] for row in rows[1:]} == {"0x10", "0x12", "0x21", "0x22"}
    assert main([*wanted, "--json"]) == 0
    measures = {one["name"]: one for one in json.loads(capsys.readouterr().out)["bus"]["measures"]}
    assert measures["bit rate"]["value"] == pytest.approx(19_200, rel=0.01)


def test_frames_of_a_channel_without_frames_are_refused(
    stick: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wanted = ["check", str(stick / "after.csv"), "--channel", "#1", "--kind", "own-limits", "--upper", "20"]
    assert main([*wanted, "--frames", str(tmp_path / "x.csv")]) == 2
    assert "no frames" in capsys.readouterr().err
    assert not (tmp_path / "x.csv").exists()
