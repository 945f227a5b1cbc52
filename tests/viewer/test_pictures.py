"""Annotated pictures: their words and marks are there, their data inside, and nothing else is written over."""

import hashlib
import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from PySide6.QtGui import QImage

from loomlight import sample_captures
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.job import Note
from loomlight.signal.proof import Proof, ProofCheck
from loomlight.signal.prove import prove
from loomlight.storage.open_capture import open_capture
from loomlight.storage.picture_data import data_of
from loomlight.viewer.command_line import main
from loomlight.viewer.lanes_of import Drawn, drawn, worst_stretch
from loomlight.viewer.picture import (
    HEIGHT,
    MOST_CHECKS,
    WIDTH,
    Heading,
    Shown,
    check_rows,
    paint_comparison,
    paint_proof,
)
from loomlight.viewer.sheet import MARGIN, Sheet
from loomlight.viewer.snapshot import ComparisonSnapshot, as_png
from loomlight.viewer.theme import DAYLIGHT, THEMES, Theme

pytestmark = pytest.mark.usefixtures("qapp")  # pictures are drawn with the one application that the tests share

SAMPLES = Path(str(sample_captures.__path__[0]))
HEADING = Heading("Blower at full speed: blower LIN", ("file before.csv",))
LEAST_WORDS_PIXELS = 2000
BELOW_STRIPS = 380


def _compared(name: str) -> Comparison:
    capture = open_capture(SAMPLES / name)
    conditions = Conditions(same_moment=True)
    return compare(capture.channel("blower LIN"), capture.channel("flap LIN"), kind="lin", conditions=conditions)


@pytest.fixture(scope="module")
def before() -> Comparison:
    return _compared("before.csv")


@pytest.fixture(scope="module")
def proof(before: Comparison) -> Proof:
    return prove(before, _compared("after.csv"))


def comparison_picture(shown: Drawn, heading: Heading, theme: Theme, *, seen: Shown | None = None) -> QImage:
    sheet = Sheet(WIDTH, HEIGHT, theme)
    paint_comparison(sheet, shown, heading, shown=seen)
    return sheet.image


def proof_picture(before: Drawn, after: Drawn, proof: Proof, heading: Heading, theme: Theme) -> QImage:
    sheet = Sheet(WIDTH, HEIGHT, theme)
    paint_proof(sheet, before, after, proof, heading)
    return sheet.image


def _pixels(image: QImage) -> npt.NDArray[np.uint8]:
    """Red, green and blue of each pixel, shape (height, width, 3)."""
    image = image.convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine())
    return rows[:, : 3 * image.width()].reshape(image.height(), image.width(), 3).copy()


def _count(image: QImage, colour: str) -> int:
    wanted = [int(colour[place : place + 2], 16) for place in (1, 3, 5)]
    return int(np.all(_pixels(image) == wanted, axis=2).sum())


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES.keys())
def test_a_comparison_shows_words_both_traces_difference_and_findings(before: Comparison, theme: Theme) -> None:
    image = comparison_picture(drawn(before), HEADING, theme)
    assert (image.width(), image.height()) == (1600, 1130)
    assert _count(image, theme.text) > LEAST_WORDS_PIXELS
    for role in ("known-good", "suspect", "difference"):
        assert _count(image, theme.traces[role]) > 300, role  # type: ignore[index]  # three of `RoleKey`
    assert _count(image, theme.finding) > 300
    assert _count(image, theme.traces["after repair"]) == 0


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES.keys())
def test_a_proof_shows_before_and_after(proof: Proof, theme: Theme) -> None:
    image = proof_picture(drawn(proof.before), drawn(proof.after), proof, HEADING, theme)
    assert _count(image, theme.traces["suspect"]) > 300
    assert _count(image, theme.traces["after repair"]) > 300
    assert _count(image, theme.text) > LEAST_WORDS_PIXELS


