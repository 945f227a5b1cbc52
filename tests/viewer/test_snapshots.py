"""Snapshots: sizes, drawings, what their title block says, and that opening one brings its view back."""

import json
import struct
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QByteArray, QUrl
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from loomlight import sample_captures
from loomlight.signal.comparison import compare
from loomlight.signal.examination import Conditions
from loomlight.signal.job import Job
from loomlight.signal.wire_sketch import ProbePoint, Stop, WireSketch
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.open_capture import open_capture
from loomlight.storage.picture_data import data_of, with_data
from loomlight.viewer import file_actions
from loomlight.viewer.command_line import main
from loomlight.viewer.lanes_of import drawn
from loomlight.viewer.picture_dialog import OWN, PictureDialog
from loomlight.viewer.sheet import Shown
from loomlight.viewer.snapshot import PRINT, SCREEN, ComparisonSnapshot, as_png, as_svg
from loomlight.viewer.snapshot_data import seen_proof, snapshot_inside
from loomlight.viewer.snapshot_view import seen_view
from loomlight.viewer.theme import DAYLIGHT
from loomlight.viewer.window import Window

pytestmark = pytest.mark.usefixtures("qapp")

SAMPLES = Path(str(sample_captures.__path__[0]))
SLOW_MS = 60_000
HOSTILE = '</text><script>alert(1)</script> & "Ω"'
MakeJob = Callable[..., JobFolder]


@pytest.fixture(scope="module")
def taken() -> ComparisonSnapshot:
    capture = open_capture(SAMPLES / "before.csv")
    conditions = Conditions(same_moment=True, supply_v=13.2)
    found = compare(capture.channel("blower LIN"), capture.channel("flap LIN"), kind="lin", conditions=conditions)
    wire = WireSketch((Stop("component", "blower regulator", "3"),), (ProbePoint(0, "before.csv", "blower LIN"),))
    job = Job(HOSTILE, vehicle="Coachling 9-seat", complaint="full blast", wire=wire)
    shown = Shown(
        (0.061, 0.064), (), (0.0615, 0.0625), {}, ("A 61.5 ms   B 62.5 ms   Δt 1 ms", "■ blower LIN: mean 9.1 V")
    )
    job = replace(job, captures=())
    return ComparisonSnapshot(
        drawn(found), "before.csv", "flap LIN", job=job, settings=shown, hashes={"before.csv": "0" * 64}
    )


def _count(image: QImage, colour: str) -> int:
    wanted = QColor(colour).rgb()
    return sum(image.pixel(x, y) == wanted for y in range(image.height()) for x in range(0, image.width(), 3))


def test_print_has_more_pixels_and_says_how_large_it_is(taken: ComparisonSnapshot) -> None:
    screen, printed = (as_png(taken, size) for size in (SCREEN, PRINT))
    small, large = QImage.fromData(screen), QImage.fromData(printed)
    assert (small.width(), small.height()) == (SCREEN.width, SCREEN.height)
    assert (large.width(), large.height()) == (round(2.4 * PRINT.width), round(2.4 * PRINT.height))
    # PNG specification, chunk pHYs: pixels a metre. 300 dots an inch are 11 811; what a sheet is wide on paper stays.
    assert large.dotsPerMeterX() == pytest.approx(11_811 * 1.2, rel=0.01)
    assert 0.15 < large.width() / large.dotsPerMeterX() < 0.3
    for role in ("suspect", "known-good", "difference"):
        assert _count(large, DAYLIGHT.traces[role]) > 1.5 * _count(small, DAYLIGHT.traces[role])  # type: ignore[index]


def test_a_drawing_holds_its_words_as_words(taken: ComparisonSnapshot) -> None:
    content = as_svg(taken)
    root = ElementTree.fromstring(content)
    said = " ".join(" ".join(one.itertext()) for one in root.iter("{http://www.w3.org/2000/svg}text"))
    assert not [one for one in root.iter() if one.tag.endswith("script")]
    assert "alert(1)" in said
    for words in (
        "Coachling 9-seat",
        "complaint: ",
        "file before.csv",
        "channel blower LIN",
        "known-good flap LIN",
        "LIN bus",
        "step 2 µs",
        "node supply 12.5 V, known-good 12.5 V",
        "supply given 13.2 V",
        "A 61.5 ms",
        "mean 9.1 V",
        "severe finding: the function may suffer",
        "tolerance of the difference",
    ):
        assert words in said, words
    renderer = QSvgRenderer(QByteArray(content))
    image = QImage(SCREEN.width, SCREEN.height, QImage.Format.Format_RGB32)
    image.fill(QColor("magenta"))
    painter = QPainter(image)
    renderer.render(painter)
    painter.end()
    assert _count(image, "magenta") == 0, "the sheet has a ground of its own"
    assert _count(image, DAYLIGHT.traces["suspect"]) > 500


