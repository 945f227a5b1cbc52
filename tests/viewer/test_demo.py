"""The sample job: fresh each time, compared and proven, with nothing of the person's touched."""

from pathlib import Path

from pytestqt.qtbot import QtBot

from loomlight.storage.job_folder import JobFolder
from loomlight.storage.library import Library
from loomlight.storage.places import data_folder, library_folder
from loomlight.viewer.demo import make_demo
from loomlight.viewer.window import Window
from loomlight.viewer.window_pages import LIBRARY

SLOW_MS = 60_000


def test_each_sample_job_is_a_fresh_copy(own_home: Path) -> None:
    first, first_library = make_demo()
    second, second_library = make_demo()
    assert first != second
    assert first_library != second_library
    for folder in (first, second):
        assert folder.is_relative_to(data_folder())
        job = JobFolder.open(folder).job
        assert [(one.file, one.stage) for one in job.captures] == [
            ("before.csv", "suspect"),
            ("after.csv", "after repair"),
        ]
        assert (job.state, job.verdicts, job.snapshots, job.cautions_seen) == ("open", (), (), False)


def test_the_persons_own_library_is_untouched(own_home: Path) -> None:
    _, library = make_demo()
    assert library != library_folder()
    assert not library_folder().exists()
    (entry,) = Library(library).find("")
    assert entry.kind == "lin"


def test_the_sample_job_opens_compared_and_proven(window: Window, qtbot: QtBot) -> None:
    window.open_sample()
    qtbot.waitUntil(lambda: window.desk.drawn is not None and window.desk.proof is not None, timeout=SLOW_MS)
    assert window.pages.currentWidget() is window.compare_page
    assert window.desk.drawn is not None
    assert window.desk.drawn.comparison.verdict.state == "faulty"
    assert window.desk.proof is not None
    assert window.desk.proof.proof.state == "proven"
    assert not window.settings.recent()  # copies of the sample are no files of the person's
    assert window.compare_page.panel.isVisible()


def test_the_sample_library_is_searched_not_the_persons(window: Window, qtbot: QtBot) -> None:
    window.open_sample()
    qtbot.waitUntil(lambda: window.desk.proof is not None, timeout=SLOW_MS)
    window.go_to(LIBRARY)
    qtbot.waitUntil(lambda: window.library_page.list.count() == 1, timeout=SLOW_MS)