def test_a_proof_marks_findings_before_the_repair_and_none_after(proof: Proof) -> None:
    pixels = _pixels(proof_picture(drawn(proof.before), drawn(proof.after), proof, HEADING, DAYLIGHT))
    after = np.all(pixels == [int(DAYLIGHT.traces["after repair"][at : at + 2], 16) for at in (1, 3, 5)], axis=2)
    hatch = np.all(pixels == [int(DAYLIGHT.finding[at : at + 2], 16) for at in (1, 3, 5)], axis=2)
    lane_rows = np.flatnonzero(after[BELOW_STRIPS:].sum(axis=1) > 100) + BELOW_STRIPS
    assert lane_rows.size, "the lane after the repair has flat stretches"
    assert hatch[BELOW_STRIPS : lane_rows[0]].any()
    assert not hatch[lane_rows[0] : lane_rows[-1]].any()


def test_long_words_leave_the_lanes_their_room(proof: Proof) -> None:
    long = Heading("title " * 200, ("complaint " * 800, "file before.csv"))
    wordy = replace(proof, reasons=("reason " * 500,) * 3)
    image = proof_picture(drawn(proof.before), drawn(proof.after), wordy, long, DAYLIGHT)
    short = proof_picture(drawn(proof.before), drawn(proof.after), proof, HEADING, DAYLIGHT)
    for role in ("suspect", "after repair"):
        colour = DAYLIGHT.traces[role]  # type: ignore[index]  # two of `RoleKey`
        assert _count(image, colour) > 0.4 * _count(short, colour), role


def test_a_check_that_failed_is_never_cut_off(proof: Proof) -> None:
    passed = tuple(ProofCheck(f"level {number}", 1.0, 1.0, 2.0, True) for number in range(30))
    failed = ProofCheck("dropouts", 5.0, 3.0, 0.0, False)
    rows = check_rows(replace(proof, checks=(*passed, failed)))
    assert len(rows) == MOST_CHECKS
    assert rows[0][0] == "dropouts"
    assert rows[-1] == ("… and 20 more", "", "", "", "20 passed")
    assert len(check_rows(replace(proof, checks=passed[:MOST_CHECKS]))) == MOST_CHECKS


def test_the_picture_opens_on_a_dropout(before: Comparison) -> None:
    stretch = worst_stretch(before)
    assert stretch is not None
    inside = [one for one in before.findings if one.kind == "dropout" and stretch[0] <= one.start_s <= stretch[1]]
    assert inside
    whole_s = before.suspect.stop_s - before.suspect.start_s
    assert stretch[1] - stretch[0] < 0.05 * whole_s, "near enough to see it"


def test_notes_and_cursors_are_drawn(before: Comparison) -> None:
    stretch = worst_stretch(before)
    assert stretch is not None
    middle = sum(stretch) / 2
    note = Note(channel=before.suspect.name, time_s=middle, value=6.0, text="lets go here")
    bare = _pixels(comparison_picture(drawn(before), HEADING, DAYLIGHT, seen=Shown(view=stretch)))
    shown = Shown(view=stretch, notes=(note,), cursors=(middle, None))
    marked = _pixels(comparison_picture(drawn(before), HEADING, DAYLIGHT, seen=shown))
    assert np.any(bare != marked, axis=2).sum() > 1000


def test_stretches_and_levels_are_drawn_where_they_stand(before: Comparison) -> None:
    view = worst_stretch(before)
    assert view is not None
    length = view[1] - view[0]
    note = Note(before.suspect.name, view[0] + 0.25 * length, 6.0, "its answer", view[0] + 0.75 * length)
    bare = _pixels(comparison_picture(drawn(before), HEADING, DAYLIGHT, seen=Shown(view=view)))
    for shown in (Shown(view=view, notes=(note,)), Shown(view=view, levels={before.suspect.name: (2.0, 8.0)})):
        marked = _pixels(comparison_picture(drawn(before), HEADING, DAYLIGHT, seen=shown))
        changed = np.flatnonzero(np.any(bare != marked, axis=2).any(axis=0))
        reach = (changed.max() - changed.min()) / bare.shape[1]
        assert reach == pytest.approx(0.47 if shown.notes else 0.93, abs=0.05)


