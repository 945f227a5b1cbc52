"""Pictures of every page, state and sheet, of the sample job: ``python tests/viewer/window_pictures.py FOLDER [SETUP…]``.

Works on any screen that Qt has, a virtual one or none (QT_QPA_PLATFORM=offscreen) included; with QT_SCALE_FACTOR=1.5 as on a
screen of finer pixels. A setup is a theme with a width (``night_1366``), ``contrast_night``, ``text_200``…
"""

import os
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from PySide6.QtWidgets import QApplication, QLabel, QWidget
from window_walk import walked, walked_empty

from loomlight.signal.job import Note
from loomlight.storage.library import Library
from loomlight.viewer.application import dress
from loomlight.viewer.settings import Settings
from loomlight.viewer.wiggle_record import WORDS, Told, WiggleRecord
from loomlight.viewer.window import PLACES, Window

SIZES = ((1280, 720), (1366, 768), (1920, 1080), (3840, 2160))


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


SAT_STILL = [("Clean: nothing found", "")] * 14 + [("Cannot tell", "bulkhead plug")] * 2
MOVED = [
    *[("Clean: nothing found", "bulkhead plug")] * 9,
    ("Not read", "bulkhead plug"),
    *[("Faulty: resistive wire, comes and goes", "loom at the heater box")] * 6,
    *[("Clean: nothing found", "loom at the heater box")] * 4,
    *[("Faulty: resistive wire, comes and goes", "blower plug")] * 5,
]


@dataclass(frozen=True)
class Setup:
    """One look of the window: its name is part of each picture's."""

    name: str
    size: tuple[int, int]
    theme: str = "daylight"
    contrast: str = "usual"
    text_size: int = 100


SETUPS = (
    *(Setup(f"{theme}_{width}", (width, height), theme) for width, height in SIZES for theme in ("daylight", "night")),
    *(Setup(f"contrast_{theme}", SIZES[1], theme, "more") for theme in ("daylight", "night")),
    *(Setup(f"text_{percent}", SIZES[1], text_size=percent) for percent in (150, 200)),
)
SPECIAL = {
    "measured": picture_measured,
    "folded": picture_folded,
    "overlaid": picture_overlaid,
    "wiggle": picture_wiggle,
}


def wear(application: QApplication, window: Window, setup: Setup) -> None:
    """Dress the window, and wait until it is."""
    settings = window.settings
    settings.theme, settings.contrast = setup.theme, setup.contrast  # type: ignore[assignment]
    settings.text_size = setup.text_size
    window.apply_theme()
    window.resize(*setup.size)
    settle(application)


def main() -> None:
    folder, wanted = Path(sys.argv[1]), sys.argv[2:]
    names = [one.name for one in SETUPS]
    if not set(wanted) <= set(names):
        raise SystemExit(f"Setups are {', '.join(names)}; got {', '.join(wanted)}.")
    setups = [one for one in SETUPS if not wanted or one.name in wanted]
    folder.mkdir(parents=True, exist_ok=True)
    application = QApplication([])
    dress(application)
    for setup in setups:
        with tempfile.TemporaryDirectory() as empty:
            os.environ["XDG_DATA_HOME"] = empty  # nothing of a person's own shows up here
            window = Window(Library(Path(empty) / "library"), Settings(Path(empty) / "loomlight.ini"))
            window.show()
            wear(application, window, setup)

            def take(name: str, shown: QWidget, setup: Setup = setup) -> None:
                settle(application, 0.1)
                shown.grab().save(str(folder / f"{name.replace(' ', '_')}_{setup.name}.png"))

            for name, shown in walked_empty(window):
                take(name, shown)
            window.open_sample()
            wait_until(
                application, lambda window=window: window.desk.drawn is not None and window.desk.proof is not None
            )
            for special, picture in SPECIAL.items():
                picture(application, window, folder / f"{special}_{setup.name}.png")
            for number, (name, shown) in enumerate(walked(window)):
                take(f"{number:02d} {name}" if shown is not window else name, shown)
            window.close()


if __name__ == "__main__":
    main()
