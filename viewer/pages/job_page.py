"""Job: whose vehicle, what is wrong, what was recorded, found and mended."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QSize, Qt, QTimer, Signal
from PySide6.QtGui import QIcon, QImage, QPixmap
from PySide6.QtWidgets import (
    QFormLayout,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.errors import LoomlightError
from loomlight.signal.job import Job
from loomlight.signal.kinds.listing import kind_named
from loomlight.signal.progress import Progress
from loomlight.storage.job_folder import JobFolder
from loomlight.viewer.aside import Aside
from loomlight.viewer.desk import Desk
from loomlight.viewer.empty_page import empty_page
from loomlight.viewer.pages.next_step import next_step
from loomlight.viewer.wording import STATE_SIGNS, verdict_headline

SAVE_AFTER_MS = 800
THUMBNAIL = QSize(150, 106)
LINES = (
    ("title", "Title"),
    ("vehicle", "Vehicle"),
    ("odometer", "Odometer"),
    ("technician", "Technician"),
)
TEXTS = (
    ("complaint", "Complaint, in the customer's words"),
    ("symptoms", "Symptoms seen"),
    ("cause", "Cause found"),
    ("repair", "Repair"),
)
WELCOME = (
    "A job keeps one visit together: vehicle, complaint, captures, verdicts, pictures and the proof of the repair, in a "
    "folder that can be read without Loomlight.\n\nMake a job, or open a capture at once on the Captures page: a verdict needs "
    "no job.\n\nTo look around first, open the sample job: a minibus whose heater blower runs at full speed only."
)


class JobPage(QWidget):
    """Shows the open job and keeps what is typed."""

    failed = Signal(object)
    new_wanted = Signal()
    open_wanted = Signal()
    sample_wanted = Signal()
    captures_wanted = Signal()
    place_wanted = Signal(str)
    snapshot_wanted = Signal(object)

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._shown: JobFolder | None = None
        self._lines = {name: QLineEdit() for name, _ in LINES}
        self._texts = {name: QPlainTextEdit() for name, _ in TEXTS}
        self._thumbnails = Aside(self)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(SAVE_AFTER_MS)
        self._timer.timeout.connect(self.save)
        self._pages = QStackedWidget()
        self._pages.addWidget(self._welcome())
        self._pages.addWidget(self._form())
        page = QVBoxLayout(self)
        page.setContentsMargins(8, 6, 8, 8)
        page.addLayout(self._buttons())
        page.addWidget(self._cautions())
        page.addWidget(self._pages, 1)
        desk.job_changed.connect(self.show_job)
        self.show_job()

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self._title = QLabel("No job is open")
        self._title.setObjectName("pageTitle")
        self._title.setWordWrap(True)
        row.addWidget(self._title, 1)
        for text, tip, signal in (
            ("New job", "Make a job folder (Ctrl+N)", self.new_wanted),
            ("Open job", "Open a job folder", self.open_wanted),
        ):
            row.addWidget(_button(text, tip, signal.emit))
        self.next_button = _button("", "The next step of this job", self._go_on)
        self.next_button.setObjectName("main")
        row.addWidget(self.next_button)
        return row

    def _go_on(self) -> None:
        job = self._desk.job
        if job is None:
            return
        if not job.captures:
            self.captures_wanted.emit()
        else:
            self.place_wanted.emit(next_step(job).place)

    def _welcome(self) -> QWidget:
        return empty_page(
            WELCOME,
            (
                ("New job", "Make a job folder (Ctrl+N)", self.new_wanted.emit),
                ("Open a capture", "Open CSV or HDF5 files (Ctrl+O)", self.captures_wanted.emit),
                ("Open the sample job", "A fresh copy; nothing of yours is touched", self.sample_wanted.emit),
            ),
        )

    def _cautions(self) -> QFrame:
        self._caution_strip = QFrame()
        self._caution_strip.setObjectName("strip")
        row = QHBoxLayout(self._caution_strip)
        row.setContentsMargins(10, 6, 6, 6)
        self._caution_text = QLabel()
        self._caution_text.setWordWrap(True)
        row.addWidget(self._caution_text, 1)
        seen = _button("Read; I work by the\nmaker's procedure", "Noted in the job", self._cautions_seen)
        seen.setFixedHeight(88)
        row.addWidget(seen)
        return self._caution_strip

    def _form(self) -> QWidget:
        page = QWidget()
        halves = QHBoxLayout(page)
        halves.setContentsMargins(0, 0, 0, 0)
        form_area = QScrollArea()
        form_area.setWidgetResizable(True)
        form_area.setFrameShape(QFrame.Shape.NoFrame)
        form_widget = QWidget()
        form = QFormLayout(form_widget)
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapAllRows)
        form.setVerticalSpacing(6)
        for name, label in LINES:
            self._lines[name].setAccessibleName(label)
            self._lines[name].textEdited.connect(self._timer.start)
            self._lines[name].editingFinished.connect(self.save)
            form.addRow(label, self._lines[name])
        for name, label in TEXTS:
            self._texts[name].setAccessibleName(label)
            self._texts[name].setTabChangesFocus(True)
            self._texts[name].setFixedHeight(76)
            self._texts[name].textChanged.connect(self._timer.start)
            form.addRow(label, self._texts[name])
        form_area.setWidget(form_widget)
        halves.addWidget(form_area, 1)
        halves.addLayout(self._records(), 1)
        return page

    def _records(self) -> QVBoxLayout:
        column = QVBoxLayout()
        self._state = QLabel()
        self._state.setObjectName("headline")
        column.addWidget(self._state)
        self._next = QLabel()
        self._next.setWordWrap(True)
        column.addWidget(self._next)
        column.addWidget(QLabel("Captures"))
        self._captures = _list("Captures of this job")
        column.addWidget(self._captures, 2)
        column.addWidget(QLabel("Verdicts"))
        self._verdicts = _list("Verdicts kept in this job")
        column.addWidget(self._verdicts, 2)
        column.addWidget(QLabel("Snapshots (double-click to open)"))
        self._snapshots = _list("Snapshots of this job")
        self._snapshots.setIconSize(THUMBNAIL)
        self._snapshots.itemActivated.connect(self._open_snapshot)
        column.addWidget(self._snapshots, 3)
        return column

    # What is shown

    def show_job(self) -> None:
        """Show the desk's job."""
        job = self._desk.job
        self._pages.setCurrentIndex(0 if job is None else 1)
        self._caution_strip.setVisible(job is not None and not job.cautions_seen)
        step = next_step(job) if job is not None else None
        self.next_button.setVisible(step is not None and bool(step.button))
        if job is None or step is None:
            return
        self._next.setText(step.text)
        self.next_button.setText(step.button)
        self._title.setText(job.title)
        self._state.setText(f"{STATE_SIGNS[job.state]}  {STATE_WORDS[job.state]}")
        cautions = kind_named(self._desk.chosen.ask.kind).cautions
        self._caution_text.setText("Before you probe:\n" + "\n".join(f"•  {one}" for one in cautions))
        self._fill_fields(job, anew=self._shown is not self._desk.folder)
        self._shown = self._desk.folder
        _fill(
            self._captures,
            [f"{one.file}   ({one.stage})" for one in job.captures],
            "None yet: open one on the Captures page.",
        )
        verdicts = [
            f"{STATE_SIGNS[one.verdict.state]}  {one.channel} in {one.file}: {verdict_headline(one.verdict)}"
            for one in job.verdicts
        ]
        _fill(self._verdicts, verdicts, "None yet: saving a snapshot on the Compare page keeps its verdict.")
        self._fill_snapshots(job)

    def _fill_fields(self, job: Job, *, anew: bool) -> None:
        """What is being typed stays as it is, unless another job was opened."""
        for name, line in self._lines.items():
            if (anew or not line.hasFocus()) and line.text() != getattr(job, name):
                line.setText(getattr(job, name))
                line.setCursorPosition(0)
        for name, text in self._texts.items():
            if (anew or not text.hasFocus()) and text.toPlainText() != getattr(job, name):
                text.blockSignals(True)
                text.setPlainText(getattr(job, name))
                text.blockSignals(False)

    def _fill_snapshots(self, job: Job) -> None:
        assert self._desk.folder is not None
        shown = [self._snapshots.item(row).data(Qt.ItemDataRole.UserRole) for row in range(self._snapshots.count())]
        if job.snapshots and shown == [*job.snapshots]:
            return
        _fill(self._snapshots, [], "" if job.snapshots else "None yet: “Save snapshot” on the Compare page makes one.")
        for name in job.snapshots:
            item = QListWidgetItem(name)
            item.setData(Qt.ItemDataRole.UserRole, name)
            item.setSizeHint(THUMBNAIL)
            self._snapshots.addItem(item)
        paths = [self._desk.folder.path / "snapshots" / name for name in job.snapshots]
        self._thumbnails.run(lambda progress: thumbnails(paths, progress), self._show_thumbnails, self.failed.emit)

    def _show_thumbnails(self, images: list[QImage]) -> None:
        for row, image in enumerate(images):
            self._snapshots.item(row).setIcon(QIcon(QPixmap.fromImage(image)))

    def _open_snapshot(self, item: QListWidgetItem) -> None:
        name = item.data(Qt.ItemDataRole.UserRole)
        if name and self._desk.folder is not None:
            self.snapshot_wanted.emit(Path(self._desk.folder.path) / "snapshots" / name)

    # What is kept

    def save(self) -> None:
        """Keep what was typed; called after a short pause, on leaving a field, and on closing."""
        self._timer.stop()
        job = self._desk.job
        if job is None:
            return
        values = {name: line.text() for name, line in self._lines.items()}
        values |= {name: text.toPlainText() for name, text in self._texts.items()}
        if not values["title"].strip():
            values["title"] = job.title
        try:
            self._desk.save_job(replace(job, **values))
        except LoomlightError as error:
            self.failed.emit(error)

    def _cautions_seen(self) -> None:
        job = self._desk.job
        if job is not None:
            try:
                self._desk.save_job(replace(job, cautions_seen=True))
            except LoomlightError as error:
                self.failed.emit(error)

    def close_work(self) -> None:
        """Keep what was typed, and stop what runs aside."""
        self.save()
        self._thumbnails.close()


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


STATE_WORDS = {
    "open": "In work",
    "proven": "Repair proven",
    "not proven": "Repair not proven",
    "cannot tell": "Repair: cannot tell yet",
}


def _button(text: str, tip: str, act: Callable[[], object]) -> QPushButton:
    button = QPushButton(text)
    button.setToolTip(tip)
    button.clicked.connect(lambda: act())
    return button


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
