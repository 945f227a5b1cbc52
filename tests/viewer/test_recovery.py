"""The program is killed in the middle of the work; started again, everything is back."""

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from loomlight.signal.job import Note
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.places import jobs_folder
from loomlight.viewer.session import abandoned, sessions_folder
from loomlight.viewer.session_state import SessionState, state_from
from loomlight.viewer.window import PLACES, Window

SLOW_MS = 60_000
SCRIPT = Path(__file__).parent / "killed_session.py"
NOTE = Note("blower LIN", 0.06, 6.0, "lets go")


@contextmanager
def working(stick: Path, *words: str) -> Iterator["subprocess.Popen[str]"]:
    """Another process with a window in which the work was done, in the same home."""
    command = [sys.executable, str(SCRIPT), str(stick), *words]
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen"}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment) as process:
        assert process.stdout is not None
        try:
            assert process.stdout.readline().strip() == "ready"
            yield process
        finally:
            process.kill()  # SIGKILL: nothing of it can tidy up


def test_killed_without_a_job_all_is_back(window: Window, qtbot: QtBot, stick: Path) -> None:
    with working(stick):
        assert abandoned() is None  # it runs: nobody else takes its session
    window.recovery.begin(ask=False)
    qtbot.waitUntil(lambda: window.desk.drawn is not None, timeout=SLOW_MS)
    page, chosen = window.compare_page, window.desk.chosen
    qtbot.waitUntil(lambda: page.hand.is_on and page.hand.lineup is not None, timeout=SLOW_MS)
    assert [one.path.name for one in window.desk.opened] == ["before.csv", "after.csv"]
    assert chosen.suspect is not None
    assert chosen.good is not None
    assert chosen.after is not None
    assert [one.channel.name for one in (chosen.suspect, chosen.good, chosen.after)] == [
        "blower LIN",
        "flap LIN",
        "blower LIN",
    ]
    assert chosen.after.file == "after.csv"
    assert chosen.ask.supply_v == 12.5
    assert window.desk.notes_of(stick / "before.csv") == (NOTE,)
    assert window.pages.currentIndex() == PLACES.index("Compare")
    assert page.hand.hand.lag_s == pytest.approx(0.00125)
    assert page.panel.lanes.cursors() == (0.055, 0.065)
    assert "back as it was" in window.strip.text.text()
    assert abandoned() is None  # once is enough
    window.close()
    assert not list(sessions_folder().iterdir())  # closed properly: nothing is left


def test_killed_with_a_job_all_is_back(window: Window, qtbot: QtBot, stick: Path) -> None:
    with working(stick, "job"):
        pass
    job = JobFolder.open(jobs_folder() / "blower").job
    assert job.cause == "corroded pin"
    assert job.captures[0].notes == (NOTE,)
    window.recovery.begin(ask=False)
    qtbot.waitUntil(lambda: window.desk.drawn is not None, timeout=SLOW_MS)
    assert window.desk.job is not None
    assert window.desk.job.cause == "corroded pin"
    assert window.job_page.parts.repair_form.texts["cause"].toPlainText() == "corroded pin"
    assert window.desk.job.captures[0].notes == (NOTE,)
    assert len(window.desk.job.captures) == 2
    assert window.pages.currentIndex() == PLACES.index("Job")
    assert window.compare_page.panel.lanes.notes() == (NOTE,)


@pytest.mark.parametrize("spoilt", ["", "{", "[]", '{"version": 7}', '{"version": 1, "job": "x"}'])
def test_a_spoilt_session_is_tidied_away(own_home: Path, spoilt: str) -> None:
    folder = sessions_folder() / "gone"
    folder.mkdir(parents=True)
    (folder / "desk.json").write_text(spoilt)
    assert abandoned() is None
    assert not folder.exists()


def test_a_state_is_the_same_after_a_way_through_json() -> None:
    state = SessionState(
        job="/j", chosen=(("good", "id", "flap", True),), hand=(0.1, 1.0, ((0.0, 0.1),)), view=(0.0, 1.0)
    )
    assert state_from(json.loads(json.dumps(state.to_plain()))) == state


def test_what_is_gone_is_named(window: Window, qtbot: QtBot, stick: Path) -> None:
    folder = sessions_folder() / "gone"
    folder.mkdir(parents=True)
    window.files.open([stick / "before.csv", stick / "after.csv"])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 2 and not window.opening.is_busy, timeout=SLOW_MS)
    (folder / "desk.json").write_text(json.dumps(window.recovery.state().to_plain()))
    window.desk.clear()
    (stick / "after.csv").unlink()
    window.recovery.begin(ask=True)
    assert window.strip.offer_button.isVisible()
    window.strip.offer_button.click()
    qtbot.waitUntil(lambda: "after.csv" in window.strip.text.text(), timeout=SLOW_MS)
    assert [one.path.name for one in window.desk.opened] == ["before.csv"]
