"""What was opened last, behind a button: captures and jobs."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QMenu, QPushButton, QWidget

from loomlight.viewer.icon import set_icon
from loomlight.viewer.settings import Settings


class RecentButton(QPushButton):
    """Opens a menu of captures, then jobs, the newest first; what is gone is left out."""

    file_wanted = Signal(object)
    job_wanted = Signal(object)

    def __init__(self, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__("Recent", parent)
        self._settings = settings
        self.setToolTip("Captures and jobs that were opened last")
        set_icon(self, "recent")
        menu = QMenu(self)
        menu.aboutToShow.connect(self._fill)
        self.setMenu(menu)

    def _fill(self) -> None:
        menu, settings = self.menu(), self._settings
        menu.clear()
        for title, paths, wanted in (
            ("Captures", settings.recent(), self.file_wanted),
            ("Jobs", settings.recent_jobs(), self.job_wanted),
        ):
            if paths:
                menu.addAction(title).setEnabled(False)
            for path in paths:
                menu.addAction(str(path), lambda one=path, signal=wanted: signal.emit(one))
        if menu.isEmpty():
            menu.addAction("Nothing was opened yet").setEnabled(False)
