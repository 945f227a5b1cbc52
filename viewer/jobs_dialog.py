"""Choose a job from the list of all jobs, found by any word."""

from pathlib import Path

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import (
    QDialog,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from loomlight.storage.job_list import ListedJob, jobs_in
from loomlight.viewer.aside import Aside
from loomlight.viewer.job_list import listed

ROW_HEIGHT = 58


class JobsDialog(QDialog):
    """The jobs of some folders; `chosen` is the folder of the one that was taken."""

    def __init__(self, folders: tuple[Path, ...], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Open job")
        self.resize(720, 520)
        self.chosen: Path | None = None
        self._jobs: tuple[ListedJob, ...] = ()
        self._start = folders[0] if folders else Path.home()
        self._aside = Aside(self)
        self.words = QLineEdit()
        self.words.setPlaceholderText("Vehicle, VIN, customer, code, complaint, place…")
        self.words.setAccessibleName("Words to find a job by")
        self.words.textChanged.connect(self._show)
        self.list = QListWidget()
        self.list.setAccessibleName("Jobs")
        self.list.setWordWrap(True)
        self.list.itemActivated.connect(self._take)
        self.list.itemSelectionChanged.connect(self._selected)
        self.state = QLabel("Looking…")
        self.state.setWordWrap(True)
        self.open_button = QPushButton("Open this job")
        self.open_button.setObjectName("main")
        self.open_button.setEnabled(False)
        self.open_button.clicked.connect(lambda: self._take(self.list.currentItem()))
        elsewhere = QPushButton("Another folder…")
        elsewhere.setToolTip("Choose a job's folder on the disk")
        elsewhere.clicked.connect(self._ask)
        cancel = QPushButton("Cancel")
        cancel.clicked.connect(self.reject)
        buttons = QHBoxLayout()
        buttons.addWidget(elsewhere)
        buttons.addStretch(1)
        for button in (cancel, self.open_button):
            buttons.addWidget(button)
        column = QVBoxLayout(self)
        for part in (self.words, self.list, self.state):
            column.addWidget(part)
        column.addLayout(buttons)
        self._aside.run(lambda progress: jobs_in(folders, progress), self._fill, self._failed)

    def done(self, result: int) -> None:
        """Close, and stop looking."""
        self._aside.close()
        super().done(result)

    def _fill(self, jobs: tuple[ListedJob, ...]) -> None:
        self._jobs = jobs
        self._show()

    def _failed(self, error: Exception) -> None:
        self.state.setText(f"✗  {error}")

    def _show(self) -> None:
        rows = listed(self._jobs, self.words.text())
        self.list.clear()
        for path, words in rows:
            item = QListWidgetItem(words)
            item.setData(Qt.ItemDataRole.UserRole, str(path))
            item.setToolTip(str(path))
            item.setSizeHint(QSize(0, ROW_HEIGHT))
            self.list.addItem(item)
        if rows:
            self.list.setCurrentRow(0)
        count = "1 job" if len(rows) == 1 else f"{len(rows)} jobs"
        self.state.setText(
            count if self._jobs else "No job yet. “New job” makes one; “Another folder…” opens one from elsewhere."
        )

    def _selected(self) -> None:
        self.open_button.setEnabled(self.list.currentItem() is not None)

    def _take(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            self.chosen = Path(item.data(Qt.ItemDataRole.UserRole))
            self.accept()

    def _ask(self) -> None:
        name = QFileDialog.getExistingDirectory(self, "Open job", str(self._start))
        if name:
            self.chosen = Path(name)
            self.accept()