def test_a_refused_line_up_shows_each_lane_and_frames_no_more_than_the_strip(before: Comparison) -> None:
    """A known-good that lies at other times says so instead of standing empty; the frame stays on the sheet."""
    assert before.lineup is not None
    refused = replace(before, lineup=replace(before.lineup, accepted=False))
    there = comparison_picture(drawn(refused), HEADING, DAYLIGHT, seen=Shown(view=(-1.0, 1.0)))
    assert _count(there, DAYLIGHT.traces["known-good"]) > 300
    assert _count(there, DAYLIGHT.traces["difference"]) == 0
    sides = _pixels(there)[:, : int(MARGIN) - 1]
    assert (sides == 255).all(), "nothing runs into the margin"
    elsewhere = comparison_picture(drawn(refused), HEADING, DAYLIGHT, seen=Shown(view=(5.0, 6.0)))
    lanes = _pixels(elsewhere)[500:900, 600:1200]
    assert (lanes == 0).all(axis=2).sum() > 100, "words stand in the empty lanes"


def test_a_channel_with_no_finding_and_no_known_good_is_shown_whole() -> None:
    suspect = open_capture(SAMPLES / "after.csv").channel("blower LIN")
    found = check(suspect, kind="own-limits", conditions=Conditions(upper_v=20.0))
    image = comparison_picture(drawn(found), HEADING, DAYLIGHT)
    assert _count(image, DAYLIGHT.traces["suspect"]) > 1000
    assert _count(image, DAYLIGHT.traces["known-good"]) == 0


def _inside(path: Path) -> dict[str, Any]:
    inside = json.loads(data_of(path.read_bytes()) or "")
    assert isinstance(inside, dict)
    return inside


def test_a_saved_picture_holds_files_settings_and_answer(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, picture = SAMPLES / "before.csv", tmp_path / "snapshot.png"
    good = ("--good", str(SAMPLES / "known_good.h5"))
    assert main(["compare", str(path), "--channel", "#2", *good, "--picture", str(picture), "--json"]) == 1
    answer = json.loads(capsys.readouterr().out)
    inside = _inside(picture)
    assert inside["format"] == "loomlight snapshot"
    assert inside["sha256"] == {
        name: hashlib.sha256((SAMPLES / name).read_bytes()).hexdigest() for name in ("before.csv", "known_good.h5")
    }
    assert inside["settings"]["kind"] == "lin"
    assert (inside["channel"], inside["good"]) == ("flap LIN", "known_good.h5 (flap LIN)")
    assert inside["compare"]["verdict"] == answer["verdict"]
    assert not QImage(str(picture)).isNull()


def test_a_picture_takes_the_place_of_a_snapshot_but_of_nothing_else(
    tmp_path: Path, before: Comparison, capsys: pytest.CaptureFixture[str]
) -> None:
    snapshot, photo = tmp_path / "snapshot.png", tmp_path / "photo.png"
    snapshot.write_bytes(as_png(ComparisonSnapshot(drawn(before), "before.csv", "")))
    QImage(8, 8, QImage.Format.Format_RGB32).save(str(photo))
    old, kept = snapshot.read_bytes(), photo.read_bytes()
    good = ("--good", str(SAMPLES / "known_good.h5"))
    arguments = ["compare", str(SAMPLES / "before.csv"), "--channel", "#2", *good, "--picture"]
    assert main([*arguments, str(snapshot)]) == 1
    assert snapshot.read_bytes() != old
    capsys.readouterr()
    assert main([*arguments, str(photo)]) == 2
    assert "something else stands there" in capsys.readouterr().err
    assert photo.read_bytes() == kept


def test_no_picture_is_saved_where_there_are_no_fonts(tmp_path: Path) -> None:
    """A system without fonts, as a bare Debian is: letters would be drawn as empty boxes."""
    settings, picture = tmp_path / "fonts.conf", tmp_path / "snapshot.png"
    settings.write_text(f"<fontconfig><cachedir>{tmp_path}</cachedir></fontconfig>")
    good = ("--good", str(SAMPLES / "known_good.h5"))
    command = [sys.executable, "-m", "loomlight.viewer", "compare", str(SAMPLES / "before.csv"), "--channel", "#2"]
    done = subprocess.run(
        [*command, *good, "--picture", str(picture)],
        capture_output=True,
        timeout=120,
        env={**os.environ, "FONTCONFIG_FILE": str(settings)},
    )
    if sys.platform.startswith("linux"):  # other systems do not ask fontconfig, and always have fonts
        assert done.returncode == 2
        assert b"no fonts" in done.stderr
        assert not picture.exists()
    else:
        assert picture.exists()
