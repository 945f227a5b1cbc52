"""Pictures of every page, made from the sample job: ``python tests/viewer/window_pictures.py FOLDER [--quick]``.

Works on any screen that Qt has, a virtual one or none (QT_QPA_PLATFORM=offscreen) included. ``--quick`` takes one theme in
one size.
"""

import sys
import tempfile
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

from PySide6.QtWidgets import QApplication, QLabel

from loomlight.signal.job import Note
from loomlight.storage.library import Library
from loomlight.viewer.actions_dialog import ActionsDialog
from loomlight.viewer.application import dress
from loomlight.viewer.demo import open_demo
from loomlight.viewer.lanes.key_list import KeyList
from loomlight.viewer.settings import Settings
from loomlight.viewer.settings_dialog import SettingsDialog
from loomlight.viewer.wiggle_record import WORDS, Told, WiggleRecord
from loomlight.viewer.window import PLACES, Window

SIZES = ((1280, 720), (1366, 768), (1920, 1080))


def wait_until(application: QApplication, ready: Callable[[], bool], *, seconds: float = 60.0) -> None:
    """Let the window work until it is ready; ends in an error after a while."""
    end = time.monotonic() + seconds
    while not ready():
        if time.monotonic() > end:
            raise SystemExit("the window did not get ready in time")
        application.processEvents()
        time.sleep(0.005)


def settle(application: QApplication, seconds: float = 0.3) -> None:
    """Let everything that was asked for be drawn."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        application.processEvents()
        time.sleep(0.005)


def picture_measured(application: QApplication, window: Window, file: Path) -> None:
    """Cursors, levels, a note and a marked stretch on the comparison."""
    window.go_to(PLACES.index("Compare"))
    lanes = window.compare_page.panel.lanes
    notes, (start, stop) = lanes.notes(), lanes.view()
    key, length = lanes.lanes[0].key, stop - start
    lanes.set_cursors(start + 0.45 * length, start + 0.85 * length)
    if not lanes.level_cursors():
        lanes.toggle_level_cursors()
    answer = Note(key, start + 0.12 * length, 6.0, "at rest", start + 0.35 * length)
    lanes.set_notes((*notes, Note(key, start + 0.6 * length, 9.0, "lets go while the blower answers"), answer))
    wait_until(application, lambda: any("duty" in label.text() for label in window.findChildren(QLabel)))
    settle(application)
    window.grab().save(str(file))
    lanes.set_notes(notes)
    lanes.set_cursors(None, None)
    lanes.toggle_level_cursors()


def picture_folded(application: QApplication, window: Window, file: Path) -> None:
    """Bits laid over one another, suspect beside known-good."""
    window.go_to(PLACES.index("Compare"))
    panel = window.compare_page.panel
    panel.fold_button.setChecked(True)
    wait_until(application, lambda: "bits" in panel.fold.canvas.accessibleDescription())
    settle(application, 1.0)
    window.grab().save(str(file))
    panel.fold_button.setChecked(False)


def picture_overlaid(application: QApplication, window: Window, file: Path) -> None:
    """Two channels in one lane."""
    window.go_to(PLACES.index("Captures"))
    lanes = window.captures_page.panel.lanes
    lanes.arranging.lay_over_next(lanes.arranging.chosen)
    start, stop = lanes.full()
    lanes.set_view(start + 0.150 * (stop - start), start + 0.158 * (stop - start))
    settle(application)
    window.grab().save(str(file))
    lanes.arranging.as_given()
    lanes.fit()


def picture_wiggle(application: QApplication, window: Window, file: Path) -> None:
    """A wiggle test with made answers."""
    window.watching.start(file.parent)
    window.begin_wiggle()
    wiggle, told = window.watching.wiggle, WiggleRecord()
    began = datetime(2026, 3, 2, 14, 30, 0).astimezone()
    for number, (words, held) in enumerate([*SAT_STILL, *MOVED]):
        answer = next(one for one, begins in WORDS.items() if words.startswith(begins))
        at = began + timedelta(seconds=4 * number)
        told = told.with_told(Told(at, Path(f"run {number}.csv"), answer, words, "Series resistance 2 kΩ", held))
    wiggle.record = told
    wiggle.changed.emit()
    settle(application)
    window.grab().save(str(file))
    window.watching.stop()


def picture_sheets(application: QApplication, window: Window, folder: Path, name: str) -> None:
    """The settings and the list of actions."""
    for what, sheet in (
        ("settings", SettingsDialog(window.settings, window)),
        ("actions", ActionsDialog(window.actions, window)),
    ):
        sheet.show()
        settle(application)
        sheet.grab().save(str(folder / f"{what}_{name}.png"))
        sheet.close()


SAT_STILL = [("Clean: nothing found", "")] * 14 + [("Cannot tell", "bulkhead plug")] * 2
MOVED = [
    *[("Clean: nothing found", "bulkhead plug")] * 9,
    ("Not read", "bulkhead plug"),
    *[("Faulty: resistive wire, comes and goes", "loom at the heater box")] * 6,
    *[("Clean: nothing found", "loom at the heater box")] * 4,
    *[("Faulty: resistive wire, comes and goes", "blower plug")] * 5,
]


def main() -> None:
    folder = Path(sys.argv[1])
    quick = "--quick" in sys.argv
    folder.mkdir(parents=True, exist_ok=True)
    application = QApplication([])
    dress(application)
    with tempfile.TemporaryDirectory() as empty:
        window = Window(Library(Path(empty) / "library"), Settings(Path(empty) / "loomlight.ini"))
        window.settings.theme = "daylight"
        window.apply_theme()
        window.resize(*SIZES[0])
        window.show()
        settle(application)
        window.grab().save(str(folder / "start.png"))
        open_demo(window)
        wait_until(application, lambda: window.desk.drawn is not None and window.desk.proof is not None)
        for theme in ("daylight",) if quick else ("daylight", "night"):
            window.settings.theme = theme
            window.apply_theme()
            for size in SIZES[:1] if quick else SIZES:
                window.resize(*size)
                for place, name in enumerate(PLACES):
                    window.go_to(place)
                    settle(application)
                    window.grab().save(str(folder / f"{name.lower()}_{theme}_{size[0]}.png"))
                for what, take in (
                    ("measured", picture_measured),
                    ("folded", picture_folded),
                    ("overlaid", picture_overlaid),
                    ("wiggle", picture_wiggle),
                ):
                    take(application, window, folder / f"{what}_{theme}_{size[0]}.png")
            picture_sheets(application, window, folder, theme)
            window.compare_page.panel.show_keys()
            settle(application)
            keys = window.compare_page.panel.findChild(KeyList)
            keys.grab().save(str(folder / f"keys_{theme}.png"))
            keys.hide()
        for percent in () if quick else (150, 200):
            window.settings.theme, window.settings.text_size = "daylight", percent
            window.apply_theme()
            window.resize(1366, 768)
            for place, name in enumerate(PLACES):
                window.go_to(place)
                settle(application)
                window.grab().save(str(folder / f"{name.lower()}_text_{percent}.png"))
            picture_sheets(application, window, folder, f"text_{percent}")
        window.settings.text_size = 100
        window.settings.contrast = "more"
        for theme in ("daylight", "night"):
            window.settings.theme = theme
            window.apply_theme()
            window.go_to(PLACES.index("Compare"))
            settle(application)
            window.grab().save(str(folder / f"compare_contrast_{theme}.png"))
        window.close()


if __name__ == "__main__":
    main()
