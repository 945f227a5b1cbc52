"""With nothing happening the window does nothing: a van's laptop runs on its battery."""

import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QObject
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from loomlight.viewer.window import PLACES, Window

SECONDS = 10
IDLE = """
import sys, time
from pathlib import Path
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from loomlight.storage.library import Library
from loomlight.viewer.settings import Settings
from loomlight.viewer.window import Window

home, capture, seconds = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
application = QApplication([])
window = Window(Library(home / "library"), Settings(home / "settings.ini"))
window.resize(1600, 900)
window.show()
window.files.open([capture])
begin = []
QTimer.singleShot(4000, lambda: begin.append(time.process_time()))
QTimer.singleShot(4000 + 1000 * seconds, lambda: (begin.append(time.process_time()), application.quit()))
application.exec()
print((begin[1] - begin[0]) / seconds)
window.close()
"""


class Heard(QObject):
    """Counts what wakes the window."""

    def __init__(self) -> None:
        super().__init__()
        self.woken: Counter[tuple[str, str]] = Counter()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() in (QEvent.Type.Timer, QEvent.Type.Paint, QEvent.Type.UpdateRequest):
            self.woken[type(watched).__name__, event.type().name] += 1
        return False


def rest(seconds: float) -> None:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        QApplication.processEvents()
        time.sleep(0.01)


def test_no_timer_fires_and_nothing_is_painted(window: Window, stick: Path, qtbot: QtBot) -> None:
    window.files.open([stick / "before.csv"])
    qtbot.waitUntil(lambda: bool(window.captures_page.panel.lanes.lanes), timeout=30_000)
    heard, application = Heard(), QApplication.instance()
    assert application is not None
    for page in range(len(PLACES)):
        window.go_to(page)
        for _ in range(8):  # what a page begins when it is turned to comes to an end
            heard.woken.clear()
            application.installEventFilter(heard)
            rest(1.2)
            application.removeEventFilter(heard)
            if not heard.woken:
                break
        assert not heard.woken, page


@pytest.mark.bench
def test_the_processor_rests_while_nothing_happens(stick: Path, tmp_path: Path) -> None:
    command = [sys.executable, "-c", IDLE, str(tmp_path), str(stick / "before.csv"), str(SECONDS)]
    share = float(subprocess.run(command, capture_output=True, text=True, check=True, timeout=120).stdout)
    assert share < 0.01, f"{100 * share:.2f} % of a core"
