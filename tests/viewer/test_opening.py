"""Files are opened one after the other; what waits for one job never lands in another."""

from pathlib import Path

from pytestqt.qtbot import QtBot

from loomlight.storage.job_folder import JobFolder
from loomlight.viewer.desk import Desk
from loomlight.viewer.opening import Opening
from loomlight.viewer.window import Window

SLOW_MS = 30_000


def test_files_come_in_their_order_and_the_end_is_told_once(desk: Desk, stick: Path, qtbot: QtBot) -> None:
    opening, ended = Opening(desk), []
    opening.add(
        [(stick / "after.csv", "other"), (stick / "gone.csv", "other"), (stick / "before.csv", "other")],
        then=lambda: ended.append(1),
    )
    qtbot.waitUntil(lambda: bool(ended), timeout=SLOW_MS)
    assert [one.path.name for one in desk.opened] == ["after.csv", "before.csv"]
    assert ended == [1]
    opening.close()


def test_without_a_job_a_capture_may_still_be_the_one_after_the_repair(desk: Desk, stick: Path, qtbot: QtBot) -> None:
    opening = Opening(desk)
    opening.add([(stick / "after.csv", "after repair")])
    qtbot.waitUntil(lambda: desk.chosen.after is not None, timeout=SLOW_MS)
    assert desk.chosen.suspect is None
    opening.close()


def test_what_waits_for_one_job_never_lands_in_another(
    window: Window, stick: Path, tmp_path: Path, qtbot: QtBot
) -> None:
    window.jobs.make_job(tmp_path / "first", "First")
    window.files.open([stick / "before.csv", stick / "after.csv"])
    window.jobs.make_job(tmp_path / "second", "Second")
    qtbot.wait(500)
    assert not window.opening.is_busy
    assert not window.desk.opened
    assert not JobFolder.open(tmp_path / "second").job.captures


def test_a_verdict_that_fits_needs_no_scrolling(window: Window, stick: Path, qtbot: QtBot) -> None:
    window.resize(1366, 820)  # at 768 the last line of this verdict's words is below the edge
    window.files.open([stick / "after.csv"])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    window.go_to(2)
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        window.compare_page.run()
    qtbot.wait(50)
    assert window.compare_page.card.verticalScrollBar().maximum() == 0
    assert not window.compare_page.table.isVisible()