def test_the_title_block_names_the_place_that_was_probed(make_job: MakeJob, own_home: Path) -> None:
    folder = make_job()
    inside = snapshot_inside((folder.path / "snapshots" / folder.job.snapshots[0]).read_bytes())
    proof = seen_proof(inside)
    assert proof is not None
    assert (proof.state, proof.counts, proof.files) == ("proven", (51, 0), ("before.csv", "after.csv"))
    assert proof.lengths_s == pytest.approx((0.1957, 0.1957))
    assert {one.name: one.same for one in proof.conditions}["sample step"] is True


@pytest.mark.parametrize(
    "spoil",
    [
        lambda inside: inside | {"checks": 5, "prove": {"checks": 5}},
        lambda inside: inside | {"counts": ["many", 0]},
        lambda inside: inside | {"lag_s": None},
        lambda inside: inside | {"files": ["one"]},
        lambda inside: inside | {"shown": [1e999, 0]},
        lambda inside: {key: one for key, one in inside.items() if key != "lines"},
    ],
)
def test_spoilt_data_are_no_proof_and_no_trouble(
    make_job: MakeJob, own_home: Path, spoil: Callable[[dict[str, object]], dict[str, object]]
) -> None:
    png = QImage(8, 8, QImage.Format.Format_RGB32)
    path = own_home / "x.png"
    png.save(str(path))
    inside = {
        "format": "loomlight snapshot",
        "prove": {"state": "proven", "reasons": [], "checks": []},
        **{"files": ["b", "a"], "channels": ["x", "x"], "sha256": {}, "conditions": [], "counts": [1, 0]},
        **{"lengths_s": [1.0, 1.0], "waits": True, "shown": None, "worst": None, "lag_s": 0.0, "lines": [[], []]},
    }
    whole = with_data(path.read_bytes(), [json.dumps(inside)])
    assert seen_proof(snapshot_inside(whole)) is not None
    spoilt = with_data(path.read_bytes(), [json.dumps(spoil(inside))])
    assert seen_proof(snapshot_inside(spoilt)) is None
    path.write_bytes(spoilt)
    assert seen_view(path) is None


def _ready(window: Window, qtbot: QtBot, folder: JobFolder) -> None:
    window.jobs.open_job(folder.path)
    qtbot.waitUntil(lambda: len(window.desk.opened) == 2 and not window.opening.is_busy, timeout=SLOW_MS)


def _snapshot(window: Window, qtbot: QtBot) -> Path:
    assert window.desk.folder is not None
    before = window.desk.folder.job.snapshots
    qtbot.waitUntil(lambda: window.desk.folder.job.snapshots != before, timeout=SLOW_MS)  # type: ignore[union-attr]
    return window.desk.folder.path / "snapshots" / window.desk.folder.job.snapshots[-1]


def test_opening_a_comparison_brings_its_view_back(
    window: Window, qtbot: QtBot, make_job: MakeJob, monkeypatch: pytest.MonkeyPatch
) -> None:
    _ready(window, qtbot, make_job(proven=False))
    page, desk = window.compare_page, window.desk
    page.asking.fields["supply"].edit.setText("13.2")
    page.run()
    qtbot.waitUntil(lambda: desk.drawn is not None, timeout=SLOW_MS)
    page.panel.lanes.set_view(0.0612, 0.0625)
    page.panel.lanes.set_cursors(0.0615, 0.0617)
    taken: list[str] = []
    page.keeping.snapshot_taken.connect(lambda name, _snapshot: taken.append(name))
    page.snapshot_button.click()
    assert taken == ["blower LIN faulty"]
    path = _snapshot(window, qtbot)
    page.asking.fields["supply"].edit.setText("")
    desk.choose(suspect=desk.choices()[3])
    page.run()
    qtbot.waitUntil(lambda: not page.aside.is_busy and desk.drawn_from is not None, timeout=SLOW_MS)
    window.go_to(0)
    shown = desk.drawn
    window.files.take_dropped([path])
    qtbot.waitUntil(lambda: desk.drawn is not shown, timeout=SLOW_MS)
    assert window.pages.currentWidget() is page
    assert desk.drawn is not None
    assert (desk.drawn.comparison.suspect.name, desk.chosen.suspect.file) == ("blower LIN", "before.csv")  # type: ignore[union-attr]
    assert desk.drawn.comparison.conditions.supply_v == 13.2
    assert page.panel.lanes.view() == pytest.approx((0.0612, 0.0625))
    assert page.panel.lanes.cursors() == pytest.approx((0.0615, 0.0617))


