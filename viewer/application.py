"""Start the window."""

import gc
import os
import sys
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from loomlight.signal.errors import LoomlightError
from loomlight.viewer.library_place import own_library_folder
from loomlight.viewer.log import logged, start_log
from loomlight.viewer.tidying import look_through_the_young_alone

if TYPE_CHECKING:
    from PySide6.QtWidgets import QApplication

SCREEN_VARIABLES = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")


def dress(application: "QApplication") -> None:
    """One look on every system, and text that is read at arm's length."""
    from loomlight.viewer.looks import TEXT_POINTS

    application.setStyle("Fusion")
    font = application.font()
    font.setPointSizeF(TEXT_POINTS)
    application.setFont(font)


def run_window(files: list[Path], *, demo: bool = False) -> int:
    """Open the window with files, or with a fresh copy of the sample job; returns when it is closed.

    Raises
    ------
    LoomlightError
        If there is no screen: Qt would end the process without a word that helps.
    """
    if sys.platform.startswith("linux") and not any(os.environ.get(name) for name in SCREEN_VARIABLES):
        raise LoomlightError(
            "There is no screen to open the window on. The commands work without one: loomlight compare --help."
        )
    gc.disable()  # what is loaded now stays: looking through it again and again would cost a tenth of the start
    from PySide6.QtGui import QIcon
    from PySide6.QtWidgets import QApplication

    from loomlight.viewer.preparing import Preparing
    from loomlight.viewer.settings import Settings
    from loomlight.viewer.window import Window

    start_log()
    application = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(application, QApplication)
    application.setApplicationName("Loomlight")
    application.setDesktopFileName("loomlight")
    application.setWindowIcon(QIcon(str(Path(__file__).parent / "linux-desktop" / "loomlight.svg")))
    dress(application)
    settings = Settings()
    window = Window(own_library_folder(settings), settings)

    def tell(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        window.strip.say(f"✗  {logged(error.with_traceback(trace))}")

    sys.excepthook = tell
    window.show()
    gc.freeze()
    look_through_the_young_alone()
    gc.enable()
    preparing = Preparing(window)
    preparing.done.connect(gc.freeze)
    preparing.begin()
    window.recovery.begin(ask=demo or bool(files))
    if demo:
        window.open_sample()
    elif files:
        window.files.open(files)
    status: int = application.exec()
    preparing.close_work()
    return status
