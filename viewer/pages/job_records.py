"""The right half of the Job page: how far the job is, its captures, verdicts and snapshots, and earlier jobs like it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QIcon, QImage, QPixmap
from PySide6.QtWidgets import QLabel, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from loomlight.storage.places import jobs_folder
from loomlight.viewer.aside import Aside
from loomlight.viewer.wording import STATE_SIGNS, verdict_headline

if TYPE_CHECKING:
    from loomlight.signal.job import Job
    from loomlight.signal.progress import Progress
    from loomlight.storage.job_folder import JobFolder
    from loomlight.viewer.job_list import Seen
    from loomlight.viewer.pages.next_step import NextStep

THUMBNAIL = QSize(150, 106)
STATE_WORDS = {
    "open": "In work",
    "proven": "Repair proven",
    "not proven": "Repair not proven",
    "cannot tell": "Repair: cannot tell yet",
}


class JobRecords(QWidget):
    """Lists what the open job holds."""

    failed = Signal(object)
    snapshot_wanted = Signal(object)
    job_wanted = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._thumbnails, self._looking = Aside(self), Aside(self)
        self._alike: object = None
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        self.state = QLabel()
        self.state.setObjectName("headline")
        self._next = QLabel()
        self._next.setWordWrap(True)
        self._captures = _list("Captures of this job")
        self._verdicts = _list("Verdicts kept in this job")
        self._snapshots = _list("Snapshots of this job")
        self._snapshots.setIconSize(THUMBNAIL)
        self._snapshots.itemActivated.connect(self._open_snapshot)
        self._seen_title = QLabel("Seen before (double-click to open that job)")
        self.seen = _list("Earlier jobs like this one")
        self.seen.itemActivated.connect(self._open_job)
        for part, share in (
            (self.state, 0),
            (self._next, 0),
            (QLabel("Captures"), 0),
            (self._captures, 2),
            (QLabel("Verdicts"), 0),
            (self._verdicts, 2),
            (QLabel("Snapshots (double-click to open)"), 0),
            (self._snapshots, 3),
            (self._seen_title, 0),
            (self.seen, 1),
        ):
            column.addWidget(part, share)
        self.show_seen(())

    def show_job(self, folder: JobFolder, step: NextStep) -> None:
        """Show what a job holds."""
        job = folder.job
        self.state.setText(f"{STATE_SIGNS[job.state]}  {STATE_WORDS[job.state]}")
        self._next.setText(step.text)
        captures = [f"{one.file}   ({one.stage})" for one in job.captures]
        _fill(self._captures, captures, "None yet: open one on the Captures page.")
        verdicts = [
            f"{STATE_SIGNS[one.verdict.state]}  {one.channel} in {one.file}: {verdict_headline(one.verdict)}"
            for one in job.verdicts
        ]
        _fill(self._verdicts, verdicts, "None yet: saving a snapshot on the Compare page keeps its verdict.")
        self._fill_snapshots(folder, job)
        self._look_back(job, folder)

    def _look_back(self, job: Job, folder: JobFolder) -> None:
        """Look for earlier jobs like this one, aside, where what tells them has changed."""
        alike = (folder.path, job.vehicle, job.vin, job.place, job.fault_codes, job.verdicts)
        if alike == self._alike:
            return
        self._alike = alike
        folders = tuple(dict.fromkeys((jobs_folder(), folder.path.parent)))

        def work(progress: Progress) -> tuple[Seen, ...]:
            from loomlight.viewer.job_list import seen_before

            return seen_before(job, folder.path, folders, progress)

        self._looking.run(work, self.show_seen, self.failed.emit)

    def show_seen(self, seen: tuple[Seen, ...]) -> None:
        """Show earlier jobs that are like this one; the list is not there where there are none."""
        _fill(self.seen, [f"{one.title}  ({one.words})" for one in seen], "")
        for row, one in enumerate(seen):
            self.seen.item(row).setData(Qt.ItemDataRole.UserRole, str(one.path))
        for part in (self._seen_title, self.seen):
            part.setVisible(bool(seen))

    def close_work(self) -> None:
        """Stop what runs aside."""
        self._thumbnails.close()
        self._looking.close()

    def _fill_snapshots(self, folder: JobFolder, job: Job) -> None:
        paths = [folder.path / "snapshots" / name for name in job.snapshots]
        shown = [self._snapshots.item(row).data(Qt.ItemDataRole.UserRole) for row in range(self._snapshots.count())]
        if paths and shown == [str(path) for path in paths]:
            return
        _fill(self._snapshots, [], "" if paths else "None yet: “Save snapshot” on the Compare page makes one.")
        for path in paths:
            item = QListWidgetItem(path.name)
            item.setData(Qt.ItemDataRole.UserRole, str(path))
            item.setSizeHint(THUMBNAIL)
            self._snapshots.addItem(item)
        self._thumbnails.run(lambda progress: thumbnails(paths, progress), self._show_thumbnails, self.failed.emit)

    def _show_thumbnails(self, images: list[QImage]) -> None:
        for row, image in enumerate(images):
            self._snapshots.item(row).setIcon(QIcon(QPixmap.fromImage(image)))

    def _open_snapshot(self, item: QListWidgetItem) -> None:
        if path := item.data(Qt.ItemDataRole.UserRole):
            self.snapshot_wanted.emit(Path(path))

    def _open_job(self, item: QListWidgetItem) -> None:
        if path := item.data(Qt.ItemDataRole.UserRole):
            self.job_wanted.emit(Path(path))


def thumbnails(paths: list[Path], progress: Progress) -> list[QImage]:
    """Small pictures of the snapshots; an empty one where a file is gone. For aside."""
    images = []
    for number, path in enumerate(paths, start=1):
        images.append(
            QImage(str(path)).scaled(
                THUMBNAIL, Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
            )
        )
        progress(number / len(paths))
    return images


def _list(name: str) -> QListWidget:
    found = QListWidget()
    found.setAccessibleName(name)
    found.setWordWrap(True)
    found.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    return found


def _fill(shown: QListWidget, rows: list[str], empty: str) -> None:
    shown.clear()
    for row in rows:
        item = QListWidgetItem(row)
        item.setToolTip(row)
        shown.addItem(item)
    if not rows and empty:
        item = QListWidgetItem(empty)
        item.setFlags(Qt.ItemFlag.NoItemFlags)
        shown.addItem(item)