def test_opening_a_proof_brings_it_back_with_what_was_said(window: Window, qtbot: QtBot, make_job: MakeJob) -> None:
    _ready(window, qtbot, make_job(proven=False))
    page, desk = window.proof_page, window.desk
    page.picked.setChecked(True)
    page.run()
    qtbot.waitUntil(lambda: desk.proof is not None, timeout=SLOW_MS)
    page.snapshot_button.click()
    path = _snapshot(window, qtbot)
    page.picked.setChecked(False)
    qtbot.waitUntil(lambda: not page.aside.is_busy, timeout=SLOW_MS)
    assert desk.proof is not None
    assert desk.proof.proof.state == "proven"
    window.files.open_snapshot(path)
    qtbot.waitUntil(lambda: desk.proof.proof.state == "cannot tell", timeout=SLOW_MS)  # type: ignore[union-attr]
    assert page.picked.isChecked()
    assert "☑" in page.picked.text()
    seen = seen_view(path)
    assert seen is not None
    assert seen.view == pytest.approx(page.panel.lanes.view())


def test_a_snapshot_without_its_capture_says_what_to_open(window: Window, make_job: MakeJob) -> None:
    folder = make_job()
    window.files.open_snapshot(folder.path / "snapshots" / folder.job.snapshots[0])
    assert "Open that file (or its job) first" in window.strip.text.text()


def test_another_picture_is_opened_as_a_picture(
    window: Window, own_home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[QUrl] = []
    monkeypatch.setattr(file_actions.QDesktopServices, "openUrl", opened.append)
    QImage(8, 8, QImage.Format.Format_RGB32).save(str(own_home / "photo.png"))
    window.files.open_snapshot(own_home / "photo.png")
    assert [one.fileName() for one in opened] == ["photo.png"]
    window.files.open_snapshot(own_home / "gone.png")
    assert "gone.png: it cannot be read" in window.strip.text.text()


@pytest.mark.parametrize(
    ("typed", "wanted"),
    [
        (("1600", "1130"), (1600, 1130)),
        (("899", "900"), None),
        (("9000", "900"), None),
        (("x", "900"), None),
        (("²", "1"), None),
    ],
)
def test_a_size_is_taken_only_where_the_sheet_fits(
    typed: tuple[str, str], wanted: tuple[int, int] | None, qtbot: QtBot
) -> None:
    dialog = PictureDialog()
    qtbot.addWidget(dialog)
    dialog.size_box.setCurrentText(OWN)
    dialog.width_line.setText(typed[0])
    dialog.height_line.setText(typed[1])
    size = dialog.size_wanted()
    assert (None if size is None else (size.width, size.height)) == wanted


def test_to_file_writes_what_the_name_asks_for(
    window: Window, qtbot: QtBot, make_job: MakeJob, own_home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _ready(window, qtbot, make_job(proven=False))
    window.compare_page.run()
    qtbot.waitUntil(lambda: window.desk.drawn is not None, timeout=SLOW_MS)
    monkeypatch.setattr(PictureDialog, "exec", lambda _dialog: PictureDialog.DialogCode.Accepted)
    for name, kind, written in (("a.png", "", "a.png"), ("b.svg", "", "b.svg"), ("c", "Drawings (*.svg)", "c.svg")):
        monkeypatch.setattr(
            QFileDialog, "getSaveFileName", lambda *_, name=name, kind=kind: (str(own_home / name), kind)
        )
        window.compare_page.export_button.click()
        qtbot.waitUntil(lambda written=written: (own_home / written).exists(), timeout=SLOW_MS)
        qtbot.waitUntil(lambda: not window.snapshots._painting.is_busy, timeout=SLOW_MS)
    assert data_of((own_home / "a.png").read_bytes()) is not None
    assert ElementTree.parse(own_home / "c.svg").getroot().tag.endswith("svg")


def test_the_command_takes_sizes_and_drawings_and_keeps_what_is_not_ours(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    channel = ("--channel", "#2", "--good", str(SAMPLES / "known_good.h5"))
    base = ["compare", str(SAMPLES / "before.csv"), *channel, "--picture"]
    assert main([*base, str(tmp_path / "one.png"), "--picture-size", "1000x900"]) == 1
    width, height = struct.unpack(">II", (tmp_path / "one.png").read_bytes()[16:24])
    assert (width, height) == (1000, 900)
    drawing = tmp_path / "two.svg"
    for _ in range(2):  # our own drawing gives way to a newer one
        assert main([*base, str(drawing)]) == 1
    drawing.write_text("<svg xmlns='http://www.w3.org/2000/svg'/>")
    capsys.readouterr()
    assert main([*base, str(drawing)]) == 2
    assert "something else stands there" in capsys.readouterr().err
    for size in ("huge", "10x10", "1000x", "99999x1000"):
        assert main([*base, str(tmp_path / "x.png"), "--picture-size", size]) == 2
        assert "is no size" in capsys.readouterr().err
