"""What a start loads and makes, counted and not timed: the first page, and nothing that waits for a wish."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QObject
from PySide6.QtWidgets import QApplication, QLineEdit
from pytestqt.qtbot import QtBot

from loomlight.storage.library import Library
from loomlight.viewer.preparing import BESIDE, PAGES, Preparing
from loomlight.viewer.settings import Settings
from loomlight.viewer.window import PLACES, Window
from loomlight.viewer.window_pages import CAPTURES, COMPARE, JOB, LIBRARY, PROOF

SLOW_MS = 20_000
MOST_MODULES = 100
"""Of ours, with the Job page; 95 when this was written, 540 where all is loaded."""
NOT_AT_THE_START = (
    "h5py",
    "scipy",
    "sqlite3",
    "loomlight.signal.comparison",
    "loomlight.signal.kinds.lin",
    "loomlight.storage.library",
    "loomlight.storage.open_capture",
    "loomlight.viewer.judging",
    "loomlight.viewer.lane_panel",
    "loomlight.viewer.report",
    "loomlight.viewer.snapshot",
    *(f"loomlight.viewer.pages.{name}_page" for name in ("captures", "compare", "proof", "library", "wiggle")),
)
STARTED = """
import json, sys
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from loomlight.viewer import application, preparing

def tell():
    print(json.dumps(sorted(sys.modules)))
    QApplication.closeAllWindows()

preparing.Preparing.begin = lambda self: QTimer.singleShot(0, tell)
application.run_window([])
"""
WITHOUT_WAITING = """
import sys
from pathlib import Path
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from loomlight.viewer import application
from loomlight.viewer.window import Window

sys.setswitchinterval(1e-5)
shown = []
begin = Window.show

def show(window):
    begin(window)
    shown.append(window)
    QTimer.singleShot(int(sys.argv[1]), hurry)

def hurry():
    window = shown[0]
    window.go_to(2)
    window.open_sample()
    for place in (4, 3, 1, 2):
        window.go_to(place)
    QTimer.singleShot(20, look)

def look():
    window = shown[0]
    if window.desk.proof is None:
        QTimer.singleShot(20, look)
        return
    print(window.desk.drawn.comparison.verdict.state, window.desk.proof.proof.state)
    window.close()

Window.show = show
application.run_window([])
"""


def run_alone(code: str, *arguments: str) -> str:
    """In a program of its own; gives what it said."""
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_a_start_loads_little(own_home: Path) -> None:
    loaded = json.loads(run_alone(STARTED))
    ours = [name for name in loaded if name.startswith("loomlight.")]
    assert len(ours) <= MOST_MODULES, ours
    assert not set(NOT_AT_THE_START) & set(loaded)


def test_the_first_page_alone_is_made(window: Window) -> None:
    assert window.made(JOB) is window.pages.currentWidget()
    assert not any(window.made(place) for place in (CAPTURES, COMPARE, PROOF, LIBRARY))
    assert window.pages.count() == len(PLACES) + 1


class Shown(QObject):
    """Notes each window that is shown."""

    def __init__(self) -> None:
        super().__init__()
        self.windows: list[QObject] = []

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Show and watched.isWidgetType() and watched.isWindow():  # type: ignore[attr-defined]
            self.windows.append(watched)
        return False


def test_a_page_that_is_made_later_is_as_one_that_was_there(window: Window, qtbot: QtBot) -> None:
    window.settings.remember_split("Compare 0", window.saveState())  # spoilt: it is passed over
    shown, application = Shown(), QApplication.instance()
    assert application is not None
    application.installEventFilter(shown)
    window.change_theme()
    for place in range(1, len(PLACES)):
        window.go_to(place)
        page = window.pages.currentWidget()
        assert page is window.made(place) is window.pages.widget(place)
        assert page.styleSheet() == window.rail.styleSheet()
        assert not any(field.acceptDrops() for field in page.findChildren(QLineEdit))
    application.removeEventFilter(shown)
    assert shown.windows == []  # nothing flashed up by itself while it was built
    assert window.pages.count() == len(PLACES) + 1


def test_a_page_that_was_never_looked_at_is_in_the_list_of_actions(window: Window) -> None:
    window.settings.keys = {"Library: Use as ● known-good": "Ctrl+U"}
    found = {one.use.id: one for one in window.actions.found("")}
    assert {one.use.place for one in found.values()} >= set(PLACES)
    assert window.actions.book.keys(found["Library: Use as ● known-good"].use) == ("Ctrl+U",)
    assert list(found) == list(dict.fromkeys(found))
    places = [one.use.place for one in found.values()]
    assert sorted(places, key=places.index) == places  # page by page, whichever was made first


def test_divisions_of_a_page_that_was_not_made_stay(library: Library, own_home: Path, qtbot: QtBot) -> None:
    kept = {}
    for turn in range(3):
        window = Window(library, Settings(own_home / "loomlight.ini"))
        qtbot.addWidget(window)
        window.show()
        if turn == 0:
            window.compare_page.findChild(type(window.compare_page.column.split)).setSizes([700, 200])
        window.close()
        kept[turn] = [bytes(window.settings.split(f"Compare {number}") or b"") for number in range(2)]
    assert kept[0] == kept[1] == kept[2]
    assert all(kept[0])


def test_all_is_made_ready_while_nobody_waits(window: Window, qtbot: QtBot) -> None:
    preparing = Preparing(window)
    preparing.begin()
    qtbot.waitUntil(lambda: window.made(LIBRARY) is not None, timeout=SLOW_MS)
    assert window.pages.currentIndex() == JOB
    assert all(window.made(place) for place, _ in PAGES)
    assert all(name in sys.modules for name in (*BESIDE, *(module for _, modules in PAGES for module in modules)))
    assert preparing.is_done
    preparing.close_work()


def test_preparing_ends_with_the_window(window: Window, qtbot: QtBot) -> None:
    preparing = Preparing(window)
    preparing.begin()
    preparing.close_work()
    qtbot.wait(200)
    assert not any(window.made(place) for place, _ in PAGES)


@pytest.mark.parametrize("wait_ms", [0, 60])
def test_whoever_is_faster_than_the_preparing_gets_what_is_wanted(own_home: Path, wait_ms: int) -> None:
    # The window's thread and the worker load the same modules, each call in danger of being interrupted.
    assert run_alone(WITHOUT_WAITING, str(wait_ms)).split() == ["faulty", "proven"]
