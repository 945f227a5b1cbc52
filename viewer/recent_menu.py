"""What was opened last, in a menu: captures and jobs."""

from collections.abc import Callable
from pathlib import Path

from PySide6.QtWidgets import QMenu

from loomlight.viewer.settings import Settings


def fill_recent(
    menu: QMenu, settings: Settings, open_file: Callable[[Path], object], open_job: Callable[[Path], object]
) -> None:
    """List captures, then jobs, the newest first; what is gone is left out."""
    menu.clear()
    for title, paths, act in (("Captures", settings.recent(), open_file), ("Jobs", settings.recent_jobs(), open_job)):
        if paths:
            menu.addAction(title).setEnabled(False)
        for path in paths:
            menu.addAction(str(path), lambda one=path, do=act: do(one))
    if menu.isEmpty():
        menu.addAction("Nothing was opened yet").setEnabled(False)
