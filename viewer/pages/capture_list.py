"""The captures that lie on the desk, one line each, with what each is for in the job."""

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QListWidget, QListWidgetItem, QWidget

from loomlight.viewer.choice import Opened
from loomlight.viewer.desk import Desk


class CaptureList(QListWidget):
    """Lists captures; which is chosen is its current row."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.setAccessibleName("Open captures")

    def paths(self) -> list[Path]:
        """What is listed."""
        return [self.item(row).data(Qt.ItemDataRole.UserRole) for row in range(self.count())]

    def show_captures(self, captures: Sequence[Opened]) -> None:
        """List other captures; the newest is chosen."""
        self.blockSignals(True)
        self.clear()
        for opened in captures:
            item = QListWidgetItem()
            item.setToolTip(str(opened.path))
            item.setData(Qt.ItemDataRole.UserRole, opened.path)
            self.addItem(item)
        self.blockSignals(False)
        self.setCurrentRow(self.count() - 1)

    def choose_none(self) -> None:
        """What is shown lies not on the desk yet."""
        self.blockSignals(True)
        self.setCurrentRow(-1)
        self.blockSignals(False)

    def show_stages(self) -> None:
        """With a job open, say what each capture is for."""
        for row, path in enumerate(self.paths()):
            kept = self._desk.job_capture(path)
            self.item(row).setText(f"{path.name}   ({kept.stage})" if kept is not None else path.name)
