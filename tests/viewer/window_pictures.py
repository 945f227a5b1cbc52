"""Pictures of every page, made from the sample job: ``python tests/viewer/window_pictures.py FOLDER [--quick]``.

Works on any screen that Qt has, a virtual one or none (QT_QPA_PLATFORM=offscreen) included. ``--quick`` takes one theme in
one size.
"""

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from PySide6.QtWidgets import QApplication

from loomlight.storage.library import Library
from loomlight.viewer.application import dress
from loomlight.viewer.demo import open_demo
from loomlight.viewer.settings import Settings
from loomlight.viewer.window import PLACES, Window

SIZES = ((1366, 768), (1920, 1080))


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
        window.close()


if __name__ == "__main__":
    main()
