"""What was said about a file's reading is kept: for files of the same structure, in the job, and as a command."""

import shlex
from pathlib import Path

from PySide6.QtGui import QGuiApplication
from pytestqt.qtbot import QtBot
from reading_hand import SLOW_MS, agree, answer, asked, looked, opened_panel, press, without_time, without_units

from loomlight.storage.capture_memory import CaptureMemory
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.reading import Reading
from loomlight.viewer.pages.reading_panel import command_text
from loomlight.viewer.window import Window


def test_the_same_structure_is_read_the_same_way_without_asking(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    panel = opened_panel(window, qtbot, without_units(tmp_path / "a.csv"))
    panel.say(panel.reading.with_unit(2, "V").with_unit(3, "A"))
    looked(panel, qtbot)
    agree(window, panel, qtbot)
    qtbot.waitUntil(lambda: window.desk.opened[0].capture.channels[1].unit == "A", timeout=SLOW_MS)
    window.files.open([without_units(tmp_path / "b.csv", offset=0.3)])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 2, timeout=SLOW_MS)
    assert [one.unit for one in window.desk.opened[1].capture.channels] == ["V", "A"]
    assert any("as you said" in line for line in window.captures_page.how.lines())


def test_a_step_belongs_to_one_record_and_is_asked_again_for_the_next(
    window: Window, qtbot: QtBot, tmp_path: Path
) -> None:
    first = without_time(tmp_path / "a.csv")
    panel = asked(window, qtbot, first)
    panel.say(Reading(step_s=2e-5).with_unit(1, "V"))
    looked(panel, qtbot)
    agree(window, panel, qtbot)
    assert CaptureMemory().of(first).reading.step_s == 2e-5
    other = without_time(tmp_path / "b.csv", offset=0.4)
    panel = asked(window, qtbot, other)
    assert panel.reading == Reading(units=((1, "V"),))
    press(qtbot, panel.leave_button)
    again = tmp_path / "copy of a.csv"
    again.write_bytes(first.read_bytes())
    window.files.open([again])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 2, timeout=SLOW_MS)
    assert window.desk.opened[1].capture.channels[0].step_s == 2e-5


def test_in_a_job_the_reading_is_kept_there(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    window.jobs.make_job(tmp_path / "job", "Blower")
    panel = asked(window, qtbot, without_time(tmp_path / "a.csv"))
    answer(panel, "100 µs", qtbot)
    looked(panel, qtbot)
    agree(window, panel, qtbot)
    kept = JobFolder.open(tmp_path / "job").job.captures[0]
    assert '"step_s": 0.0001' in kept.reading
    (tmp_path / "a.csv").unlink()
    for file in Path(CaptureMemory()._file.parent).glob("*.json"):
        file.unlink()  # as on another laptop
    window.jobs.open_job(tmp_path / "job")
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    assert window.desk.opened[0].capture.channels[0].step_s == 1e-4


def test_a_new_reading_can_be_undone_and_makes_a_comparison_old(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    panel = opened_panel(window, qtbot, without_units(tmp_path / "a.csv"))
    window.desk.drawn_from = (window.desk.opened[0].choices()[0], None)
    panel.say(panel.reading.with_unit(2, "V"))
    looked(panel, qtbot)
    agree(window, panel, qtbot)
    qtbot.waitUntil(window.strip.offer_button.isVisible, timeout=SLOW_MS)
    suspect = window.desk.chosen.suspect
    assert suspect is not None
    assert suspect.channel is window.desk.opened[0].capture.channels[0]
    assert suspect.reading != window.desk.drawn_from[0].reading
    press(qtbot, window.strip.offer_button)
    qtbot.waitUntil(lambda: window.desk.opened[0].capture.channels[0].unit is None, timeout=SLOW_MS)
    assert window.desk.opened[0].reading.is_empty


def test_several_files_are_asked_about_one_after_the_other(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    paths = [without_time(tmp_path / f"{name}.csv", offset=place) for place, name in enumerate("abc")]
    window.files.open(paths)
    panel = window.captures_page.reading
    for place, path in enumerate(paths):
        qtbot.waitUntil(lambda path=path: path.name in panel.title.text(), timeout=SLOW_MS)
        looked(panel, qtbot)
        if place == 1:
            press(qtbot, panel.leave_button)
        else:
            answer(panel, "1 ms", qtbot)
            looked(panel, qtbot)
            press(qtbot, panel.agree_button)
    qtbot.waitUntil(lambda: len(window.desk.opened) == 2 and not window.opening.is_busy, timeout=SLOW_MS)
    assert [one.path.name for one in window.desk.opened] == ["a.csv", "c.csv"]
    assert not panel.isVisible()


def test_the_command_says_the_same_and_can_be_copied(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    path = without_units(tmp_path / "with blank.csv")
    panel = opened_panel(window, qtbot, path)
    panel.say(panel.reading.with_unit(2, "mV"))
    looked(panel, qtbot)
    press(qtbot, panel.copy_button)
    copied = shlex.split(QGuiApplication.clipboard().text())
    assert copied == ["loomlight", "inspect", str(path), "--unit", "2=mV"]
    assert command_text(path, ()) == f"loomlight inspect '{path}'"
