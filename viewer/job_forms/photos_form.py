"""Photos as evidence: the corroded pin beside the waveform."""

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QImage, QImageReader, QPixmap
from PySide6.QtWidgets import QFileDialog, QFrame, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from loomlight.signal.errors import LoomlightError
from loomlight.signal.progress import Progress
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.job_photos import add_photo, leave_out, set_caption
from loomlight.viewer.aside import Aside
from loomlight.viewer.desk import Desk
from loomlight.viewer.job_forms.record_rows import REMOVE_WIDTH

PICTURE = QSize(150, 100)
FILES = "Photos (*.jpg *.jpeg *.png)"
HINT = "The place where a photo was taken is left out of the job's copy."


class PhotosForm(QWidget):
    """One card a photo, with its caption; each change is on the disk at once."""

    failed = Signal(object)

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._cards: dict[str, _PhotoCard] = {}
        self._folder: JobFolder | None = None
        self.adding, self._reading = Aside(self), Aside(self)
        self.add_button = QPushButton("Add photos")
        self.add_button.setToolTip("Copy JPEG or PNG files into the job")
        self.add_button.clicked.connect(self.ask)
        hint = QLabel(HINT)
        hint.setObjectName("quiet")
        hint.setWordWrap(True)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.addWidget(self.add_button)
        self._column.addWidget(hint)

    def show_job(self) -> None:
        """Show the open job's photos."""
        folder, job = self._desk.folder, self._desk.job
        if folder is not self._folder:
            self._clear()
            self._folder = folder
        if folder is None or job is None:
            return
        for file in [file for file in self._cards if file not in {one.file for one in job.photos}]:
            self._take_away(file)
        new = [one for one in job.photos if one.file not in self._cards]
        for photo in new:
            card = _PhotoCard(photo.file, photo.caption)
            card.caption.editingFinished.connect(lambda file=photo.file: self._keep_caption(file))
            card.remove.clicked.connect(lambda _=False, file=photo.file: self._leave_out(file))
            self._cards[photo.file] = card
            self._column.insertWidget(self._column.count() - 2, card)
        if new:
            paths = [folder.path / "photos" / one.file for one in job.photos]
            self._reading.run(lambda progress: small_pictures(paths, progress), self._show_pictures, self.failed.emit)

    def ask(self) -> None:
        """Let the user choose photos."""
        names, _ = QFileDialog.getOpenFileNames(self, "Add photos", "", FILES)
        self.add([Path(name) for name in names])

    def add(self, paths: list[Path]) -> None:
        """Copy photos into the job, aside."""
        folder = self._desk.folder
        if folder is None or not paths:
            return
        self.add_button.setEnabled(False)

        def work(progress: Progress) -> list[LoomlightError]:
            problems = []
            for number, path in enumerate(paths, start=1):
                try:
                    add_photo(folder, path)
                except LoomlightError as error:
                    problems.append(error)
                progress(number / len(paths))
            return problems

        def done(problems: list[LoomlightError]) -> None:
            self.add_button.setEnabled(True)
            self._desk.job_changed.emit()
            for problem in problems:
                self.failed.emit(problem)

        self.adding.run(work, done, self._failed_adding)

    def close_work(self) -> None:
        """Wait for photos that are being copied, and stop reading."""
        for file in self._cards:
            self._keep_caption(file)
        self.adding.finish()
        self._reading.close()

    def _failed_adding(self, error: Exception) -> None:
        self.add_button.setEnabled(True)
        self.failed.emit(error)

    def _keep_caption(self, file: str) -> None:
        card, folder = self._cards.get(file), self._folder
        if card is None or folder is None:
            return
        caption = card.caption.text()
        if any(one.file == file and one.caption != caption for one in folder.job.photos):
            self._change(lambda: set_caption(folder, file, caption))

    def _leave_out(self, file: str) -> None:
        folder = self._folder
        if folder is not None:
            self._change(lambda: leave_out(folder, file))

    def _change(self, act: Callable[[], None]) -> None:
        try:
            act()
        except LoomlightError as error:
            self.failed.emit(error)
        self._desk.job_changed.emit()

    def _clear(self) -> None:
        for file in list(self._cards):
            self._take_away(file)

    def _take_away(self, file: str) -> None:
        card = self._cards.pop(file)
        self._column.removeWidget(card)
        card.hide()
        card.deleteLater()

    def _show_pictures(self, pictures: list[tuple[str, QImage]]) -> None:
        for file, image in pictures:
            if file in self._cards:
                self._cards[file].show_picture(image)


class _PhotoCard(QFrame):
    def __init__(self, file: str, caption: str) -> None:
        super().__init__()
        self.setObjectName("card")
        self._picture = QLabel("…")
        self._picture.setFixedSize(PICTURE)
        self._picture.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._picture.setWordWrap(True)
        self._picture.setAccessibleName(f"Photo {file}")
        self.caption = QLineEdit(caption)
        self.caption.setPlaceholderText("What it shows")
        self.caption.setAccessibleName(f"Caption of {file}")
        self.caption.setToolTip(file)
        self.remove = QPushButton("✕")
        self.remove.setFixedWidth(REMOVE_WIDTH)
        self.remove.setStyleSheet("padding: 0")
        self.remove.setToolTip(f"Leave {file} out of the job's list; its file stays in the folder")
        self.remove.setAccessibleName(f"Leave out {file}")
        row = QHBoxLayout(self)
        row.setContentsMargins(4, 4, 4, 4)
        row.addWidget(self._picture)
        row.addWidget(self.caption, 1)
        row.addWidget(self.remove)

    def show_picture(self, image: QImage) -> None:
        if image.isNull():
            self._picture.setText("cannot be shown")
        else:
            self._picture.setPixmap(QPixmap.fromImage(image))


def small_pictures(paths: list[Path], progress: Progress) -> list[tuple[str, QImage]]:
    """Small upright pictures of photos; an empty one where a file is gone or damaged. For aside."""
    found = []
    for number, path in enumerate(paths, start=1):
        reader = QImageReader(str(path))
        reader.setAutoTransform(True)
        image = reader.read()
        if not image.isNull():
            image = image.scaled(
                PICTURE, Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
            )
        found.append((path.name, image))
        progress(number / len(paths))
    return found
